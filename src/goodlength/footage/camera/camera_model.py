"""Camera model: position, orientation, focal length and lens distortion.

Picture points (u, v) are pixels of the upright picture, from its top left corner: the middle of the first
pixel is (0.5, 0.5). A point of the court is turned into the camera's frame (right, down, forward), divided
by its depth, pushed by the lens, and scaled:

    e = A (X - C);  x = e1/e3, y = e2/e3;  r² = x² + y²;  d = 1 + k1 r²
    u = w/2 + u0 + f (d x + 2 p1 x y + p2 (r² + 2 x²)),  v = h/2 + v0 + f (d y + p1 (r² + 2 y²) + 2 p2 x y)

k1 bends radially; p1 and p2 are the tangential terms of a lens that is not quite square to its sensor; u0
and v0 move the principal point away from the middle of the picture.

The court's frame (right, to the back, up) is left-handed, so `A` is orthogonal with determinant -1.
The twelve unknowns are a small turn of the camera's axes, C, log f, k1, u0 and v0 in shares of the longer
side of the picture, p1 and p2, in this order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
UNKNOWNS = 12
SKEW_TURNS = 8  # each leaves about a hundredth of the error of the one before
NEAREST_M = 0.05  # a point nearer than this in front of the lens is not seen


@dataclass(frozen=True)
class CameraModel:
    """A camera without its doubts: the numbers that project."""

    width: int
    height: int
    axes: Floats  # (3, 3): rows are the camera's right, down and forward in the court frame
    place_m: Floats  # (3,)
    focal_px: float
    k1: float
    off_middle: tuple[float, float] = (0.0, 0.0)  # u0, v0 as shares of the longer side
    tangential: tuple[float, float] = (0.0, 0.0)  # p1, p2

    @property
    def long_px(self) -> int:
        """The longer side of the picture."""
        return max(self.width, self.height)

    @property
    def middle(self) -> Floats:
        """The principal point, near the middle of the picture."""
        off = self.long_px * np.array(self.off_middle, dtype=float)
        return np.asarray(np.array([self.width / 2.0, self.height / 2.0]) + off)

    def project(self, points: Floats) -> tuple[Floats, Bools]:
        """Return picture points of court points, and whether the lens can show them at all.

        Parameters
        ----------
        points : ndarray, shape (n, 3)
            Court points, m.

        Returns
        -------
        uv : ndarray, shape (n, 2)
            NaN where the lens cannot show the point.
        seen : ndarray of bool, shape (n,)
            In front of the camera and where the lens model is one to one; it may still lie outside the
            picture, see `inside`.
        """
        eye = (np.asarray(points, dtype=float) - self.place_m) @ self.axes.T
        depth = eye[:, 2]
        ahead = depth > NEAREST_M
        flat = eye[:, :2] / np.where(ahead, depth, 1.0)[:, None]
        square = (flat**2).sum(axis=1)
        seen = ahead & one_to_one(square, self.k1)
        bent = (1.0 + self.k1 * square)[:, None] * flat + skewed(flat, self.tangential)
        uv = self.middle + self.focal_px * bent
        uv[~seen] = np.nan
        return uv, seen

    def inside(self, uv: Floats) -> Bools:
        """Return whether picture points lie in the picture; NaN does not."""
        return np.asarray(
            (uv[:, 0] >= 0.0) & (uv[:, 0] <= self.width) & (uv[:, 1] >= 0.0) & (uv[:, 1] <= self.height)
        )

    def rays(self, uv: Floats) -> Floats:
        """Return the directions in the court frame in which picture points lie; NaN beyond what the lens can
        show.

        Parameters
        ----------
        uv : ndarray, shape (n, 2)

        Returns
        -------
        ndarray, shape (n, 3)
            Not of unit length: the step forward is 1.
        """
        bent = (np.asarray(uv, dtype=float) - self.middle) / self.focal_px
        flat = undistorted(bent, self.k1)
        if any(self.tangential):
            for _ in range(SKEW_TURNS):
                flat = undistorted(bent - skewed(flat, self.tangential), self.k1)
        return np.asarray(np.column_stack([flat, np.ones(len(flat))]) @ self.axes)

    def slopes(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the projection with its derivatives, for solving and for propagating errors.

        Returns
        -------
        uv : ndarray, shape (n, 2)
        by_unknowns : ndarray, shape (n, 2, 12)
            Pixels per unit of each unknown.
        by_point : ndarray, shape (n, 2, 3)
            Pixels per metre of the court point.
        """
        eye = (np.asarray(points, dtype=float) - self.place_m) @ self.axes.T
        depth = np.where(np.abs(eye[:, 2]) < 1e-9, 1e-9, eye[:, 2])
        x, y = eye[:, 0] / depth, eye[:, 1] / depth
        square = x * x + y * y
        bend = 1.0 + self.k1 * square
        f, k, (p, q) = self.focal_px, self.k1, self.tangential
        flat, n = np.column_stack([x, y]), len(x)
        uv = self.middle + f * (bend[:, None] * flat + skewed(flat, self.tangential))
        by_flat = np.empty((n, 2, 2))
        by_flat[:, 0, 0] = bend + 2.0 * k * x * x + 2.0 * p * y + 6.0 * q * x
        by_flat[:, 0, 1] = by_flat[:, 1, 0] = 2.0 * (k * x * y + p * x + q * y)
        by_flat[:, 1, 1] = bend + 2.0 * k * y * y + 6.0 * p * y + 2.0 * q * x
        by_flat *= f
        flat_by_eye, nearer = np.zeros((n, 2, 3)), 1.0 / depth
        flat_by_eye[:, 0, 0] = flat_by_eye[:, 1, 1] = nearer
        flat_by_eye[:, :, 2] = -flat * nearer[:, None]
        by_eye = by_flat @ flat_by_eye
        # A turn by a small vector w moves the point in the camera's frame by w × eye.
        turn = np.zeros((n, 3, 3))
        turn[:, 0, 1], turn[:, 0, 2], turn[:, 1, 2] = eye[:, 2], -eye[:, 1], eye[:, 0]
        turn[:, 1, 0], turn[:, 2, 0], turn[:, 2, 1] = -eye[:, 2], eye[:, 1], -eye[:, 0]
        by_point = by_eye @ self.axes
        by_unknowns = np.zeros((n, 2, 12))
        by_unknowns[:, :, :3] = by_eye @ turn
        by_unknowns[:, :, 3:6] = -by_point
        by_unknowns[:, :, 6] = uv - self.middle  # by the logarithm of the focal length
        by_unknowns[:, :, 7] = f * square[:, None] * flat
        by_unknowns[:, 0, 8] = by_unknowns[:, 1, 9] = self.long_px
        by_unknowns[:, :, 10] = f * skewed(flat, (1.0, 0.0))
        by_unknowns[:, :, 11] = f * skewed(flat, (0.0, 1.0))
        return uv, by_unknowns, by_point

    def moved(self, step: Floats) -> CameraModel:
        """Return the lens after a small step of the twelve unknowns."""
        return CameraModel(
            self.width,
            self.height,
            rotated(step[:3]) @ self.axes,
            self.place_m + step[3:6],
            float(self.focal_px * np.exp(step[6])),
            float(self.k1 + step[7]),
            (float(self.off_middle[0] + step[8]), float(self.off_middle[1] + step[9])),
            (float(self.tangential[0] + step[10]), float(self.tangential[1] + step[11])),
        )


