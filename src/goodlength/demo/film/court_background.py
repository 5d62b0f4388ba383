"""Render the empty court by tracing the ray of every pixel to the wall or floor it meets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import (
    BACK_OUT_M,
    BOX_M,
    BOX_REAR_M,
    FRONT_OUT_M,
    HALF_COURT_LEFT_M,
    LENGTH_M,
    LINE_M,
    SERVICE_LINE_M,
    SHORT_LINE_FRONT_M,
    SHORT_LINE_REAR_M,
    SIDE_LINE_TALL_M,
    WIDTH_M,
)
from goodlength.demo.play.court_camera import CEILING_M, HALF_M, TIN_TOP_M, Floats, PinholeCamera

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]
OVER = 3  # rays a pixel, each way

# blue, green, red
WALL = np.array([222.0, 229.0, 231.0])
FLOOR = np.array([124.0, 178.0, 208.0])
RED = np.array([42.0, 48.0, 180.0])
TIN = np.array([150.0, 146.0, 142.0])
DARK = np.array([70.0, 74.0, 76.0])


@cache
def empty_court(camera: PinholeCamera) -> Picture:
    """Return the court without players, blue-green-red, shape (height, width, 3).

    Examples
    --------
    >>> from goodlength.demo.play.court_camera import CAMERA
    >>> empty_court(CAMERA).shape
    (360, 640, 3)
    """
    rows = [_band(camera, top, min(top + 60, camera.height)) for top in range(0, camera.height, 60)]
    picture = np.concatenate(rows)
    picture.setflags(write=False)
    return picture


def _band(camera: PinholeCamera, top: int, bottom: int) -> Picture:
    """Some rows of the picture."""
    v, u = np.meshgrid(
        (np.arange((bottom - top) * OVER) + 0.5) / OVER + top,
        (np.arange(camera.width * OVER) + 0.5) / OVER,
        indexing="ij",
    )
    seen = np.stack(
        [(u - camera.width / 2) / camera.focal_px, (v - camera.height / 2) / camera.focal_px, np.ones_like(u)]
    )
    ray = np.einsum("ij,ihw->jhw", camera.rotation, seen)
    colour = _colour(camera, ray)
    shape = (bottom - top, OVER, camera.width, OVER, 3)
    return np.asarray(np.clip(colour.reshape(shape).mean(axis=(1, 3)), 0, 255), dtype=np.uint8)


def _colour(camera: PinholeCamera, ray: Floats) -> Floats:
    """Colour of each ray, shape (h, w, 3)."""
    eye = np.array([camera.x_m, camera.y_m, camera.z_m])
    with np.errstate(divide="ignore"):
        far = [
            np.where(ray[1] < 0, (0.0 - eye[1]) / ray[1], np.inf),
            np.where(ray[0] < 0, (0.0 - eye[0]) / ray[0], np.inf),
            np.where(ray[0] > 0, (WIDTH_M - eye[0]) / ray[0], np.inf),
            np.where(ray[2] < 0, (0.0 - eye[2]) / ray[2], np.inf),
            np.where(ray[2] > 0, (CEILING_M - eye[2]) / ray[2], np.inf),
        ]
    which = np.argmin(np.stack(far), axis=0)
    distance = np.min(np.stack(far), axis=0)
    x, y, z = (eye[k] + distance * ray[k] for k in range(3))
    out = np.empty((*which.shape, 3))
    for surface, paint in enumerate((_front, _side, _side, _floor, _ceiling)):
        here = which == surface
        out[here] = paint(x[here], y[here], z[here])
    out[y > LENGTH_M] = DARK  # in front of the back wall the camera's own side is dark
    return out


def _between(value: Floats, low: float) -> Mask:
    return (value >= low) & (value < low + LINE_M)


def _front(x: Floats, _y: Floats, z: Floats) -> Floats:
    light = 0.95 + 0.05 * np.cos((x - HALF_M) / 2.2) + 0.02 * np.sin(z)
    out = WALL * light[:, None]
    out[z < TIN_TOP_M] = TIN
    out[_between(z, TIN_TOP_M - LINE_M) | _between(z, SERVICE_LINE_M) | _between(z, FRONT_OUT_M)] = RED
    out[z > FRONT_OUT_M + LINE_M] *= 0.90
    return out


def _side(x: Floats, y: Floats, z: Floats) -> Floats:
    light = 0.84 + 0.10 * (1 - y / LENGTH_M) + 0.02 * np.cos(z)
    out = WALL * np.where(x < HALF_M, light, light * 0.985)[:, None]
    line = FRONT_OUT_M + (BACK_OUT_M - FRONT_OUT_M) * y / LENGTH_M
    up = SIDE_LINE_TALL_M
    out[(z >= line) & (z < line + up)] = RED
    out[z > line + up] *= 0.93
    corner = np.exp(-(y**2) / 0.02) * 0.10 + np.exp(-(z**2) / 0.02) * 0.10
    return np.asarray(out * (1 - corner)[:, None])


def _floor(x: Floats, y: Floats, _z: Floats) -> Floats:
    board = np.floor(x / 0.085)
    tone = (
        1.0
        + 0.025 * np.sin(board * 12.9898)
        + 0.012 * np.sin(board * 4.1 + np.floor(y / 1.7 + board * 0.37) * 3.3)
    )
    seam = np.where(np.abs(x / 0.085 - board - 0.5) > 0.46, 0.955, 1.0)
    shine = 1.0 + 0.16 * np.exp(-((x - HALF_M) ** 2) / 3.0) * np.exp(-y / 2.2)
    wall = 1.0 - 0.12 * np.exp(-np.minimum(np.minimum(x, WIDTH_M - x), y) / 0.08)
    out = FLOOR * (tone * seam * shine * wall * (1.03 - 0.012 * y))[:, None]
    behind = y >= SHORT_LINE_REAR_M
    box = behind & (y < BOX_REAR_M + LINE_M)
    lines = _between(y, SHORT_LINE_FRONT_M) | (behind & _between(x, HALF_COURT_LEFT_M))
    lines |= box & (_between(x, BOX_M) | _between(x, WIDTH_M - BOX_M - LINE_M))
    inside = (x < BOX_M + LINE_M) | (x >= WIDTH_M - BOX_M - LINE_M)
    lines |= inside & _between(y, BOX_REAR_M)
    out[lines] = RED
    return out


def _ceiling(x: Floats, y: Floats, _z: Floats) -> Floats:
    lamp = (np.abs(np.mod(y, 3.0) - 1.5) < 0.12) & (np.abs(x - HALF_M) < 1.6)
    return np.where(lamp[:, None], np.array([250.0, 252.0, 252.0]), DARK * 1.6)


@dataclass(frozen=True)
class Glass:
    """The pixels in which the back wall's edge and seams are seen, and how much of each they take."""

    at: NDArray[np.intp]  # places in the picture laid out as one row of pixels
    share: NDArray[np.float32]  # (n, 1)

    def over(self, picture: Picture) -> None:
        """Lay the glass over a finished picture."""
        row = picture.reshape(-1, 3)
        here = row[self.at].astype(np.float32)
        row[self.at] = here + (245 - here) * self.share


