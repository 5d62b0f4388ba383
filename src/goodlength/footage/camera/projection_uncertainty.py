"""Project image points onto the court with their error, and court points into the image.

A picture point is a ray. It names a place only on a surface said beforehand: floor or one of the walls.
The error comes from the camera (its covariance) and, if given, from the click itself, carried through
the slopes of the projection. What cannot be said is said: `OutOfView`, never a number far off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from goodlength.court import CourtSurface
from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.footage.camera.camera_model import Bools, CameraModel, Floats

OUTSIDE_M = 0.5  # a place so far outside the court is not one
WORST_M = 1.0  # a place less sure than this (standard error) is not given
AXES = {
    CourtSurface.FLOOR: (2, 0.0, (0, 1)),
    CourtSurface.FRONT: (1, 0.0, (0, 2)),
    CourtSurface.TIN: (1, 0.0, (0, 2)),
    CourtSurface.BACK: (1, LENGTH_M, (0, 2)),
    CourtSurface.LEFT: (0, 0.0, (1, 2)),
    CourtSurface.RIGHT: (0, WIDTH_M, (1, 2)),
}
_FURTHEST_M = (WIDTH_M, LENGTH_M, FRONT_OUT_M + 2.0)


@dataclass(frozen=True, eq=False)
class ParameterCovariance:
    """What a solved camera is unsure of: covariance of the twelve unknowns, and how well it is known.

    `freedom` is the number of spare clicks' coordinates behind it, the assumed ones included.
    """

    covariance: Floats
    click_px: float
    freedom: float


@dataclass(frozen=True)
class ErrorEllipse:
    """An ellipse on a surface: half axes, m, and the turn of the long one from the surface's first axis."""

    long_m: float
    short_m: float
    turn_rad: float


@dataclass(frozen=True)
class CourtPoint:
    """A point of the court on a surface, with its covariance (m²) along the surface's two axes.

    The axes are x and y on the floor, x and z on front and back wall, y and z on the side walls.
    """

    surface: CourtSurface
    x_m: float
    y_m: float
    z_m: float
    covariance_m2: tuple[tuple[float, float], tuple[float, float]]
    freedom: float

    @property
    def error_m(self) -> float:
        """Standard error in space: the root of the two variances together."""
        return math.sqrt(self.covariance_m2[0][0] + self.covariance_m2[1][1])

    def ellipse(self, level: float = 0.95) -> ErrorEllipse:
        """Return the region that holds the true place in `level` of all cases."""
        values, vectors = np.linalg.eigh(np.array(self.covariance_m2))
        size = math.sqrt(2.0 * float(fdtri(2, self.freedom, level)))
        short, long = (size * math.sqrt(max(0.0, float(v))) for v in values)
        return ErrorEllipse(long, short, math.atan2(float(vectors[1, 1]), float(vectors[0, 1])))

    @property
    def words(self) -> str:
        """The place and its 95 in 100 range, in centimetres."""
        return f"± {round(100.0 * self.ellipse().long_m)} cm (95% range)"


@dataclass(frozen=True)
class OutOfView:
    """No place can be given, and why."""

    why: str


def backproject_all(
    lens: CameraModel,
    fit_covariance: ParameterCovariance,
    surface: CourtSurface,
    uv: Floats,
    click_px: float = 0.0,
) -> tuple[Floats, Floats, Bools]:
    """Return court points of many picture points on one surface, their covariances, and which are good.

    Parameters
    ----------
    lens, fit_covariance : Lens, Doubt
        The solved camera.
    surface : Surface
        Floor, front wall, tin, back wall or a side wall.
    uv : ndarray, shape (n, 2)
        Picture points, px.
    click_px : float
        Standard error of the picture points themselves, each way; 0 for the camera's share alone.

    Returns
    -------
    xyz : ndarray, shape (n, 3)
        NaN where the ray does not meet the surface in front of the camera.
    covariance : ndarray, shape (n, 2, 2)
        m², along the surface's axes.
    good : ndarray of bool, shape (n,)
        In the picture, on the court within half a metre, and with an error below one metre.
    """
    axis, at, free = _axes(surface)
    uv = np.asarray(uv, dtype=float).reshape(-1, 2)
    rays = lens.rays(uv)
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = (at - lens.place_m[axis]) / rays[:, axis]
        xyz = lens.place_m + steps[:, None] * rays
    met = np.isfinite(xyz).all(axis=1) & (steps > 0.0) & (steps < 1e4)
    xyz[~met] = np.nan
    covariance = np.full((len(uv), 2, 2), np.nan)
    if met.any():
        covariance[met] = _carried(lens, fit_covariance, xyz[met], free, click_px)
    with np.errstate(invalid="ignore"):
        sure = covariance[:, 0, 0] + covariance[:, 1, 1] < WORST_M**2
    good = met & lens.inside(uv) & sure & _on_court(xyz, free)
    return xyz, covariance, good


