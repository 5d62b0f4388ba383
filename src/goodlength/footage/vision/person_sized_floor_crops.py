"""Crops of a frame around places of the floor, each at the size a person there has.

A crop shows 2.7 m by 1.8 m at its place, upright as a person stands there, whatever the distance and the
lean of a wide lens: a whole person fills it, a mirror image or somebody behind glass does not fit in it.
Beside it stands the same part of the empty court.

```
      64 px
    ┌──────┐  2.25 m over the floor
    │  o   │
 96 │ /|\\  │
    │  |   │
    ├─/─\\──┤  the place, 0 m
    └──────┘  0.45 m below, where a shiny floor mirrors the feet
```
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]

CROP_WIDE, CROP_HIGH = 64, 96
UP_M, DOWN_M = 2.25, 0.45
PX_PER_M = CROP_HIGH / (UP_M + DOWN_M)
TALL_M = 1.7  # height over which the size at a place is taken
LEVELS = 4


@dataclass(frozen=True, eq=False)
class CropFrames:
    """Where crops lie in the small picture.

    `foot` (n, 2) px of the place, `right` and `up` (n, 2) px a metre to the right and up there; `facts`
    (n, 4) size in the picture, steepness of the view, and place on the court.
    """

    foot: Floats
    right: Floats
    up: Floats
    facts: Floats

    def to_crop_m(self, uv: Floats) -> Floats:
        """Return picture points (n, 2), one a crop, in metres to the right and up of its place."""
        return np.asarray(np.linalg.solve(self._axes(), (uv - self.foot)[..., None])[..., 0], dtype=float)

    def to_picture(self, metres: Floats) -> Floats:
        """Return points (n, 2) in metres to the right and up of each place in the picture, px."""
        return self.foot + (self._axes() @ metres[..., None])[..., 0]

    def _axes(self) -> Floats:
        return np.stack([self.right, self.up], axis=-1)


def crop_frames(lens: CameraModel, to_small: Floats, xy: Floats) -> tuple[CropFrames, NDArray[np.bool_]]:
    """Return where the crops of floor places lie, and which places the lens shows.

    Parameters
    ----------
    lens : CameraModel
    to_small : ndarray, shape (2,)
        Pixels of the small picture for each of the original's.
    xy : ndarray, shape (n, 2)
        Places of the floor, m.
    """
    ground = np.column_stack([xy, np.zeros(len(xy))])
    foot, seen = lens.project(ground)
    top, above = lens.project(ground + np.array([0.0, 0.0, TALL_M]))
    good = seen & above
    foot, top = foot * to_small, top * to_small
    up = (top - foot) / TALL_M
    size = np.linalg.norm(up, axis=1)
    good &= np.isfinite(size) & (size > 4.0)
    right = np.column_stack([-up[:, 1], up[:, 0]])
    away = lens.place_m - ground
    steep = away[:, 2] / np.linalg.norm(away, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        facts = np.column_stack(
            [np.log(size / 60.0), 2.0 * steep, xy[:, 1] / LENGTH_M - 0.5, xy[:, 0] / WIDTH_M - 0.5]
        )
    return CropFrames(foot[good], right[good], up[good], facts[good]), good


def pyramid(picture: Picture) -> list[Picture]:
    """Return a picture and its halves, for crops of people who fill it."""
    levels = [picture]
    for _ in range(LEVELS - 1):
        levels.append(np.asarray(cv2.pyrDown(levels[-1]), dtype=np.uint8))
    return levels


def crops(levels: list[Picture], frames: CropFrames) -> Picture:
    """Return the crops, shape (n, 96, 64, 3); what lies outside of the picture is grey."""
    found = np.empty((len(frames.foot), CROP_HIGH, CROP_WIDE, 3), np.uint8)
    for k, (foot, right, up) in enumerate(zip(frames.foot, frames.right, frames.up, strict=True)):
        size = float(np.hypot(*up))
        level = int(np.clip(np.floor(np.log2(max(size / PX_PER_M, 1.0)) + 0.3), 0, LEVELS - 1))
        across, down = right / PX_PER_M, -up / PX_PER_M
        corner = foot + up * UP_M - right * (CROP_WIDE / 2 / PX_PER_M)
        # Middles of pixels on middles of pixels, in the picture and in its halves
        matrix = np.column_stack([across, down, corner + 0.5 * (across + down)]) / 2.0**level
        matrix[:, 2] -= 0.5
        cv2.warpAffine(
            levels[level],
            matrix,
            (CROP_WIDE, CROP_HIGH),
            dst=found[k],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(114, 114, 114),
        )
    return found
