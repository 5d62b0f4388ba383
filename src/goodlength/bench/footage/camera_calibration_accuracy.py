"""Benchmark of camera calibration from clicks, on random cameras and lenses with known truth.

Cameras stand behind the back wall and look at the front half of the court, as coaches film. Every mark in
the picture is clicked with a normal error each way. The projection that makes the clicks is written here
again, so that it shares no code with the solver.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.stats import f as f_distribution

from goodlength.court import CourtSurface
from goodlength.errors import CalibrationError
from goodlength.footage.camera import CameraCalibration, Click, calibrate_camera
from goodlength.footage.camera.projection_uncertainty import backproject_all
from goodlength.synthetic.simulated_camera_clicks import (
    HEIGHT,
    SETTINGS,
    WIDTH,
    CameraSetting,
    RealCamera,
    real_camera,
    real_clicks,
)

Floats = NDArray[np.float64]
WRONG_CLICK_PX = 25.0
FEET_PX = 4.0


@dataclass
class _Tally:
    """Counts of one setting."""

    rms: list[float] = field(default_factory=list)
    focal: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    refused: int = 0
    marks: int = 0
    blunders: int = 0
    named: int = 0
    wrongly: int = 0
    errors: dict[str, list[Floats]] = field(default_factory=dict)
    covered: dict[str, list[NDArray[np.bool_]]] = field(default_factory=dict)


@dataclass(frozen=True)
class CameraRates:
    """What came out of one setting; errors in metres, shares 0 to 1.

    `covered_*` is the share of places inside the 95 in 100 ellipse; `named` the share of 25 px blunders
    named first; `wrongly_named` the share of cameras with good clicks in which any was doubted. `feet_*`
    is the error of places clicked 4 px off.
    """

    setting: str
    cameras: int
    refused: int
    marks: float
    rms_px: float
    focal_median: float
    floor_median_m: float
    floor_p95_m: float
    front_median_m: float
    front_p95_m: float
    side_median_m: float
    side_p95_m: float
    covered_floor: float
    covered_front: float
    covered_side: float
    feet_median_m: float
    feet_p95_m: float
    covered_feet: float
    named: float
    wrongly_named: float
    solve_ms: float

    @property
    def line(self) -> str:
        """One line of the table."""
        cm = 100.0
        return (
            f"{self.setting}: {self.cameras} cameras ({self.refused} refused), {self.marks:.1f} marks, rms "
            f"{self.rms_px:.1f} px, focal {cm * self.focal_median:.1f} %; floor "
            f"{cm * self.floor_median_m:.2f} / "
            f"{cm * self.floor_p95_m:.2f} cm, front wall {cm * self.front_median_m:.2f} / "
            f"{cm * self.front_p95_m:.2f} cm, side walls {cm * self.side_median_m:.2f} / "
            f"{cm * self.side_p95_m:.2f} cm; ellipses hold {cm * self.covered_floor:.1f} % (floor), "
            f"{cm * self.covered_front:.1f} % (front) and {cm * self.covered_side:.1f} % (side walls); feet "
            f"{cm * self.feet_median_m:.1f} / "
            f"{cm * self.feet_p95_m:.1f} cm, held {cm * self.covered_feet:.1f} %; blunder named "
            f"{cm * self.named:.1f} %, good click doubted {cm * self.wrongly_named:.1f} %; "
            f"{self.solve_ms:.0f} ms"
        )


def camera_rates(
    rng: np.random.Generator, setting: CameraSetting = SETTINGS[0], cameras: int = 200
) -> CameraRates:
    """Solve so many random cameras and hold every place against the truth.

    Parameters
    ----------
    rng : numpy Generator
        Draws cameras and clicks.
    setting : Setting
        Lens, click error and what the solver does not know of.
    cameras : int
        How many.
    """
    tally = _Tally()
    for _ in range(cameras):
        real = real_camera(rng, setting)
        clicks = real_clicks(rng, real, setting)
        began = time.perf_counter()
        try:
            camera = calibrate_camera(clicks, WIDTH, HEIGHT)
        except CalibrationError:
            tally.refused += 1
            continue
        tally.seconds.append(time.perf_counter() - began)
        tally.marks += len(clicks)
        tally.rms.append(camera.rms_px)
        tally.focal.append(abs(camera.lens.focal_px / real.focal_px - 1.0))
        tally.wrongly += bool(camera.suspects)
        _places(rng, tally, real, camera)
        _check_outlier_named(rng, tally, clicks)
    return _rates(setting, cameras, tally)


def camera_table(
    rng: np.random.Generator, cameras: int = 200, settings: Iterable[CameraSetting] = SETTINGS
) -> tuple[CameraRates, ...]:
    """`camera_rates` for every setting."""
    return tuple(camera_rates(rng, setting, cameras) for setting in settings)


def _grid(surface: CourtSurface) -> Floats:
    """Return places all over a surface."""
    x, y = np.linspace(0.1, 6.3, 9), np.linspace(0.1, 9.65, 14)
    if surface is CourtSurface.FLOOR:
        return np.array([(a, b, 0.0) for a in x for b in y])
    if surface is CourtSurface.FRONT:
        return np.array([(a, 0.0, c) for a in x for c in np.linspace(0.1, 4.5, 8)])
    at = 0.0 if surface is CourtSurface.LEFT else 6.4
    return np.array([(at, b, c) for b in y for c in np.linspace(0.1, 2.2, 5)])


def _places(rng: np.random.Generator, tally: _Tally, real: RealCamera, camera: CameraCalibration) -> None:
    """Places on floor and walls, from exact picture points, and on the floor from feet clicked 4 px off."""
    for surface, free, name in (
        (CourtSurface.FLOOR, [0, 1], "floor"),
        (CourtSurface.FRONT, [0, 2], "front"),
        (CourtSurface.LEFT, [1, 2], "side"),
        (CourtSurface.RIGHT, [1, 2], "side"),
        (CourtSurface.FLOOR, [0, 1], "feet"),
    ):
        if camera.floor_only and surface is not CourtSurface.FLOOR:
            continue
        grid = _grid(surface)
        uv = real.see(grid)
        seen = np.isfinite(uv).all(axis=1)
        click_px = FEET_PX if name == "feet" else 0.0
        clicked = uv[seen] + rng.normal(0.0, 1.0, (int(seen.sum()), 2)) * click_px
        xyz, covariance, good = backproject_all(camera.lens, camera.covariance, surface, clicked, click_px)
        off = (xyz - grid[seen])[good][:, free]
        size = np.einsum("ni,nij,nj->n", off, np.linalg.inv(covariance[good]), off) / 2.0
        limit = float(f_distribution.ppf(0.95, 2, camera.covariance.freedom))
        tally.errors.setdefault(name, []).append(np.hypot(off[:, 0], off[:, 1]))
        tally.covered.setdefault(name, []).append(size <= limit)


def _check_outlier_named(rng: np.random.Generator, tally: _Tally, clicks: list[Click]) -> None:
    """Move one click by 25 px, inside the picture, and see whether it is named first."""
    at = int(rng.integers(len(clicks)))
    click = clicks[at]
    for _ in range(50):
        way = rng.uniform(0.0, 2.0 * math.pi)
        u, v = click.u + WRONG_CLICK_PX * math.cos(way), click.v + WRONG_CLICK_PX * math.sin(way)
        if 0.0 <= u <= WIDTH and 0.0 <= v <= HEIGHT:
            break
    moved = [*clicks[:at], Click(click.mark, u, v), *clicks[at + 1 :]]
    tally.blunders += 1
    try:
        camera = calibrate_camera(moved, WIDTH, HEIGHT)
    except CalibrationError as error:
        tally.named += click.mark in str(error)
        return
    tally.named += bool(camera.suspects) and camera.suspects[0].mark == click.mark


def _rates(setting: CameraSetting, cameras: int, tally: _Tally) -> CameraRates:
    """Medians, percentiles and shares."""

    def error(name: str, quantile: float) -> float:
        found = tally.errors.get(name)
        return float(np.quantile(np.concatenate(found), quantile)) if found else math.nan

    def covered(name: str) -> float:
        found = tally.covered.get(name)
        return float(np.concatenate(found).mean()) if found else math.nan

    solved = max(1, cameras - tally.refused)
    return CameraRates(
        setting=setting.name,
        cameras=cameras,
        refused=tally.refused,
        marks=tally.marks / solved,
        rms_px=float(np.median(tally.rms)),
        focal_median=float(np.median(tally.focal)),
        floor_median_m=error("floor", 0.5),
        floor_p95_m=error("floor", 0.95),
        front_median_m=error("front", 0.5),
        front_p95_m=error("front", 0.95),
        side_median_m=error("side", 0.5),
        side_p95_m=error("side", 0.95),
        covered_floor=covered("floor"),
        covered_front=covered("front"),
        covered_side=covered("side"),
        feet_median_m=error("feet", 0.5),
        feet_p95_m=error("feet", 0.95),
        covered_feet=covered("feet"),
        named=tally.named / max(1, tally.blunders),
        wrongly_named=tally.wrongly / solved,
        solve_ms=1000.0 * float(np.mean(tally.seconds)),
    )
