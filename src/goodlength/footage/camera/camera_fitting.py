"""Fit a camera to clicks: initial poses by SQPnP for several focal lengths, then least squares.

The least squares carry weak expectations of the focal length and of k1, that matter only where the clicks
say little (four marks on the floor, or marks near the middle of the picture), and stronger ones of the
principal point and the tangential terms, which a dozen clicks settle only in part.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import cv2
import numpy as np

from goodlength.footage.camera.camera_model import UNKNOWNS, CameraModel, Floats, one_to_one

# What lenses are like before anything is clicked. ASSUMED: from fields of view of 60 to 110 degrees along
# the long side and the distortion of phones and action cameras; weak on purpose.
ASSUMED_FOCAL = (math.log(0.75), 0.5)  # log of focal length per long side of the picture, and its sd
ASSUMED_K1 = (-0.05, 0.15)
ASSUMED_OFF_MIDDLE = 0.0065  # sd each way of the principal point, shares of the longer side: 12 px of 1920
ASSUMED_TANGENTIAL = 0.001  # sd of each tangential term
ASSUMED_CLICK_PX = 2.0  # at 1080 lines; scaled with the picture
ASSUMED_CLICKS_SEEN = 4.0  # the assumed click error weighs as much as so many coordinates
STARTS = (0.45, 0.6, 0.8, 1.05, 1.4, 2.2)  # focal lengths tried, per long side
SURE_MARKS = 8  # fewer marks, or marks in one plane, are tried from more starts
SAME_PLACE_M = 0.05  # cameras nearer to each other than this are one
MIRRORED = np.diag([1.0, -1.0, 1.0])  # from the court's left-handed frame to a right-handed one


@dataclass(frozen=True)
class CameraFit:
    """A solved lens, the residuals (n, 2) in px, the normal matrix, and the cost (px² and expectations)."""

    lens: CameraModel
    residuals: Floats
    normal: Floats
    cost: float

    @property
    def rms_px(self) -> float:
        """Root of the mean squared distance between click and mark."""
        return float(np.sqrt((self.residuals**2).sum(axis=1).mean()))


def click_error_px(width: int, height: int) -> float:
    """Return the click error expected before anything is known: 2 px of a picture of 1080 lines."""
    return max(0.7, ASSUMED_CLICK_PX * min(width, height) / 1080.0)


def fit_lens(
    points: Floats, clicks: Floats, width: int, height: int, start: CameraModel | None = None
) -> CameraFit | None:
    """Return the lens that puts court points nearest to their clicks; None where no camera does.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        Court points, m; n at least 4.
    clicks : ndarray, shape (n, 2)
        Picture points, px.
    width, height : int
        Of the upright picture.
    start : Lens, optional
        A lens already near; several starts are tried without it.
    """
    sigma = click_error_px(width, height)
    if start is not None:
        return _descend(start, points, clicks, sigma)
    fits = all_fits(points, clicks, width, height)
    return fits[0] if fits else None


def all_fits(points: Floats, clicks: Floats, width: int, height: int) -> list[CameraFit]:
    """Return every lens the starts come to rest at, the best first; more than one where marks are few or
    flat.
    """
    sigma = click_error_px(width, height)
    found: list[CameraFit] = []
    for rough in _rough_starts(points, clicks, width, height):
        fit = _descend(rough, points, clicks, sigma)
        if fit is None:
            continue
        apart = [float(np.linalg.norm(fit.lens.place_m - other.lens.place_m)) for other in found]
        if not apart or min(apart) > SAME_PLACE_M:
            found.append(fit)
        elif found[int(np.argmin(apart))].cost > fit.cost:
            found[int(np.argmin(apart))] = fit
    return sorted(found, key=lambda fit: fit.cost)


def _rough_starts(points: Floats, clicks: Floats, width: int, height: int) -> list[CameraModel]:
    """Lenses without distortion for several focal lengths, the camera above the floor, best first.

    Marks in one plane have two poses that look much alike; IPPE gives both.
    """
    found = []
    right_handed = np.ascontiguousarray(points @ MIRRORED)
    flat_marks = float(np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[2]) < 1e-6
    ways = [cv2.SOLVEPNP_SQPNP, *([cv2.SOLVEPNP_IPPE] if flat_marks else [])]
    for share, way in itertools.product(STARTS, ways):
        focal = share * max(width, height)
        flat = np.ascontiguousarray((clicks - [width / 2.0, height / 2.0]) / focal)
        try:
            _, turns, shifts, _ = cv2.solvePnPGeneric(right_handed, flat, np.eye(3), None, flags=way)
        except cv2.error:
            continue
        for turn, shift in zip(turns, shifts, strict=True):
            rotation = np.asarray(cv2.Rodrigues(turn)[0], dtype=float)
            if not np.isfinite(rotation).all():
                continue
            place = MIRRORED @ (-rotation.T @ np.asarray(shift, dtype=float).ravel())
            lens = CameraModel(width, height, rotation @ MIRRORED, place, focal, 0.0)
            if place[2] <= 0.0:
                continue
            uv, seen = lens.project(points)
            if seen.all():
                found.append((float(((uv - clicks) ** 2).sum()), lens))
    found.sort(key=lambda pair: pair[0])
    few = flat_marks or len(points) < SURE_MARKS
    return [lens for _, lens in found[: 12 if few else 4]]


def expectations(lens: CameraModel) -> tuple[Floats, Floats]:
    """Return distance from what is expected of focal length and lens, in sd (6,), and its slopes (6, 12)."""
    lens_now = np.array([math.log(lens.focal_px / lens.long_px), lens.k1, *lens.off_middle, *lens.tangential])
    middle = np.array([ASSUMED_FOCAL[0], ASSUMED_K1[0], 0.0, 0.0, 0.0, 0.0])
    spread = np.array([ASSUMED_FOCAL[1], ASSUMED_K1[1], *[ASSUMED_OFF_MIDDLE] * 2, *[ASSUMED_TANGENTIAL] * 2])
    slopes = np.zeros((len(spread), UNKNOWNS))
    slopes[:, UNKNOWNS - len(spread) :] = np.diag(1.0 / spread)
    return np.asarray((lens_now - middle) / spread), slopes


def _descend(lens: CameraModel, points: Floats, clicks: Floats, sigma: float) -> CameraFit | None:
    """Levenberg-Marquardt from a start; None if it leaves what a camera can be.

    scipy's `least_squares` takes 2 to 7 times as long (decision 0014).
    """
    damping = 1e-3
    cost, system = _system(lens, points, clicks, sigma)
    for _ in range(60):
        normal, gradient, _ = system
        scale = np.diag(np.diag(normal))
        step = np.asarray(np.linalg.solve(normal + damping * scale, -gradient), dtype=float)
        trial = lens.moved(step)
        new_cost, new_system = (
            _system(trial, points, clicks, sigma) if _possible(trial, points) else (math.inf, system)
        )
        if new_cost < cost:
            settled = cost - new_cost < 1e-9 * (1.0 + cost)
            lens, cost, system = trial, new_cost, new_system
            damping = max(damping * 0.2, 1e-9)
            if settled:
                break
        else:
            damping *= 8.0
            if damping > 1e8:
                break
    if not _possible(lens, points):
        return None
    normal, _, residuals = system
    return CameraFit(lens, residuals, normal, cost)


def _system(
    lens: CameraModel, points: Floats, clicks: Floats, sigma: float
) -> tuple[float, tuple[Floats, Floats, Floats]]:
    """Cost in units of the click error; normal matrix, gradient, residuals."""
    uv, slopes, _ = lens.slopes(points)
    residuals = uv - clicks
    jacobian = slopes.reshape(-1, UNKNOWNS) / sigma
    off, expected = expectations(lens)
    flat = residuals.ravel() / sigma
    normal = jacobian.T @ jacobian + expected.T @ expected
    gradient = jacobian.T @ flat + expected.T @ off
    return float(flat @ flat + off @ off), (normal, gradient, residuals)


def _possible(lens: CameraModel, points: Floats) -> bool:
    """Return whether this is a camera above the floor with all marks in front of it, inside its lens's
    reach.
    """
    if not (np.isfinite(lens.place_m).all() and lens.place_m[2] > 0.0 and np.abs(lens.place_m).max() < 200.0):
        return False
    long = max(lens.width, lens.height)
    if not (0.15 * long < lens.focal_px < 12.0 * long and abs(lens.k1) < 1.0):
        return False
    if max(map(abs, lens.off_middle)) > 0.2 or max(map(abs, lens.tangential)) > 0.05:
        return False
    eye = (points - lens.place_m) @ lens.axes.T
    if not (eye[:, 2] > 0.02).all():
        return False
    square = (eye[:, 0] ** 2 + eye[:, 1] ** 2) / eye[:, 2] ** 2
    return bool(one_to_one(square, lens.k1).all())
