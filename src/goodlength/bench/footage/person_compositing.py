"""Composite real people, segmented from a video with a still camera, over the demo's court.

The film is the tester's own: none is shipped. Each player is one walker's steps, played on and on, scaled to
a person's height at his place and turned the way he goes; under him lies a soft shadow, over all lies noise.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_sequence import FRAMES_A_S, FrameRenderer
from goodlength.demo.film.game_timeline import Filmed
from goodlength.demo.play.court_camera import PinholeCamera
from goodlength.errors import InputError
from goodlength.footage.vision.background_subtraction import (
    estimate_backgrounds,
    foreground_mask,
    nearest_background,
    watched,
)
from goodlength.footage.vision.person_detection import PersonDetection, detect_people
from goodlength.scoring import Side

Picture = NDArray[np.uint8]

TALL_M = 1.75
NOISE = 3.0  # of 255
LEAST_STEPS, MOST_STEPS = 12, 60
LEAST_PX = 55
SAMPLE_EVERY_US = 200_000
SECONDS = 80  # of the film are looked through


@dataclass(frozen=True)
class Walker:
    """One walker's pictures, blue-green-red and how much of each pixel is his, feet at the lower edge."""

    steps: tuple[Picture, ...]


def walkers_in(path: str | Path, most: int = 6) -> tuple[Walker, ...]:
    """Return walkers of a film, the longest seen first.

    Raises
    ------
    InputError
        If fewer than two walk alone for long enough.
    """
    courts = estimate_backgrounds(path)
    going: list[tuple[PersonDetection, list[Picture]]] = []
    done: list[list[Picture]] = []
    for us, picture, _ in watched(path, 0, SECONDS * 1_000_000, SAMPLE_EVERY_US):
        alone = _alone(detect_people(picture, 0.55), picture)
        mask = foreground_mask(picture, nearest_background(courts, us))
        ahead: list[tuple[PersonDetection, list[Picture]]] = []
        for person in alone:
            cut = _cut(picture, mask, person)
            same = [pair for pair in going if _near(pair[0], person)]
            if cut is None:
                continue
            steps = same[0][1] if len(same) == 1 else []
            steps.append(cut)
            ahead.append((person, steps))
        done += [steps for _, steps in going if not any(steps is s for _, s in ahead)]
        going = ahead
    done += [steps for _, steps in going]
    good = sorted((steps for steps in done if len(steps) >= LEAST_STEPS), key=len, reverse=True)
    if len(good) < 2:
        raise InputError(
            f"{Path(path).name} shows {len(good)} people walking alone for long enough; two are needed. "
            "Choose a film of walkers from a camera that stands still."
        )
    return tuple(Walker(tuple(steps[:MOST_STEPS])) for steps in good[:most])


def _alone(people: Sequence[PersonDetection], picture: Picture) -> list[PersonDetection]:
    """Return those whole in the picture and apart from all others."""
    high, wide = picture.shape[:2]
    return [
        detection
        for detection in people
        if detection.height >= LEAST_PX
        and detection.left > 3
        and detection.top > 3
        and detection.right < wide - 3
        and detection.bottom < high - 3
        and all(
            other is detection
            or max(other.left - detection.right, detection.left - other.right) > 6
            or max(other.top - detection.bottom, detection.top - other.bottom) > 6
            for other in people
        )
    ]


def _near(a: PersonDetection, b: PersonDetection) -> bool:
    return abs(a.feet[0] - b.feet[0]) < 0.4 * a.height and abs(a.feet[1] - b.feet[1]) < 0.25 * a.height


