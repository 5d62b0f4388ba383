"""Court geometry of the demo video, and the camera that films it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court import SINGLES
from goodlength.court.dimensions import WIDTH_M

Point = tuple[float, float, float]
Floats = NDArray[np.float64]

HALF_M = WIDTH_M / 2
RADIUS_M = 0.020
TIN_TOP_M = SINGLES.tin.value_m
CEILING_M = SINGLES.clear_height.value_m


@dataclass(frozen=True)
class PinholeCamera:
    """A pinhole without distortion: principal point in the middle of the picture.

    `tilt_rad` is how far it looks down from level; it looks straight at the front wall, without roll.
    """

    x_m: float = 3.25
    y_m: float = 13.60
    z_m: float = 2.90
    tilt_rad: float = math.radians(12.6)
    focal_px: float = 450.0
    width: int = 640
    height: int = 360

    @property
    def rotation(self) -> Floats:
        """Rows: the camera's right, down and forward in the court frame."""
        c, s = math.cos(self.tilt_rad), math.sin(self.tilt_rad)
        return np.array([[1.0, 0.0, 0.0], [0.0, s, -c], [0.0, -c, -s]])

    @property
    def matrix(self) -> Floats:
        """The 3 by 4 matrix: court point (x, y, z, 1) to picture point (u, v, 1) times depth."""
        k = np.array(
            [[self.focal_px, 0.0, self.width / 2], [0.0, self.focal_px, self.height / 2], [0.0, 0.0, 1.0]]
        )
        r = self.rotation
        t = -r @ np.array([self.x_m, self.y_m, self.z_m])
        return np.asarray(k @ np.hstack([r, t[:, None]]))

    def see(self, x: float, y: float, z: float) -> tuple[float, float, float]:
        """Return picture point (u, v) in pixels and the depth in metres.

        Examples
        --------
        >>> u, v, depth = PinholeCamera().see(3.25, 0.0, 0.0)
        >>> round(u, 1), round(depth, 2)
        (320.0, 13.91)
        """
        c, s = math.cos(self.tilt_rad), math.sin(self.tilt_rad)
        dx, dy, dz = x - self.x_m, y - self.y_m, z - self.z_m
        depth = -c * dy - s * dz
        down = s * dy - c * dz
        f = self.focal_px / depth
        return self.width / 2 + f * dx, self.height / 2 + f * down, depth

    def distance_m(self, at: Point) -> float:
        """Return how far a point of the court is from the camera, metres."""
        return math.dist(at, (self.x_m, self.y_m, self.z_m))


CAMERA = PinholeCamera()