def rotated(by: Floats) -> Floats:
    """Return the rotation by a vector: its length is the angle, rad (Rodrigues' formula)."""
    angle = float(np.linalg.norm(by))
    cross = np.array([[0.0, -by[2], by[1]], [by[2], 0.0, -by[0]], [-by[1], by[0], 0.0]])
    if angle < 1e-8:
        return np.asarray(np.eye(3) + cross + 0.5 * cross @ cross, dtype=float)
    return np.asarray(
        np.eye(3) + np.sin(angle) / angle * cross + (1.0 - np.cos(angle)) / angle**2 * cross @ cross
    )


def skewed(flat: Floats, tangential: tuple[float, float]) -> Floats:
    """Return what the tangential terms add to straight coordinates, shape (n, 2)."""
    (p, q), x, y = tangential, flat[:, 0], flat[:, 1]
    out = np.empty((len(x), 2))
    out[:, 0] = 2.0 * p * x * y + q * (3.0 * x * x + y * y)
    out[:, 1] = p * (x * x + 3.0 * y * y) + 2.0 * q * x * y
    return out


def one_to_one(square: Floats, k1: float) -> Bools:
    """Return whether the lens still spreads points apart at this squared distance from its axis.

    With a negative k1 the picture folds back where 1 + 3 k1 r² reaches zero; nothing is seen beyond.
    """
    return np.asarray(1.0 + 3.0 * k1 * square > 0.02)


def undistorted(bent: Floats, k1: float) -> Floats:
    """Undo the lens: from bent to straight coordinates, shape (n, 2); NaN beyond the lens's reach."""
    reach = np.hypot(bent[:, 0], bent[:, 1])
    furthest = math.sqrt(0.98 / (-3.0 * k1)) if k1 < 0.0 else math.inf
    straight = np.minimum(reach, furthest)
    for _ in range(40):  # Newton on r (1 + k1 r²) = reach
        slope = np.maximum(1.0 + 3.0 * k1 * straight**2, 0.02)
        ahead = straight - (straight * (1.0 + k1 * straight**2) - reach) / slope
        ahead = np.clip(ahead, 0.0, furthest)
        settled = np.abs(ahead - straight) < 1e-13
        straight = ahead
        if settled.all():
            break
    good = one_to_one(straight**2, k1) & (np.abs(straight * (1.0 + k1 * straight**2) - reach) < 1e-9)
    scale = np.where(reach > 0.0, straight / np.where(reach > 0.0, reach, 1.0), 1.0)
    scale = np.where(good & np.isfinite(scale), scale, np.nan)
    return np.asarray(bent * scale[:, None])