def _cut(picture: Picture, mask: Picture, person: PersonDetection) -> Picture | None:
    """Return what moves in and near the box, its soft edge as fourth colour; None where it is no whole
    body.
    """
    grow = 0.12 * person.height
    x0, x1 = int(max(0, person.left - grow)), int(person.right + grow)
    y0, y1 = int(max(0, person.top - grow)), int(person.bottom + grow)
    part = mask[y0:y1, x0:x1]
    count, labels, stats, _ = cv2.connectedComponentsWithStats(cv2.dilate(part, np.ones((3, 3), np.uint8)))
    if count < 2:
        return None
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    own = ((labels == largest) & (part > 0)).astype(np.uint8)
    rows, columns = np.flatnonzero(own.any(axis=1)), np.flatnonzero(own.any(axis=0))
    if len(rows) < 0.8 * person.height or own.sum() < 0.15 * person.height**2:
        return None
    own = cv2.morphologyEx(own, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    soft = cv2.GaussianBlur((own * 255).astype(np.uint8), (3, 3), 0)
    made = np.dstack([picture[y0:y1, x0:x1], soft])
    return np.ascontiguousarray(made[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1])


class Pasted:
    """Frames of a game of the demo with walkers in place of its drawn players."""

    def __init__(
        self, filmed: Filmed, camera: PinholeCamera, walker: Walker, two: Walker, rng: np.random.Generator
    ) -> None:
        self.pictures = FrameRenderer(filmed, camera)
        self.camera, self.rng = camera, rng
        self.walkers = {Side.A: walker, Side.B: two}
        self.court = empty_court(camera)
        self.grain = [rng.normal(0.0, NOISE, self.court.shape).astype(np.float32) for _ in range(5)]

    @property
    def count(self) -> int:
        """How many frames there are."""
        return self.pictures.count

    def frame(self, n: int) -> Picture:
        """Return frame n, blue-green-red."""
        picture = self.court.astype(np.float32)
        order = sorted(Side, key=lambda side: float(self.pictures.places[side][n][1]))
        for side in order:
            self._shadow(picture, *self.pictures.places[side][n])
        for side in order:
            self._walker(picture, side, n)
        roll = int(self.rng.integers(0, 97))
        picture += np.roll(self.grain[n % 5], roll, axis=1)
        return np.clip(picture, 0, 255).astype(np.uint8)

    def _shadow(self, picture: NDArray[np.float32], x: float, y: float) -> None:
        u, v, depth = self.camera.see(x, y, 0.0)
        wide = 0.35 * self.camera.focal_px / depth
        dark = np.zeros(picture.shape[:2], np.uint8)
        cv2.ellipse(
            dark, (round(u), round(v)), (max(1, round(wide)), max(1, round(wide / 4))), 0, 0, 360, 255, -1
        )
        soft = cv2.GaussianBlur(dark, (0, 0), max(1.0, wide / 8))
        picture *= 1.0 - 0.30 * (soft[..., None].astype(np.float32) / 255.0)

    def _walker(self, picture: NDArray[np.float32], side: Side, n: int) -> None:
        cut = self._step(side, n)
        x, y = self.pictures.places[side][n]
        vx = self.pictures.speeds[side][n][0]
        u, v, _ = self.camera.see(float(x), float(y), 0.0)
        _, top, _ = self.camera.see(float(x), float(y), TALL_M)
        scale = (v - top) / cut.shape[0]
        turn = -1.0 if vx < -0.2 else 1.0
        wide, high = cut.shape[1] * scale, cut.shape[0] * scale
        x0, y0 = int(max(0, u - wide / 2 - 2)), int(max(0, v - high - 2))
        part = picture[y0 : int(v + 3), x0 : int(u + wide / 2 + 3)]
        if part.size == 0:
            return
        matrix = np.array(
            [
                [turn * scale, 0.0, u - turn * wide / 2.0 - 0.5 - x0],
                [0.0, scale, v - high - 0.5 - y0],
            ]
        )
        laid = cv2.warpAffine(cut, matrix, (part.shape[1], part.shape[0]), flags=cv2.INTER_LINEAR)
        share = laid[..., 3:].astype(np.float32) / 255.0
        part += (laid[..., :3].astype(np.float32) - part) * share

    def _step(self, side: Side, n: int) -> Picture:
        """Return a walker's picture in a frame: ten steps a second while he moves, forth and back so
        none jumps.
        """
        steps = self.walkers[side].steps
        beat = int(self.pictures.phases[side][n] / 0.6) + (13 if side is Side.B else 0)
        k = beat % (2 * len(steps) - 2)
        return steps[k if k < len(steps) else 2 * len(steps) - 2 - k]

    def head(self, side: Side, n: int) -> tuple[float, float, float]:
        """Return middle and radius, px, of a walker's head in a frame: the top seventh, specks above it
        left out.
        """
        cut = self._step(side, n)
        rows = (cut[..., 3] > 128).sum(axis=1)
        first = int(np.argmax(rows >= 0.06 * cut.shape[0]))
        columns = np.flatnonzero((cut[first : first + cut.shape[0] // 7, :, 3] > 128).any(axis=0))
        x, y = self.pictures.places[side][n]
        u, v, _ = self.camera.see(float(x), float(y), 0.0)
        _, top, _ = self.camera.see(float(x), float(y), TALL_M)
        scale = (v - top) / cut.shape[0]
        turn = -1.0 if self.pictures.speeds[side][n][0] < -0.2 else 1.0
        aside = (float(columns.mean()) - cut.shape[1] / 2.0) * scale * turn if columns.size else 0.0
        radius = (v - top) / 14.0
        return u + aside, top + first * scale + radius, radius


def write_film(frame: Callable[[int], Picture], frames: range, camera: PinholeCamera, to: Path) -> None:
    """Frames as a film without sound, 25 a second with a key frame a second; the first one at 0 s."""
    with av.open(str(to), "w", format="mp4") as box:
        options = {"preset": "veryfast", "crf": "20", "g": str(FRAMES_A_S), "bf": "0"}
        stream = box.add_stream("libx264", rate=FRAMES_A_S, options=options)
        stream.width, stream.height, stream.pix_fmt = camera.width, camera.height, "yuv420p"
        for n in frames:
            box.mux(stream.encode(av.VideoFrame.from_ndarray(frame(n), format="bgr24")))
        box.mux(stream.encode(None))
