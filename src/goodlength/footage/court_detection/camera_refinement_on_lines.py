"""Refine cameras on the measured lines, and keep the one that explains most of the court."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import MIDDLE_M, SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.footage.camera.camera_fitting import expectations
from goodlength.footage.camera.camera_model import CameraModel, Floats
from goodlength.footage.court_detection.court_wireframe import WireframeLine
from goodlength.footage.court_detection.subpixel_line_measurement import MeasuredLine, measure_lines

Bytes = NDArray[np.uint8]
Singles = NDArray[np.float32]
Stage = tuple[int, float, float]  # longer side of the picture, reach and tolerance in its pixels
SMALL_PX, LARGE_PX = 640, 1280
FIRST: tuple[Stage, ...] = ((SMALL_PX, 10, 1.5), (SMALL_PX, 6, 1.2))
AGAIN: tuple[Stage, ...] = ((SMALL_PX, 8, 1.2), (SMALL_PX, 5, 1.0))
FINE: tuple[Stage, ...] = ((LARGE_PX, 6, 1.2), (LARGE_PX, 4, 1.0), (LARGE_PX, 3, 0.8))
WIDE: tuple[Stage, ...] = ((LARGE_PX, 9, 1.2), (LARGE_PX, 5, 1.0), (LARGE_PX, 3, 0.8))
STRIPE_PX, JOIN_PX = 0.5, 1.0  # standard error of a sample
ROBUST = 2.0  # in standard errors: further off weighs less
LEAST_SHARE, LEAST_CLEARNESS, FEWEST_LINES = 0.3, 1.3, 4
SUPPORT = 0.6  # a line found over less of its length than this speaks against a camera
WEAK_SHARE = 0.85
STARTS, SELECTED, SHAKEN, LEFT_OUT = 10, 3, 4, 8
SHAKES = np.array([0.008] * 3 + [0.15] * 3 + [0.02, 0.02, 0, 0, 0, 0])
_MARKS_M = np.array(
    [(x, 0, z) for x in (0, WIDTH_M) for z in (0, 1.8)]
    + [(x, SHORT_LINE_FRONT_M, 0) for x in (0, WIDTH_M)]
    + [(MIDDLE_M, 7.0, 0)]
)


@dataclass(frozen=True)
class CameraCandidate:
    """A camera with what was found of each line at its place.

    `support` adds up, over all lines in the picture, length in shares of the picture's longer side times how
    much more than `SUPPORT` of it was found.
    """

    camera: CameraModel
    lines: tuple[MeasuredLine, ...]
    support: float


def scaled_camera(camera: CameraModel, width: int, height: int) -> CameraModel:
    """Return the camera of the same view in a picture of another size."""
    scale = max(width, height) / camera.long_px
    return CameraModel(
        width, height, camera.axes, camera.place_m, camera.focal_px * scale, camera.k1, camera.off_middle,
        camera.tangential,
    )  # fmt: skip


def views_apart(camera: CameraModel, other: CameraModel) -> float:
    """Return how far apart two cameras of one picture see marks, at most, in shares of the longer side."""
    uv, seen = camera.project(_MARKS_M)
    uv_other, seen_other = other.project(_MARKS_M)
    both = seen & seen_other & camera.inside(uv)
    if both.sum() < 3:
        return math.inf
    return float(np.abs(uv[both] - uv_other[both]).max() / camera.long_px)


class CameraRefiner:
    """Refines cameras on one picture, red, green, blue."""

    def __init__(self, rng: np.random.Generator, picture: Bytes, lines: tuple[WireframeLine, ...]) -> None:
        self.rng, self.picture, self.lines = rng, picture, lines
        self.height, self.width = picture.shape[:2]
        self._sizes: dict[float, Singles] = {}

    def best(self, cameras: Sequence[CameraModel]) -> list[CameraCandidate]:
        """Return refined cameras that differ, the one that explains most first; empty where none fits."""
        found = self._judged((self._run(camera, FIRST, 12.0) for camera in cameras[:STARTS]), SMALL_PX)
        found = unlike(found, 0.004)[: SELECTED + 1]
        shaken = [
            self._run(near.camera.moved(self.rng.normal(0.0, SHAKES)), AGAIN, 12.0)
            for near in found[:2]
            for _ in range(SHAKEN)
        ]
        found = unlike(found + self._judged(shaken, SMALL_PX), 0.004)[:SELECTED]
        fine = unlike(self._judged((self._run(f.camera, FINE) for f in found), LARGE_PX), 0.002)
        if not fine:
            return []
        return unlike([self._with_lines_left_out(fine[0]), *fine], 0.002)

    def _with_lines_left_out(self, best: CameraCandidate) -> CameraCandidate:
        """Return the best of fits to some of the lines only: one line taken for another bends them all."""
        for turn in range(LEFT_OUT):
            left = self.rng.random(len(best.lines)) >= 0.35
            if turn % 2 == 0:
                left &= np.array([line.share >= WEAK_SHARE for line in best.lines])
            part = tuple(line for line, stays in zip(best.lines, left, strict=True) if stays)
            size = self._image(LARGE_PX).shape
            start = fit_to_lines(scaled_camera(best.camera, size[1], size[0]), part)
            if start is None:
                continue
            other = self._judged([self._run(scaled_camera(start, self.width, self.height), WIDE)], LARGE_PX)
            best = max([best, *other], key=lambda candidate: candidate.support)
        return best

    def _run(
        self, camera: CameraModel, stages: tuple[Stage, ...], apart_px: float = 8.0
    ) -> CameraModel | None:
        """Return the camera after measuring and fitting in turn; None where too little is found."""
        for long_px, reach_px, tolerance_px in stages:
            image = self._image(long_px)
            here = scaled_camera(camera, image.shape[1], image.shape[0])
            lines = measure_lines(self.rng, image, self.lines, here, reach_px, apart_px, tolerance_px)
            fitted = fit_to_lines(here, lines)
            if fitted is None:
                return None
            camera = scaled_camera(fitted, self.width, self.height)
        return camera

    def _judged(self, cameras: Iterable[CameraModel | None], long_px: int) -> list[CameraCandidate]:
        image = self._image(long_px)
        found = []
        for camera in cameras:
            if camera is None:
                continue
            here = scaled_camera(camera, image.shape[1], image.shape[0])
            lines = measure_lines(self.rng, image, self.lines, here, 3.0, 8.0, 0.8)
            support = sum((line.share - SUPPORT) * line.length_px for line in lines) / max(image.shape[:2])
            found.append(CameraCandidate(camera, lines, support))
        return found

    def _image(self, long_px: int) -> Singles:
        """Return the picture, no longer than so many pixels, a little smoothed."""
        scale = min(1.0, long_px / max(self.width, self.height))
        if scale not in self._sizes:
            size = round(self.width * scale), round(self.height * scale)
            small = (
                cv2.resize(self.picture, size, interpolation=cv2.INTER_AREA) if scale < 1 else self.picture
            )
            self._sizes[scale] = np.asarray(cv2.GaussianBlur(small, (0, 0), 0.6), np.float32)
        return self._sizes[scale]


def unlike(candidates: Sequence[CameraCandidate], apart: float) -> list[CameraCandidate]:
    """Return candidates by support, without those that see the same as a better one."""
    selected: list[CameraCandidate] = []
    for candidate in sorted(candidates, key=lambda c: -c.support):
        if all(views_apart(candidate.camera, other.camera) > apart for other in selected):
            selected.append(candidate)
    return selected


def fit_to_lines(camera: CameraModel, lines: Sequence[MeasuredLine], turns: int = 12) -> CameraModel | None:
    """Return the camera nearest to the samples of the lines; None where fewer than four lines are clear.

    Distances count across the lines only. Far ones weigh little (Cauchy); lens and focal length carry the
    weak expectations of the fit to clicks.
    """
    clear = [ln for ln in lines if ln.share >= LEAST_SHARE and ln.clearness >= LEAST_CLEARNESS]
    if len(clear) < FEWEST_LINES:
        return None
    points = np.vstack([line.points_m for line in clear])
    uv = np.vstack([line.uv for line in clear])
    sigma = np.concatenate([_errors(line) for line in clear])
    weight = np.concatenate([_weights(line) for line in clear])
    across = np.vstack([line.normals for line in clear]) / sigma[:, None]
    cost, normal, gradient = _system(camera, points, uv, across, weight)
    damping = 1e-3
    for _ in range(turns):
        step = np.asarray(
            np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -gradient), dtype=float
        )
        trial = camera.moved(step)
        if not _possible(trial):
            damping *= 8.0
            continue
        new_cost, new_normal, new_gradient = _system(trial, points, uv, across, weight)
        if new_cost < cost:
            settled = cost - new_cost < 1e-4 * (1 + cost)
            camera, cost, normal, gradient = trial, new_cost, new_normal, new_gradient
            damping = max(0.2 * damping, 1e-8)
            if settled:
                break
        else:
            damping *= 8.0
            if damping > 1e7:
                break
    return camera


def _errors(line: MeasuredLine) -> Floats:
    return np.full(len(line.uv), STRIPE_PX if line.line.painted else JOIN_PX)


def _weights(line: MeasuredLine) -> Floats:
    """Weights of samples: those nearer together than eight pixels tell the same."""
    return np.full(len(line.uv), min(1.0, line.length_px / len(line.uv) / 8.0))


def _possible(camera: CameraModel) -> bool:
    share = camera.focal_px / camera.long_px
    return camera.place_m[2] > 0.2 and 0.25 < share < 3.0 and abs(camera.k1) < 1.0


def _system(
    camera: CameraModel, points: Floats, uv: Floats, across: Floats, weight: Floats
) -> tuple[float, Floats, Floats]:
    """Return cost, normal matrix and gradient."""
    seen, slopes, _ = camera.slopes(points)
    off = ((seen - uv) * across).sum(axis=1)
    jacobian = (slopes * across[:, :, None]).sum(axis=1)
    pull = weight / (1 + (off / ROBUST) ** 2)
    prior, expected = expectations(camera)
    normal = (jacobian * pull[:, None]).T @ jacobian + expected.T @ expected
    gradient = (jacobian * pull[:, None]).T @ off + expected.T @ prior
    cost = float((weight * ROBUST**2 * np.log1p((off / ROBUST) ** 2)).sum() + prior @ prior)
    return cost, np.asarray(normal), np.asarray(gradient)
