"""Layers that moving things are drawn into, meshes ready to be drawn, and a plate turned after a knock."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
    pixel_ray,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.empty_court_rendering import CourtPlate

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
Ints = NDArray[np.int32]
FAR = np.float32(1e9)


@dataclass
class MovingLayer:
    """One layer of moving things: a moment's depth and colour, and the sum over moments."""

    depth: Picture
    colour: Picture
    total: Picture
    box: NDArray[np.int64]
    dirty: NDArray[np.int64]

    @classmethod
    def empty(cls, high: int, wide: int) -> MovingLayer:
        """Return a layer with nothing in it."""
        nothing = np.array([wide, high, -1, -1])
        return cls(
            depth=np.full((high, wide), FAR, np.float32),
            colour=np.zeros((high, wide, 3), np.float32),
            total=np.zeros((high, wide, 4), np.float32),
            box=nothing.copy(),
            dirty=nothing.copy(),
        )

    def touched(self) -> NDArray[np.int64]:
        """Return low u, v and high u, v of everything drawn in this frame."""
        low, high = np.minimum(self.dirty[:2], self.box[:2]), np.maximum(self.dirty[2:], self.box[2:])
        return np.concatenate([low, high])

    def begin_moment(self) -> None:
        """Forget the last moment's depths."""
        b = self.box
        if b[2] >= b[0]:
            self.depth[b[1] : b[3] + 1, b[0] : b[2] + 1] = FAR
        self.dirty[:2] = np.minimum(self.dirty[:2], b[:2])
        self.dirty[2:] = np.maximum(self.dirty[2:], b[2:])
        self.box[:] = (self.depth.shape[1], self.depth.shape[0], -1, -1)

    def clear(self) -> None:
        """Forget the last frame."""
        self.begin_moment()
        d = self.dirty
        if d[2] >= d[0]:
            self.total[d[1] : d[3] + 1, d[0] : d[2] + 1] = 0.0
        self.dirty[:] = (self.depth.shape[1], self.depth.shape[0], -1, -1)


@dataclass(frozen=True)
class PosedMesh:
    """One mesh ready to be drawn: places and pixels at three moments, light and normals at the middle one."""

    person: int
    triangles: Ints
    points: list[Floats]
    pixels: list[Picture]
    light: Floats
    rest: Floats
    labels: Floats
    appearance: Floats
    normals: Floats


def seen_points(pixels: Floats, depth: Picture, before: Picture, thick_m: float) -> NDArray[np.bool_]:
    """Return which points (u, v, depth) are seen: in the picture, with nothing nearer by over `thick_m`.

    `depth` is a layer's last moment, `before` what stands before the court.
    """
    high, wide = depth.shape
    u, v = np.nan_to_num(pixels[:, 0], nan=-9.0), np.nan_to_num(pixels[:, 1], nan=-9.0)
    inside = (u > -0.5) & (v > -0.5) & (u < wide - 0.5) & (v < high - 0.5)
    i = np.clip(np.round(np.clip(v, -9, high)).astype(int), 0, high - 1)
    j = np.clip(np.round(np.clip(u, -9, wide)).astype(int), 0, wide - 1)
    free = (depth[i, j] > pixels[:, 2] - thick_m) & (before[i, j] > pixels[:, 2] - 0.05)
    return np.asarray(inside & free)


def turned_plate(plate: CourtPlate, camera: FilmCamera, turned: FilmCamera) -> CourtPlate:
    """Return a wider camera's plate as a camera at the same place, turned a little, sees it."""
    step = 16
    rows, columns = turned.height // step + 2, turned.width // step + 2
    rays = np.array(
        [
            pixel_ray(turned.packed, float(step * u), float(step * v))
            for v in range(rows)
            for u in range(columns)
        ]
    )
    pixels = camera.project(np.asarray(turned.place_m) + 10.0 * rays).astype(np.float32)
    shift = np.array([[1.0 / step, 0.0, 0.0], [0.0, 1.0 / step, 0.0]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    maps = [
        cv2.warpAffine(pixels[:, k].reshape(rows, columns), shift, (turned.width, turned.height), flags=how)
        for k in (0, 1)
    ]

    def moved(a: Picture, way: int = cv2.INTER_LINEAR) -> Picture:
        made = cv2.remap(a, maps[0], maps[1], way, borderMode=cv2.BORDER_REPLICATE)
        return np.ascontiguousarray(made, dtype=np.float32)

    near = cv2.INTER_NEAREST
    return CourtPlate(
        direct=moved(plate.direct),
        mirrored=moved(plate.mirrored),
        weight=moved(plate.weight),
        veil=moved(plate.veil),
        passing=moved(plate.passing),
        surface=moved(plate.surface.astype(np.float32), near).astype(np.int8),
        place=moved(plate.place, near),
        depth=moved(plate.depth, near),
    )