def _axes(surface: CourtSurface) -> tuple[int, float, tuple[int, int]]:
    """Fixed axis, its value, and the two free axes of a surface."""
    if surface not in AXES:
        known = ", ".join(s.value for s in AXES)
        raise InputError(
            f"{str(surface)!r} is not a surface a point of the frame can lie on. Choose one of: {known}."
        )
    return AXES[surface]


def _on_court(xyz: Floats, free: tuple[int, int]) -> Bools:
    """Return whether points lie on the court, or at most `OUTSIDE_M` off it."""
    good = np.ones(len(xyz), dtype=bool)
    with np.errstate(invalid="ignore"):
        for axis in free:
            good &= (xyz[:, axis] >= -OUTSIDE_M) & (xyz[:, axis] <= _FURTHEST_M[axis] + OUTSIDE_M)
    return good


def _carried(
    lens: CameraModel,
    fit_covariance: ParameterCovariance,
    xyz: Floats,
    free: tuple[int, int],
    click_px: float,
) -> Floats:
    """Covariances of places: the camera's and the click's, through the slopes of the projection."""
    _, by_unknowns, by_point = lens.slopes(xyz)
    across = by_point[:, :, list(free)]
    tiny = np.abs(np.linalg.det(across)) < 1e-9
    across[tiny] = np.eye(2) * 1e-6  # seen edge on: an error beyond all bounds
    back = np.linalg.inv(across)
    pixels = by_unknowns @ fit_covariance.covariance @ by_unknowns.transpose(0, 2, 1) + click_px**2 * np.eye(
        2
    )
    return np.asarray(back @ pixels @ back.transpose(0, 2, 1))


def backproject(
    lens: CameraModel,
    fit_covariance: ParameterCovariance,
    surface: CourtSurface,
    u: float,
    v: float,
    click_px: float = 0.0,
) -> CourtPoint | OutOfView:
    """Return the court point under one picture point, on a surface said beforehand."""
    uv = np.array([[u, v]])
    xyz, covariance, good = backproject_all(lens, fit_covariance, surface, uv, click_px)
    if good[0]:
        (a, b), (c, d) = covariance[0].tolist()
        x, y, z = (float(value) for value in xyz[0])
        return CourtPoint(surface, x, y, z, ((a, b), (c, d)), fit_covariance.freedom)
    name = surface.value.replace("-", " ")
    if not lens.inside(uv)[0]:
        return OutOfView(f"({u:g}, {v:g}) is outside the frame of {lens.width} by {lens.height}.")
    if np.isnan(lens.rays(uv)).any():
        return OutOfView("so close to the edge of this lens the direction is unknown.")
    if np.isnan(xyz[0]).any():
        return OutOfView(f"this part of the frame does not show the {name}.")
    if not _on_court(xyz, _axes(surface)[2])[0]:
        where = ", ".join(f"{value:.1f}" for value in xyz[0])
        return OutOfView(f"on the plane of the {name} this would be at ({where}) m, outside the court.")
    return OutOfView(
        f"the {name} is seen too flat or too far off here: the error would be over {WORST_M:g} m."
    )


@dataclass(frozen=True)
class ImagePoint:
    """Where a court point is in the picture, px, with its standard error from the camera each way."""

    u: float
    v: float
    error_u_px: float
    error_v_px: float


def project_point(
    lens: CameraModel, fit_covariance: ParameterCovariance, x_m: float, y_m: float, z_m: float
) -> ImagePoint | OutOfView:
    """Return where a point of the court is seen, or why it is not."""
    point = np.array([[x_m, y_m, z_m]])
    uv, seen = lens.project(point)
    if not seen[0]:
        return OutOfView("the point is behind the camera, or beyond what the lens can show.")
    if not lens.inside(uv)[0]:
        return OutOfView("the point is outside the frame.")
    _, by_unknowns, _ = lens.slopes(point)
    spread = by_unknowns[0] @ fit_covariance.covariance @ by_unknowns[0].T
    return ImagePoint(
        float(uv[0, 0]), float(uv[0, 1]), math.sqrt(float(spread[0, 0])), math.sqrt(float(spread[1, 1]))
    )
