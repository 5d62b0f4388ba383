"""Phone camera with radial distortion: projection, its inverse, and maps for warping pictures."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import OutOfRange

Points = NDArray[np.float64]
NEAR_M = 0.15
MOST_CORNER_LOSS = 0.15


@dataclass(frozen=True)
class PhoneCamera:
    """Pin-hole with one radial term: u = f q (1 + k q^2) + middle.

    `rotation` has the rows right, down, forward in the court frame (x right, y away from the front wall,
    z up: a left-handed frame, so that a view to the front wall has x to the right).
    """

    rotation: Points
    place_m: Points
    focal_px: float
    radial: float
    size: tuple[int, int]

    @property
    def most_radius2(self) -> float:
        """Greatest squared radius q^2 that is used; beyond it points are pushed no further out."""
        return 0.95 / (-3 * self.radial) if self.radial < 0 else 1e6

    def project(self, places_m: Points) -> tuple[Points, Points]:
        """Return pixels of shape (..., 2) and distances along the view of shape (...,)."""
        local = (places_m - self.place_m) @ self.rotation.T
        depth = local[..., 2]
        flat = local[..., :2] / np.maximum(depth, NEAR_M)[..., None]
        squared = np.minimum((flat**2).sum(-1, keepdims=True), self.most_radius2)
        middle = np.array(self.size) / 2
        return self.focal_px * flat * (1 + self.radial * squared) + middle, depth

    def inside(self, pixels: Points, depth: Points) -> NDArray[np.bool_]:
        """Return whether points lie in front of the camera and in the picture."""
        return (depth > NEAR_M) & ((pixels >= 0) & (pixels < np.array(self.size))).all(-1)

    def flat_directions(self, pixels: Points) -> Points:
        """Return q of the pin-hole without distortion for pixels of shape (..., 2)."""
        bent = (pixels - np.array(self.size) / 2) / self.focal_px
        radius = np.sqrt((bent**2).sum(-1, keepdims=True))
        straight = radius.copy()
        for _ in range(8):
            straight = np.minimum(straight, self.most_radius2**0.5)
            slope = np.maximum(1 + 3 * self.radial * straight**2, 0.05)
            straight = straight - (straight * (1 + self.radial * straight**2) - radius) / slope
        out: Points = bent * np.where(radius > 1e-9, straight / np.maximum(radius, 1e-9), 1.0)
        return out

    def turned(self, across_rad: float, down_rad: float, roll_rad: float) -> PhoneCamera:
        """Return the camera knocked by small angles."""
        turn = small_rotation(down_rad, across_rad, roll_rad)
        return replace(self, rotation=turn @ self.rotation)


def small_rotation(about_x: float, about_y: float, about_z: float) -> Points:
    """Return a rotation matrix from three angles in radians."""
    cx, sx, cy, sy = math.cos(about_x), math.sin(about_x), math.cos(about_y), math.sin(about_y)
    cz, sz = math.cos(about_z), math.sin(about_z)
    turn: Points = (
        np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1.0]])
        @ np.array([[cy, 0, sy], [0, 1.0, 0], [-sy, 0, cy]])
        @ np.array([[1.0, 0, 0], [0, cx, -sx], [0, sx, cx]])
    )
    return turn


def camera_towards(
    place_m: Points, target_m: Points, field_deg: float, corner_loss: float, size: tuple[int, int]
) -> PhoneCamera:
    """Return a level camera that looks from a place to a target.

    Parameters
    ----------
    place_m, target_m : ndarray, shape (3,)
    field_deg : float
        Field of view over the picture's longer side, degrees.
    corner_loss : float
        By how much the lens shrinks the picture at the ends of the longer side, 0 (none) to 0.15: with
        more, one radial term folds the corners of a 16 by 9 picture over.
    size : tuple of int
        Width and height in pixels.
    """
    if not 0 <= corner_loss <= MOST_CORNER_LOSS:
        raise OutOfRange(
            f"The lens cannot shrink the ends of the picture by {corner_loss:g}. "
            f"Give 0 to {MOST_CORNER_LOSS}."
        )
    forward = target_m - place_m
    forward = forward / np.linalg.norm(forward)
    right = np.array([-forward[1], forward[0], 0.0])
    right = right / np.linalg.norm(right)
    down = np.cross(right, forward)
    down = down if down[2] < 0 else -down
    edge = math.tan(math.radians(field_deg) / 2)
    radial = -corner_loss / edge**2
    focal = max(size) / 2 / (edge * (1 - corner_loss))
    return PhoneCamera(np.array([right, down, forward]), np.asarray(place_m, float), focal, radial, size)
