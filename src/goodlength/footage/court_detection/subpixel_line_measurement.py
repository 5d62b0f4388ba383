"""Lines of the court measured in a picture to a fraction of a pixel, near where a camera expects them.

Across every line profiles are taken, in colour. A painted line is a stripe of the width that the camera
foretells, differing the same way from both sides; a join is a step. Of all places that answer, those on one
straight course along the line are taken.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LINE_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection.court_wireframe import WireframeLine

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
STEP_PX = 0.5
EDGE_PX, BLUR_PX = 3.0, 1.0  # margin of the picture; width of an edge
SIDE_PX, NARROWEST_PX = 2.5, 1.2
LEAST_ANSWER = 2.0  # levels of 255
MOST_SAMPLES, FEWEST, SHORTEST_PX = 160, 4, 12.0
GUESSES = 60
HIGHEST_WEIGHT = 6.0


@dataclass(frozen=True)
class MeasuredLine:
    """What was found of one line.

    `length_px` is what of it lies in the picture, `share` the part of the samples found on one course,
    `contrast` their difference in levels of 255 and `clearness` the same beside usual answers nearby.
    `points_m`, `uv` and `normals` hold the samples found: court points, places in the picture and the
    direction across.
    """

    line: WireframeLine
    length_px: float
    share: float
    contrast: float = 0.0
    clearness: float = 0.0
    samples: int = 0
    points_m: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    uv: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    normals: Floats = field(default_factory=lambda: np.zeros((0, 2)))


@dataclass(frozen=True)
class _Samples:
    """Places along a line in the picture."""

    points_m: Floats
    uv: Floats
    normals: Floats
    along: Floats
    widths_px: Floats
    length_px: float


def measure_lines(
    rng: np.random.Generator,
    picture: Singles,
    lines: tuple[WireframeLine, ...],
    camera: CameraModel,
    reach_px: float,
    apart_px: float = 8.0,
    tolerance_px: float = 1.0,
) -> tuple[MeasuredLine, ...]:
    """Return what is found of every line that lies in the picture.

    Parameters
    ----------
    rng : numpy Generator
    picture : ndarray of float32, shape (h, w, 3)
        Levels 0 to 255.
    lines : tuple of WireframeLine
    camera : CameraModel
        Of the picture's size.
    reach_px : float
        How far across a line is looked.
    apart_px : float
        Distance of samples along a line.
    tolerance_px : float
        How far from a course a sample may lie.
    """
    found = []
    for line in lines:
        samples = _samples(line, camera, apart_px)
        if samples is not None:
            found.append(_measure(rng, picture, line, samples, reach_px, apart_px, tolerance_px))
    return tuple(found)


def _samples(line: WireframeLine, camera: CameraModel, apart_px: float) -> _Samples | None:
    """Return even samples of what lies in the picture; None where that is too little."""
    shares = np.linspace(0.0, 1.0, 241)
    uv, seen = camera.project(line.points(shares))
    size = np.array([camera.width, camera.height])
    seen = seen & (uv > EDGE_PX).all(axis=1) & (uv < size - EDGE_PX).all(axis=1)
    step = np.where(seen[1:] & seen[:-1], np.hypot(*np.diff(uv, axis=0).T), 0.0)
    way = np.concatenate([[0.0], np.cumsum(step)])
    length_px = float(way[-1])
    if seen.sum() < FEWEST or length_px < SHORTEST_PX:
        return None
    count = int(np.clip(length_px / apart_px, FEWEST, MOST_SAMPLES))
    points = line.points(np.interp((np.arange(count) + 0.5) * length_px / count, way, shares))
    uv, _ = camera.project(points)
    ahead, _ = camera.project(points + (line.end_m - line.start_m) / line.length_m * 0.02)
    along = (ahead - uv) / np.maximum(np.hypot(*(ahead - uv).T), 1e-9)[:, None]
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1)
    widths = np.zeros(count)
    if line.across is not None:
        low, _ = camera.project(points - line.across * LINE_M / 2)
        high, _ = camera.project(points + line.across * LINE_M / 2)
        widths = np.abs(((high - low) * normals).sum(axis=1))
    good = np.isfinite(uv).all(axis=1) & np.isfinite(along).all(axis=1) & np.isfinite(widths)
    if good.sum() < FEWEST:
        return None
    return _Samples(points[good], uv[good], normals[good], along[good], widths[good], length_px)


def _measure(
    rng: np.random.Generator,
    picture: Singles,
    line: WireframeLine,
    samples: _Samples,
    reach_px: float,
    apart_px: float,
    tolerance_px: float,
) -> MeasuredLine:
    """Return what is found of one line."""
    count = len(samples.uv)
    margin = max(6.0, 2 * float(samples.widths_px.max()) + 4.0)
    offsets, profile = _profiles(picture, samples, reach_px + margin, min(0.4 * apart_px, 5.0))
    answer, colour = _stripe(profile, samples.widths_px) if line.painted else _step(profile)
    inside = np.abs(offsets) <= reach_px + 1e-6
    near = np.where(inside, answer, 0.0)
    peak = (near[:, 1:-1] >= near[:, :-2]) & (near[:, 1:-1] > near[:, 2:]) & (near[:, 1:-1] > LEAST_ANSWER)
    row, column = np.nonzero(peak)
    column = column + 1
    if len(row) < FEWEST:
        return MeasuredLine(line, samples.length_px, 0.0, samples=count)
    before, here, after = (answer[row, column + k] for k in (-1, 0, 1))
    bend = np.minimum(before - 2 * here + after, -1e-6)
    at = offsets[column] + STEP_PX * (0.5 * (before - after) / bend).clip(-0.5, 0.5)
    usual = float(np.median(near[:, inside])) + 1.5
    chosen = _on_course(
        rng, row * 2.0 / (count - 1) - 1.0, at, here / usual, reach_px, 1.5 * tolerance_px, row
    )
    if len(chosen) < 3:
        return MeasuredLine(line, samples.length_px, 0.0, samples=count)
    rows = row[chosen]
    contrast = float(np.linalg.norm(np.median(colour[rows, column[chosen]], axis=0)))
    return MeasuredLine(
        line=line,
        length_px=samples.length_px,
        share=len(chosen) / count,
        contrast=contrast,
        clearness=contrast / usual,
        samples=count,
        points_m=samples.points_m[rows],
        uv=samples.uv[rows] + samples.normals[rows] * at[chosen][:, None],
        normals=samples.normals[rows],
    )


def _profiles(
    picture: Singles, samples: _Samples, reach_px: float, along_px: float
) -> tuple[Floats, Singles]:
    """Return offsets (t,) and colours (n, t, 3) across the line, smoothed along it."""
    offsets: Floats = np.arange(-reach_px, reach_px + 1e-6, STEP_PX)
    across = samples.uv[:, None] + samples.normals[:, None] * offsets[None, :, None] - 0.5
    total = np.zeros((*across.shape[:2], 3), np.float32)
    for shift in np.linspace(-along_px, along_px, 5):
        at = (across + samples.along[:, None] * shift).astype(np.float32)
        total += cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return offsets, np.asarray(total / 5, np.float32)


class _Means:
    """Means of profiles between fractional places, from running sums."""

    def __init__(self, profile: Singles) -> None:
        self.count = profile.shape[1]
        sums = np.zeros((len(profile), self.count + 1, 3))
        np.cumsum(profile, axis=1, dtype=float, out=sums[:, 1:])
        self.sums: Floats = sums.reshape(-1, 3)
        self.first = (np.arange(len(profile)) * (self.count + 1))[:, None]

    def between(self, low: Floats, high: Floats) -> Floats:
        """Return mean colours, shape (n, t, 3), of low to high, shape (n, t) each."""
        low, high = low.clip(0, self.count - 0.001), high.clip(0.001, self.count)
        means = self._at(high)  # quicker than fancy indices and new arrays, and the same to the bit
        means -= self._at(low)
        means /= np.maximum(high - low, 1e-3)[..., None]
        return means

    def _at(self, place: Floats) -> Floats:
        whole = np.minimum(place.astype(int), self.count - 1)  # places are never negative
        part = (place - whole)[..., None]
        at = self.first + whole
        below: Floats = self.sums.take(at, axis=0)
        above: Floats = self.sums.take(at + 1, axis=0)
        below *= 1 - part
        above *= part
        below += above
        return below


def _stripe(profile: Singles, widths_px: Floats) -> tuple[Floats, Floats]:
    """Return how strongly a stripe answers at each place (n, t), and its colour against its sides."""
    means, count = _Means(profile), profile.shape[1]
    at = np.arange(count) + 0.5 + np.zeros((len(profile), 1))
    half = (np.maximum(widths_px, NARROWEST_PX) / 2 / STEP_PX)[:, None]
    gap, side = BLUR_PX / STEP_PX / 2, np.maximum(1.2 * half, 1.5 / STEP_PX)
    middle = means.between(at - 0.9 * half, at + 0.9 * half)
    low = middle - means.between(at - half - gap - side, at - half - gap)
    high = middle - means.between(at + half + gap, at + half + gap + side)
    colour = (low + high) / 2
    unit = colour / (np.linalg.norm(colour, axis=-1) + 1e-6)[..., None]
    answer = np.minimum((low * unit).sum(axis=-1), (high * unit).sum(axis=-1)).clip(0)
    whole = (at - half - gap - side >= -0.01) & (at + half + gap + side <= count + 0.01)
    return np.where(whole, answer, 0.0), colour


def _step(profile: Singles) -> tuple[Floats, Floats]:
    """Return how strongly a step answers at each place (n, t), and its colour."""
    means, count = _Means(profile), profile.shape[1]
    at = np.arange(count) + 0.5 + np.zeros((len(profile), 1))
    gap, side = BLUR_PX / STEP_PX / 2, SIDE_PX / STEP_PX
    colour = means.between(at - gap - side, at - gap) - means.between(at + gap, at + gap + side)
    whole = (at - gap - side >= -0.01) & (at + gap + side <= count + 0.01)
    return np.where(whole, np.linalg.norm(colour, axis=-1), 0.0), colour


def _on_course(
    rng: np.random.Generator,
    share: Floats,
    at: Floats,
    strength: Floats,
    reach_px: float,
    tolerance_px: float,
    row: NDArray[np.intp],
) -> NDArray[np.intp]:
    """Return the answers that lie on the best straight course along the line, one a sample.

    `share` is -1 to 1 along the line, `at` pixels across it.
    """
    weight = np.minimum(strength, HIGHEST_WEIGHT)
    pairs = rng.choice(len(at), (GUESSES, 2), p=weight / weight.sum())
    run = share[pairs[:, 1]] - share[pairs[:, 0]]
    far = np.abs(run) >= 0.3
    slope = np.where(far, (at[pairs[:, 1]] - at[pairs[:, 0]]) / np.where(far, run, 1.0), 0.0)
    middle = np.where(far, at[pairs[:, 0]] - slope * share[pairs[:, 0]], at[pairs[:, 0]])
    fits = np.abs(middle) + np.abs(slope) <= 1.2 * reach_px
    middle, slope = np.append(middle[fits], 0.0), np.append(slope[fits], 0.0)
    off = at - middle[:, None]
    off -= slope[:, None] * share
    np.abs(off, out=off)
    off /= tolerance_px
    near = off < 1
    off *= off
    worth = np.where(near, weight * np.subtract(1, off, out=off), 0.0).sum(axis=1)
    best = int(np.argmax(worth * (1 - 0.25 * (np.abs(middle) / reach_px).clip(0, 1) ** 2)))
    course = np.array([middle[best], slope[best]])
    for _ in range(3):
        off = np.abs(at - course[0] - course[1] * share) / tolerance_px
        near = off < 1
        if near.sum() < 3:
            break
        pull = weight[near] * (1 - off[near] ** 2)
        terms = np.stack([np.ones(int(near.sum())), share[near]], axis=1)
        normal = (terms * pull[:, None]).T @ terms + np.diag([1e-6, 0.05 * pull.sum()])
        course = np.linalg.solve(normal, (terms * pull[:, None]).T @ at[near])
    off = np.abs(at - course[0] - course[1] * share)
    order = np.argsort(off)
    order = order[off[order] < tolerance_px]
    _, first = np.unique(row[order], return_index=True)
    return np.asarray(order[first])