def back_wall_glass(camera: PinholeCamera) -> Glass:
    """Return the top edge and the two seams of the glass back wall between camera and court."""
    v, u = np.meshgrid(np.arange(camera.height) + 0.5, np.arange(camera.width) + 0.5, indexing="ij")
    seen = np.stack(
        [(u - camera.width / 2) / camera.focal_px, (v - camera.height / 2) / camera.focal_px, np.ones_like(u)]
    )
    ray = np.einsum("ij,ihw->jhw", camera.rotation, seen)
    t = (LENGTH_M - camera.y_m) / ray[1]
    x, z = camera.x_m + t * ray[0], camera.z_m + t * ray[2]
    share = np.zeros_like(u)
    inside = (x > 0) & (x < WIDTH_M) & (z < BACK_OUT_M + LINE_M)
    for seam in (WIDTH_M / 3, 2 * WIDTH_M / 3):
        share = np.maximum(share, 0.35 * np.clip(1.5 - np.abs(x - seam) / 0.006, 0, 1) * inside)
    edge = np.abs(z - BACK_OUT_M - LINE_M)
    share = np.maximum(share, 0.30 * np.clip(1.4 - edge / 0.006, 0, 1) * ((x > 0) & (x < WIDTH_M)))
    at = np.flatnonzero(share > 0.01)
    return Glass(at, share.reshape(-1)[at][:, None].astype(np.float32))
