"""Calibrates the stated error of a court found by itself, and prints how often it holds, for each family.

Usage: python scripts/fit_court_detection_error.py [--courts 40]

Courts are still pictures of the learning and choosing families, as in `fit_court_detection_probability.py`.
Their own lenses have one radial term and their courts are exact, which no phone and no court is. So each
picture is bent by the further terms of a lens, and searched for the lines of a court that is off the standard
by as much as COURT-SPEC allows. Printed for several sizes of the error of a mark, at 1080 lines: in which
share of the films the median error of the floor lies within twice the one stated, the same for single places,
and the median error stated. Nothing of the judging family is used.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

import fit_court_detection_probability

from goodlength.court import CourtSurface
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import CalibrationError
from goodlength.footage.camera.camera_calibration import calibrate_camera
from goodlength.footage.camera.camera_covariance import covariance_of_marks
from goodlength.footage.camera.camera_fitting import ASSUMED_OFF_MIDDLE, ASSUMED_TANGENTIAL
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.court_mark_click_validation import points_and_clicks
from goodlength.footage.camera.projection_uncertainty import backproject_all
from goodlength.footage.court_detection import court_detection_in_image
from goodlength.footage.court_detection.camera_refinement_on_lines import CameraCandidate, scaled_camera
from goodlength.footage.court_detection.court_wireframe import WireframeLine, wireframe
from goodlength.footage.court_detection.detection_probability import OFFERED_FROM, court_evidence
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
ASSUMED_K2 = 0.02  # sd of a further radial term, radii in focal lengths: a quarter per cent at 45 degrees
LINE_OFF_M, TIN_OFF_M, SIZE_OFF_M = 0.005, 0.002, 0.010  # COURT-SPEC
MARK_PX = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0)


@dataclass(frozen=True)
class FoundFloor:
    """Errors of the floor of a court that was offered, m (n,): true ones, and stated ones by mark error."""

    family: str
    true_m: Floats
    stated_m: dict[float, Floats]


def off_standard(rng: np.random.Generator, lines: tuple[WireframeLine, ...]) -> tuple[WireframeLine, ...]:
    """Return the lines of a court as it may have been marked."""
    size = 1 + rng.uniform(-SIZE_OFF_M, SIZE_OFF_M, 3) / [WIDTH_M, LENGTH_M, np.inf]
    moved = []
    for line in lines:
        across = np.zeros(3) if line.across is None else line.across
        most = LINE_OFF_M
        if line.name == "tin":
            across, most = np.array([0.0, 0.0, 1.0]), TIN_OFF_M
        ends = [end * size + across * rng.uniform(-most, most) for end in (line.start_m, line.end_m)]
        moved.append(replace(line, start_m=ends[0], end_m=ends[1]))
    return tuple(moved)


def bent(
    rng: np.random.Generator, picture: Bytes, camera: CameraModel
) -> tuple[Bytes, Callable[[Floats], Floats]]:
    """Return a picture through a lens with further terms, and the function from old to new pixels."""
    focal, long_px = camera.focal_px, camera.long_px
    middle = np.array([camera.width, camera.height]) / 2
    k2, p1, p2 = rng.normal(0, [ASSUMED_K2, ASSUMED_TANGENTIAL, ASSUMED_TANGENTIAL])
    shift = rng.normal(0, ASSUMED_OFF_MIDDLE * long_px, 2)

    def back(uv: Floats) -> Floats:
        """Pixel in the old picture of a pixel of the new one."""
        flat = (uv - middle) / focal
        x, y = flat.T
        square = x**2 + y**2
        skew = np.column_stack(
            [2 * p1 * x * y + p2 * (square + 2 * x**2), p1 * (square + 2 * y**2) + 2 * p2 * x * y]
        )
        return np.asarray(uv - shift + focal * (k2 * square[:, None] ** 2 * flat + skew))

    v, u = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]] + 0.5
    source = back(np.column_stack([u.ravel(), v.ravel()])).reshape(*picture.shape[:2], 2) - 0.5
    warped = cv2.remap(
        picture, source.astype(np.float32), None, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )

    def forth(uv: Floats) -> Floats:
        new = uv.copy()
        for _ in range(20):
            new = new + (uv - back(new))
        return new

    return np.asarray(warped, np.uint8), forth


def found_in(
    rng: np.random.Generator, picture: Bytes, lines: tuple[WireframeLine, ...]
) -> list[CameraCandidate]:
    """Return what `find_cameras` finds for a court with these lines."""
    usual = court_detection_in_image.wireframe
    court_detection_in_image.wireframe = lambda _tin="standard": lines
    try:
        return court_detection_in_image.find_cameras(rng, picture)
    finally:
        court_detection_in_image.wireframe = usual


def floor_of(
    family: str, found: list[CameraCandidate], camera: CameraModel, forth: Callable[[Floats], Floats]
) -> FoundFloor | None:
    """Return errors of the floor; None where the court is not offered."""
    if not found or court_evidence(found).chance < OFFERED_FROM:
        return None
    best = scaled_camera(found[0].camera, camera.width, camera.height)
    try:
        solved = calibrate_camera(court_detection_in_image.marks_in_view(best), camera.width, camera.height)
    except CalibrationError:
        return None
    grid = np.array([(x, y, 0.0) for x in np.linspace(0.2, 6.2, 7) for y in np.linspace(0.2, 9.55, 9)])
    uv, seen = camera.project(grid)
    seen &= camera.inside(uv)
    grid, uv = grid[seen], forth(uv[seen])
    here = camera.inside(uv)
    grid, uv = grid[here], uv[here]
    points, _ = points_and_clicks(solved.clicks)
    stated = {}
    for px in MARK_PX:
        spread = covariance_of_marks(solved.lens, points, px * min(camera.width, camera.height) / 1080)
        places, covariance, good = backproject_all(solved.lens, spread, CourtSurface.FLOOR, uv)
        stated[px] = np.where(good > 0, np.sqrt(covariance[:, 0, 0] + covariance[:, 1, 1]), np.inf)
    return FoundFloor(family, np.linalg.norm(places - grid, axis=1), stated)


def floors(courts: int) -> Iterator[FoundFloor]:
    """Yield the courts offered, family by family within each seed."""
    families = [*TRAINING_FILM_FAMILIES.values(), VALIDATION_FILM_FAMILY]
    for seed in range(1, courts + 1):
        for family in families:
            rng = np.random.default_rng([11, seed, len(family.name)])
            picture, camera = fit_court_detection_probability.court_picture(family, seed)
            picture, forth = bent(rng, picture, camera)
            scale = min(1.0, fit_court_detection_probability.LONGEST_PX / max(picture.shape[:2]))
            small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            found = found_in(rng, np.asarray(small, np.uint8), off_standard(rng, wireframe()))
            floor = floor_of(family.name, found, camera, forth)
            if floor is not None:
                yield floor


def table(found: list[FoundFloor]) -> str:
    """Return a line for each size of the error of a mark."""
    rows = [f"{len(found)} offered, median error {100 * _middle([f.true_m for f in found]):.2f} cm"]
    for px in MARK_PX:
        films = [np.median(f.true_m) <= 2 * np.median(f.stated_m[px]) for f in found]
        places = np.concatenate([f.true_m <= 2 * f.stated_m[px] for f in found])
        stated = 100 * _middle([f.stated_m[px] for f in found])
        rows.append(
            f"  {px:3.1f} px: films {np.mean(films):.3f}, places {places.mean():.3f}, {stated:.2f} cm stated"
        )
    return "\n".join(rows)


def _middle(errors: list[Floats]) -> float:
    return float(np.median([np.median(values) for values in errors]))


def main() -> None:
    """Search, and print after every tenth court."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--courts", type=int, default=40)
    found: list[FoundFloor] = []
    for floor in floors(parser.parse_args().courts):
        found.append(floor)
        if len(found) % 10 == 0:
            print("all:", table(found), flush=True)
    for family in dict.fromkeys(floor.family for floor in found):
        print(f"{family}:", table([floor for floor in found if floor.family == family]), flush=True)
    print("all:", table(found))


if __name__ == "__main__":
    main()
