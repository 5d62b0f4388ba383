"""Accuracy of the court found by itself, on films of the judging family (`goodlength bench court`).

A film is two seconds long. To save hours it is drawn and coded at five frames a second, each frame with the
bits its codec would have given it, and sized down where the film is a messenger's copy. Errors are those of
places of the floor in the picture, from the camera solved from the marks that the coach is shown. A mirrored
film is judged by the camera of the mirrored court, since nothing in the lines tells the two apart.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import cast

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection import DetectedCourt, detect_court
from goodlength.synthetic.recordings.test_family_films import draw_scene, frames_of

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
FRAMES_PER_S, SECONDS = 5, 2.0
WRONG_M = 0.30
REFUSED_KINDS = ("court of other lines", "no court", "half dark", "two courts in view")
OTHER_KINDS = ("mirrored film", "nobody on court", "children", "doubles", "coach walks in")
_NOT_RIGHT_M = 9.0


@dataclass(frozen=True)
class CourtFilm:
    """A film as written: file, true pixels of court points at its middle frame, conditions by name."""

    path: Path
    seed: int
    kind: str
    project: Callable[[Floats], Floats]
    conditions: dict[str, str]


@dataclass(frozen=True)
class CourtFilmResult:
    """What was found in a film; errors of the floor in metres, NaN where nothing was found."""

    seed: int
    kind: str
    offered: bool
    chance: float
    why: str
    median_m: float
    p95_m: float
    stated_m: float
    cpu_s: float
    conditions: dict[str, str]


def write_court_film(seed: int, kind: str, path: Path) -> CourtFilm:
    """Draw a film of the judging family at five frames a second and write it as its codec would."""
    film = draw_scene(seed, kind, SECONDS)
    timing = replace(film.scene.timing, frames_per_s=float(FRAMES_PER_S))
    rendered = list(frames_of(replace(film, scene=replace(film.scene, timing=timing))))
    frames = [frame for frame, _ in rendered]
    share = FRAMES_PER_S / film.scene.timing.frames_per_s
    coder = "libx265" if "HEVC" in film.codec.codec.upper() else "libx264"
    _encode(path, frames, coder, film.codec.mb_s * share)
    scale = 1.0
    if film.codec.copy_height:
        height, width = frames[0].shape[:2]
        scale = film.codec.copy_height / min(height, width)
        size = (round(width * scale / 2) * 2, round(height * scale / 2) * 2)
        copied = [cv2.resize(frame, size, interpolation=cv2.INTER_AREA) for frame in read_frames(path)]
        _encode(
            path, [np.asarray(frame, np.uint8) for frame in copied], "libx264", film.codec.copy_mb_s * share
        )
    camera = rendered[len(rendered) // 2][1].camera
    mirrored = kind == "mirrored film"

    def project(points: Floats) -> Floats:
        """Pixels of court points; in a mirrored film of the points that stand mirrored."""
        if mirrored:
            points = points * [-1, 1, 1] + [WIDTH_M, 0, 0]
        uv = np.array(camera.project(points)[:, :2])
        if mirrored:
            uv[:, 0] = camera.width - uv[:, 0]
        return uv * scale

    return CourtFilm(path, seed, kind, project, {k: str(v) for k, v in asdict(film.conditions).items()})


def _encode(path: Path, frames: Sequence[Bytes], codec: str, megabits_s: float) -> None:
    height, width = frames[0].shape[:2]
    options = {"preset": "veryfast"} | ({"x265-params": "log-level=none"} if codec == "libx265" else {})
    with av.open(str(path), "w") as file:
        stream = cast("av.VideoStream", file.add_stream(codec, rate=FRAMES_PER_S, options=options))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.bit_rate = int(megabits_s * 1e6)
        for frame in frames:
            file.mux(stream.encode(av.VideoFrame.from_ndarray(frame, "rgb24")))
        file.mux(stream.encode())


def read_frames(path: Path) -> list[Bytes]:
    """Return all frames of a short film, red, green, blue."""
    with av.open(str(path)) as file:
        return [np.asarray(frame.to_ndarray(format="rgb24"), np.uint8) for frame in file.decode(video=0)]


def floor_errors_m(found: CameraModel, project: Callable[[Floats], Floats]) -> Floats:
    """Return how far off the places of the floor in the picture are, on a grid, m."""
    grid = np.array(
        [(x, y, 0.0) for x in np.linspace(0.2, WIDTH_M - 0.2, 7) for y in np.linspace(0.2, LENGTH_M - 0.2, 9)]
    )
    uv = project(grid)
    with np.errstate(invalid="ignore"):
        here = np.isfinite(uv).all(axis=1) & found.inside(uv)
    rays = found.rays(uv[here])
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = -found.place_m[2] / rays[:, 2]
        off = np.linalg.norm(found.place_m + steps[:, None] * rays - grid[here], axis=1)
    return np.where(np.isfinite(off) & (steps > 0), np.minimum(off, _NOT_RIGHT_M), _NOT_RIGHT_M)


def judge_film(film: CourtFilm, state: int) -> CourtFilmResult:
    """Find the court in a film and compare it with the truth."""
    frames = read_frames(film.path)
    began = time.process_time()
    found = detect_court(np.random.default_rng([state, film.seed]), frames)
    cpu_s = time.process_time() - began
    median_m = p95_m = stated_m = float("nan")
    if found.camera is not None and film.kind != "no court":
        errors = floor_errors_m(found.camera.lens, film.project)
        if len(errors):
            median_m, p95_m = float(np.median(errors)), float(np.quantile(errors, 0.95))
        stated_m = found.error_m or float("nan")
    return _result(film, found, median_m, p95_m, stated_m, cpu_s)


def _result(
    film: CourtFilm, found: DetectedCourt, median_m: float, p95_m: float, stated_m: float, cpu_s: float
) -> CourtFilmResult:
    return CourtFilmResult(
        film.seed, film.kind, found.offered, found.chance, found.why, median_m, p95_m, stated_m, cpu_s,
        film.conditions,
    )  # fmt: skip


@dataclass(frozen=True)
class KindFigures:
    """How films of one kind of bad input fared."""

    kind: str
    films: int
    offered: int
    offered_and_right: int


@dataclass(frozen=True)
class CourtFigures:
    """Figures of ordinary films, and of each kind of bad input.

    `court_offered` is a share with its standard error; `court_median_cm` and `court_p95_cm` are over the
    median errors of the films offered; `worst_p95_cm` is the worst film's own 95th percentile. A film is
    wrong whose median error is over 30 cm. `stated_holds` is the share of offered films whose median error is
    within twice the one stated. NaN where no film was offered.
    """

    seed: int
    films: int
    court_offered: float
    court_offered_se: float
    court_median_cm: float
    court_p95_cm: float
    worst_median_cm: float
    worst_p95_cm: float
    wrong_but_offered: int
    stated_holds: float
    cpu_s: float
    kinds: tuple[KindFigures, ...]


def court_figures(seed: int, results: Sequence[CourtFilmResult]) -> CourtFigures:
    """Return the figures of judged films."""
    usual = [result for result in results if result.kind == "singles"]
    offered = [result for result in usual if result.offered]
    errors = 100 * np.array([result.median_m for result in offered] or [np.nan])
    share = len(offered) / len(usual) if usual else float("nan")
    holds = [result.median_m <= 2 * result.stated_m for result in offered]
    kinds = [kind for kind in (*REFUSED_KINDS, *OTHER_KINDS) if any(r.kind == kind for r in results)]
    return CourtFigures(
        seed=seed,
        films=len(usual),
        court_offered=share,
        court_offered_se=float(np.sqrt(share * (1 - share) / max(len(usual), 1))),
        court_median_cm=float(np.median(errors)),
        court_p95_cm=float(np.quantile(errors, 0.95)),
        worst_median_cm=float(errors.max()),
        worst_p95_cm=100 * max((result.p95_m for result in offered), default=float("nan")),
        wrong_but_offered=sum(not result.median_m <= WRONG_M for result in offered),
        stated_holds=float(np.mean(holds)) if holds else float("nan"),
        cpu_s=float(np.median([result.cpu_s for result in results] or [np.nan])),
        kinds=tuple(_kind_figures(kind, results) for kind in kinds),
    )


def _kind_figures(kind: str, results: Sequence[CourtFilmResult]) -> KindFigures:
    those = [result for result in results if result.kind == kind]
    offered = [result for result in those if result.offered]
    return KindFigures(kind, len(those), len(offered), sum(result.median_m < WRONG_M for result in offered))


def bench_court(
    seed: int,
    films: int = 100,
    others: int = 5,
    progress: Callable[[str], None] = lambda _: None,
    state: int = 1,
) -> CourtFigures:
    """Return the figures of so many ordinary films and so many of each kind of bad input.

    Film `i` is drawn from `seed + i`; bad input begins at `seed + 1000`, a hundred apart for each kind.
    """
    wanted = [("singles", seed + i) for i in range(1, films + 1)]
    for k, kind in enumerate((*REFUSED_KINDS, *OTHER_KINDS)):
        wanted += [(kind, seed + 1000 + 100 * k + i) for i in range(others)]
    results = []
    with tempfile.TemporaryDirectory() as folder:
        for kind, number in wanted:
            path = Path(folder) / f"{number}.mp4"
            result = judge_film(write_court_film(number, kind, path), state)
            path.unlink()
            results.append(result)
            progress(f"{kind} {number}: {'offered' if result.offered else result.why}")
    return court_figures(seed, results)


def court_keys(figures: CourtFigures) -> dict[str, float | int | None]:
    """Return the figures of ordinary films as `bench worlds` prints them; None where no film was offered.

    `court_wrong` counts the films offered that are over 30 cm off; `court_stated_holds` is the share of those
    offered whose error is within twice the one stated.
    """

    def known(value: float, digits: int) -> float | None:
        return round(value, digits) if np.isfinite(value) else None

    return {
        "court_films": figures.films,
        "court_offered": known(figures.court_offered, 4),
        "court_offered_se": known(figures.court_offered_se, 4),
        "court_median_cm": known(figures.court_median_cm, 2),
        "court_p95_cm": known(figures.court_p95_cm, 2),
        "court_wrong": figures.wrong_but_offered,
        "court_stated_holds": known(figures.stated_holds, 4),
    }
