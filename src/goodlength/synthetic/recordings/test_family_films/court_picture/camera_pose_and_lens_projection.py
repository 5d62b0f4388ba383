"""A phone's camera: pose, lens with radial distortion, and the compiled ways from points to pixels and back.

The court's frame is left-handed (x right, y towards the viewer, z up), so the camera's axes are built
without a cross product that assumes a hand. Distortion is r_d = r (1 + k1 r^2 + k2 r^4) on the normalized
picture, as in source: BROWN-1971 without its decentring; the lens is drawn so that r_d grows with r.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float, float]
NEAR_M = 0.05


@dataclass(frozen=True)
class FilmCamera:
    """One pose and lens: place in metres, angles in radians, sizes and focal length in pixels.

    `yaw_rad` 0 looks at the front wall and grows to the right, `pitch_rad` grows upwards, `roll_rad` turns
    the phone clockwise as its holder sees it.
    """

    place_m: Point
    yaw_rad: float
    pitch_rad: float
    roll_rad: float
    width: int
    height: int
    focal_px: float
    k1: float = 0.0
    k2: float = 0.0

    @cached_property
    def axes(self) -> Floats:
        """Unit vectors to the picture's right, down and forward, shape (3, 3)."""
        forward = np.array(
            [
                math.sin(self.yaw_rad) * math.cos(self.pitch_rad),
                -math.cos(self.yaw_rad) * math.cos(self.pitch_rad),
                math.sin(self.pitch_rad),
            ]
        )
        level = np.array([math.cos(self.yaw_rad), math.sin(self.yaw_rad), 0.0])
        down = np.array(
            [
                math.sin(self.yaw_rad) * math.sin(self.pitch_rad),
                -math.cos(self.yaw_rad) * math.sin(self.pitch_rad),
                -math.cos(self.pitch_rad),
            ]
        )
        c, s = math.cos(self.roll_rad), math.sin(self.roll_rad)
        return np.stack([c * level + s * down, c * down - s * level, forward])

    @cached_property
    def packed(self) -> Floats:
        """The camera as the compiled functions take it, shape (17,)."""
        lens = [self.focal_px, 0.5 * (self.width - 1), 0.5 * (self.height - 1), self.k1, self.k2]
        return np.concatenate([self.place_m, self.axes.ravel(), lens])

    def project(self, points: Floats) -> Floats:
        """Return pixels and depth, shape (n, 3), of points of shape (n, 3); NaN behind the camera."""
        return project_points(self.packed, np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3))

    def moved(self, yaw_rad: float, pitch_rad: float, roll_rad: float, shift_m: Point) -> FilmCamera:
        """Return the camera after a knock: angles added, place shifted."""
        x, y, z = (a + b for a, b in zip(self.place_m, shift_m, strict=True))
        return replace(
            self,
            place_m=(x, y, z),
            yaw_rad=self.yaw_rad + yaw_rad,
            pitch_rad=self.pitch_rad + pitch_rad,
            roll_rad=self.roll_rad + roll_rad,
        )


def focal_for(view_rad: float, across_px: int, k1: float, k2: float) -> float:
    """Return the focal length in pixels at which the picture's longer side spans an angle."""
    edge = math.tan(0.5 * view_rad)
    return 0.5 * across_px / (edge * (1.0 + k1 * edge**2 + k2 * edge**4))


@njit(cache=True, error_model="numpy")
def widest_square(k1: float, k2: float) -> float:  # pragma: no cover - compiled
    """Return the square of the radius from which on the lens's polynomial would fold the picture back."""
    inside = 9.0 * k1 * k1 - 20.0 * k2
    if k1 >= 0.0 and k2 >= 0.0:
        return math.inf
    if k2 == 0.0:
        return -1.0 / (3.0 * k1)
    if inside < 0.0:
        return math.inf
    first, second = (
        (-3.0 * k1 - math.sqrt(inside)) / (10.0 * k2),
        (-3.0 * k1 + math.sqrt(inside)) / (10.0 * k2),
    )
    if first > 0.0:
        return first
    return second if second > 0.0 else math.inf


@njit(cache=True, error_model="numpy")
def project_point(c: Floats, x: float, y: float, z: float) -> Point:  # pragma: no cover - compiled
    """Return u, v and depth; NaN where the point is behind the camera or beyond what the lens shows."""
    dx, dy, dz = x - c[0], y - c[1], z - c[2]
    depth = dx * c[9] + dy * c[10] + dz * c[11]
    if depth < NEAR_M:
        return math.nan, math.nan, depth
    a = (dx * c[3] + dy * c[4] + dz * c[5]) / depth
    b = (dx * c[6] + dy * c[7] + dz * c[8]) / depth
    r2 = a * a + b * b
    if r2 > widest_square(c[15], c[16]):
        return math.nan, math.nan, depth
    stretch = 1.0 + c[15] * r2 + c[16] * r2 * r2
    return c[13] + c[12] * a * stretch, c[14] + c[12] * b * stretch, depth


@njit(cache=True, error_model="numpy")
def project_points(c: Floats, points: Floats) -> Floats:  # pragma: no cover - compiled
    """Return u, v and depth of each point."""
    out = np.empty((points.shape[0], 3))
    for i in range(points.shape[0]):
        out[i, 0], out[i, 1], out[i, 2] = project_point(c, points[i, 0], points[i, 1], points[i, 2])
    return out


@njit(cache=True, error_model="numpy")
def pixel_ray(c: Floats, u: float, v: float) -> Point:  # pragma: no cover - compiled
    """Return the unit direction in the court's frame of a pixel (Newton's method on the distortion)."""
    a, b = (u - c[13]) / c[12], (v - c[14]) / c[12]
    distorted = math.sqrt(a * a + b * b)
    r = distorted
    for _ in range(8):
        r2 = r * r
        error = r * (1.0 + c[15] * r2 + c[16] * r2 * r2) - distorted
        r -= error / (1.0 + 3.0 * c[15] * r2 + 5.0 * c[16] * r2 * r2)
    scale = r / distorted if distorted > 1e-9 else 1.0
    a, b = a * scale, b * scale
    x = c[9] + a * c[3] + b * c[6]
    y = c[10] + a * c[4] + b * c[7]
    z = c[11] + a * c[5] + b * c[8]
    n = 1.0 / math.sqrt(x * x + y * y + z * z)
    return x * n, y * n, z * n
