"""A court drawn plane by plane for a known camera, so that a detector can be held against it."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, LINE_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection.camera_hypothesis_search import camera_model
from goodlength.footage.court_detection.court_wireframe import wireframe

Bytes = NDArray[np.uint8]
CAMERA_ROW = np.array([0.04, 0.24, 0.006, 2.9, 12.4, 2.3, np.log(0.62), 0.05])
FLOOR, FRONT, SIDE, TIN, LINE = (176, 140, 100), (214, 214, 208), (196, 198, 200), (70, 60, 90), (170, 30, 40)
_FINE = 16


def camera_of(width: int = 640, height: int = 360) -> CameraModel:
    """Return the camera the court is drawn for."""
    return camera_model(CAMERA_ROW, width, height)


def draw_court(camera: CameraModel, line: tuple[int, int, int] = LINE) -> Bytes:
    """Return the picture of an empty court, shape (h, w, 3), red, green, blue."""
    picture = np.full((camera.height, camera.width, 3), 60, np.uint8)
    w, long = WIDTH_M, LENGTH_M
    for x in (0.0, w):
        _fill(picture, camera, [(x, 0, 0), (x, long, 0), (x, long, 5.6), (x, 0, 5.6)], SIDE)
    _fill(picture, camera, [(0, 0, 0), (w, 0, 0), (w, 0, 5.6), (0, 0, 5.6)], FRONT)
    _fill(picture, camera, [(0, 0, 0), (w, 0, 0), (w, long, 0), (0, long, 0)], FLOOR)
    _fill(picture, camera, [(0, 0, 0), (w, 0, 0), (w, 0, 0.48), (0, 0, 0.48)], TIN)
    for stripe in wireframe():
        if stripe.across is not None:
            half = stripe.across * LINE_M / 2
            ends = [stripe.start_m - half, stripe.end_m - half, stripe.end_m + half, stripe.start_m + half]
            _fill(picture, camera, [tuple(end) for end in ends], line)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.7))


def draw_spotted_court(camera: CameraModel) -> Bytes:
    """Return a court with dark spots on floor and front wall, so that fixed points are found on it."""
    picture = draw_court(camera)
    rng = np.random.default_rng(3)
    spots = np.zeros((100, 3))
    spots[:60, :2] = rng.uniform((0.3, 0.3), (6.1, 9.4), (60, 2))
    spots[60:, [0, 2]] = rng.uniform((0.2, 0.6), (6.2, 4.4), (40, 2))
    uv, seen = camera.project(spots)
    for u, v in uv[seen & camera.inside(uv)].tolist():
        at = round((u - 0.5) * _FINE), round((v - 0.5) * _FINE)
        cv2.circle(picture, at, 28, (60, 50, 40), -1, cv2.LINE_AA, 4)
    return picture


def _fill(
    picture: Bytes,
    camera: CameraModel,
    corners: list[tuple[float, ...]],
    colour: tuple[int, int, int],
) -> None:
    ends = np.array(corners, dtype=float)
    steps = np.linspace(0, 1, 120)[:, None]
    points = np.vstack([a + (b - a) * steps for a, b in zip(ends, np.roll(ends, -1, axis=0), strict=True)])
    uv, seen = camera.project(points)
    # The middle of the first pixel is (0.5, 0.5) for a camera, (0, 0) for the drawing.
    at = np.round((uv[seen] - 0.5) * _FINE).clip(-200_000, 200_000).astype(np.int32)
    cv2.fillPoly(picture, [at], colour, cv2.LINE_AA, 4)


def noisy_frames(picture: Bytes, rng: np.random.Generator, count: int = 5) -> list[Bytes]:
    """Return frames of a picture with a sensor's noise and a dark figure that walks across."""
    frames = []
    for k in range(count):
        frame = picture + rng.normal(0, 4, picture.shape)
        left = int((k + 0.5) / count * picture.shape[1] * 0.8)
        frame[picture.shape[0] // 2 : -40, left : left + 30] = 30
        frames.append(frame.clip(0, 255).astype(np.uint8))
    return frames


def write_court_video(
    path: Path, picture: Bytes, frames: int = 20, rate: int = 10, knocked: Bytes | None = None
) -> Path:
    """Write a short video in which a dark figure walks across a picture; half-way the camera may be knocked,
    so that it shows another.
    """
    height, width = picture.shape[:2]
    rng = np.random.default_rng(8)
    shown = noisy_frames(picture, rng, frames)
    if knocked is not None:
        shown[frames // 2 :] = noisy_frames(knocked, rng, frames)[frames // 2 :]
    with av.open(str(path), "w") as file:
        stream = cast("av.VideoStream", file.add_stream("libx264", rate=rate, options={"crf": "20"}))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        for frame in shown:
            file.mux(stream.encode(av.VideoFrame.from_ndarray(frame, "rgb24")))
        file.mux(stream.encode())
    return path
