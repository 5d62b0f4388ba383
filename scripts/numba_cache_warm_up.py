"""Compiles what numba compiles at its first use, once before the tests instead of in each of their workers.

The flight's own kernels are compiled as their modules are loaded; the others when they are first called. So
each renderer, sound family and search is called here once on as little as it takes. Nothing is written but
numba's cache beside the sources; what lies there already is loaded.

It fails where it has not loaded a module with functions kept in that cache, so that a new one is added here.

Usage: python scripts/numba_cache_warm_up.py
"""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

SOURCE = Path(__file__).resolve().parent.parent / "src"
CACHED_FUNCTION = re.compile(r"^@njit\(cache=True", re.MULTILINE)


def flights() -> None:
    """Compile the flight, the search of shots and the reference flight."""
    import goodlength.measure.shots.shot_search_kernel  # noqa: F401
    from goodlength.ball import PlayConditions, warm
    from goodlength.synthetic.reference_flight_integration import peer_flight, random_serves

    warm()
    conditions = PlayConditions().coefficients()
    peer_flight(random_serves(1, np.random.default_rng(1), conditions)[0], conditions, 1e-6)


def test_family_films() -> None:
    """Compile the renderer of the test family's films."""
    from goodlength.synthetic.recordings.test_family_films.video_generator import draw_scene, frames_of

    next(frames_of(draw_scene(1, seconds=1.0), 1, plate_rays=1))


def other_films() -> None:
    """Compile the renderers of the training and validation families' films."""
    from goodlength.synthetic.recordings.training_films.frame_composition import disc_window
    from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
        TRAINING_FILM_FAMILIES,
    )
    from goodlength.synthetic.recordings.training_films.training_video_generator import generate_film
    from goodlength.synthetic.recordings.validation_films.validation_video_renderer import (
        VALIDATION_FILM_FAMILY,
    )

    for family in (*TRAINING_FILM_FAMILIES.values(), VALIDATION_FILM_FAMILY):
        next(generate_film(family, 5, 2.0, 160).frames())
    disc_window(np.full((2, 2), 8.0), np.full(2, 2.0), (16, 16))


def recordings() -> None:
    """Compile the filters and room acoustics of the families that have compiled ones."""
    from goodlength.synthetic.recordings import test_family
    from goodlength.synthetic.recordings.retired_test_families import pressure_play

    for family in (test_family, pressure_play):
        family.draw_world(np.random.default_rng(1), family.CONDITIONS[0], 20.0)


def ball_search() -> None:
    """Compile the search for the ball among moving patches, and the support of candidates."""
    from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
    from goodlength.footage.ball_detection.candidate_temporal_support import with_support
    from goodlength.footage.ball_detection.moving_patch_extraction import cut_patches, moving_patches

    a, b, c, d, e = np.random.default_rng(1).integers(0, 255, (5, 128, 128), dtype=np.uint8)
    cut_patches(a, b, c, d, e, moving_patches((a, b, c, d, e)))
    uv, score = np.full((3, 8, 2), 9.0), np.full((3, 8), 0.5)
    with_support(BallCandidates(np.arange(3) * 33_333, uv, score, np.ones(3, bool), "network"))


STEPS: tuple[Callable[[], None], ...] = (flights, test_family_films, other_films, recordings, ball_search)


def left_out() -> Iterator[str]:
    """Modules with functions kept in numba's cache that no step has loaded."""
    for path in sorted(SOURCE.rglob("*.py")):
        name = ".".join(path.relative_to(SOURCE).with_suffix("").parts)
        if name not in sys.modules and CACHED_FUNCTION.search(path.read_text(encoding="utf-8")):
            yield name


def main() -> None:
    began = time.process_time()
    for step in STEPS:
        step()
    if missing := list(left_out()):
        sys.exit("kernels: nothing in scripts/numba_cache_warm_up.py compiles " + ", ".join(missing))
    print(f"kernels: compiled or loaded from the cache in {time.process_time() - began:.0f} s of processor")


if __name__ == "__main__":
    main()
