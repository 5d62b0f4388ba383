"""Render a plain video for a simulated recording: two players on a court, from the same truth.

Who strikes when, and what goes on, is the recording's; where the players are in between is a way of moving
of its own (`player_movements`; a judging family brings its own), so that learning, choosing and judging are
kept apart.

```
 two paths on the floor ──> capsules in a camera's picture ──> lights, noise, nudges
```
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface, WorldRecording

Numbers = NDArray[np.float64]
GreyPicture = NDArray[np.uint8]
STEP_S = 0.05  # of the paths
Places = Callable[[np.random.Generator, WorldRecording, float], Numbers]


@dataclass(frozen=True)
class PictureSetting:
    """How a picture is taken and what disturbs it; grey levels of 255, metres, seconds."""

    camera_m: tuple[float, float, float]
    focal: float  # of the picture's width
    floor_grey: float
    shirt_grey: tuple[float, float]
    noise_grey: float
    flicker: float
    drift: float
    nudges_s: tuple[float, ...]
    sway_px: float
    passers: float  # people behind the glass, a minute


def draw_picture_setting(rng: np.random.Generator, seconds: float) -> PictureSetting:
    """Return a setting drawn at random."""
    floor = float(rng.uniform(90, 190))
    return PictureSetting(
        camera_m=(
            WIDTH_M / 2 + float(rng.normal(0, 0.8)),
            LENGTH_M + float(rng.uniform(0.6, 3.5)),
            float(rng.uniform(1.7, 4.5)),
        ),
        focal=float(rng.uniform(0.5, 0.8)),
        floor_grey=floor,
        shirt_grey=tuple(float(rng.uniform(15, 240)) for _ in range(2)),  # type: ignore[arg-type]
        noise_grey=float(rng.uniform(0, 6)),
        flicker=float(rng.uniform(0, 0.03)) if rng.random() < 0.4 else 0.0,
        drift=float(rng.uniform(0, 0.15)),
        nudges_s=tuple(rng.uniform(0, seconds, int(rng.poisson(0.7))).tolist()),
        sway_px=float(rng.exponential(0.1)) if rng.random() < 0.3 else 0.0,
        passers=float(rng.exponential(0.6)) if rng.random() < 0.5 else 0.0,
    )


class PlainPicture:
    """Draws any moment of a made-up recording.

    Parameters
    ----------
    rng : numpy Generator
    world : WorldRecording
    setting : PictureSetting
    paths : ndarray, shape (2, n, 2)
        Where both players are in metres, each `STEP_S`.
    width, height : int
        Of the picture in pixels.
    """

    def __init__(
        self,
        rng: np.random.Generator,
        world: WorldRecording,
        setting: PictureSetting,
        paths: Numbers,
        width: int = 192,
        height: int = 108,
    ) -> None:
        self.seconds = world.samples.shape[1] / world.rate
        self.paths = paths
        self._rng, self._setting = rng, setting
        self.width, self.height = width, height
        strikes = [c for c in world.contacts if c.surface is Surface.RACKET and c.own_court]
        self._swings = [
            np.array([c.time_s for k, c in enumerate(strikes) if (c.striker or 0) % 2 == who] or [-9.0])
            for who in (0, 1)
        ]
        count = int(rng.poisson(setting.passers * self.seconds / 60))
        self._passers = [
            (float(rng.uniform(0, self.seconds)), float(rng.choice([-1, 1]))) for _ in range(count)
        ]
        self._phase = float(rng.uniform(0, 7))
        self._base = self._empty_court()

    def picture(self, at_s: float) -> GreyPicture:
        """Return the grey picture of a moment."""
        setting = self._setting
        canvas = self._base.copy()
        k = min(len(self.paths[0]) - 1, round(at_s / STEP_S))
        for who in sorted((0, 1), key=lambda number: self.paths[number][k][1]):
            self._figure(canvas, self.paths[who][k], setting.shirt_grey[who], at_s, who)
        for begin, way in self._passers:
            if 0 <= at_s - begin < 6:
                x = WIDTH_M / 2 + way * (at_s - begin - 3) * 1.2
                self._figure(canvas, np.array([x, LENGTH_M + 0.4]), 60.0, -1.0, 0)
        light = 1 + setting.drift * np.sin(at_s / 97 + self._phase)
        light += setting.flicker * np.sin(2 * np.pi * 0.7 * at_s + self._phase)
        out = canvas * light + self._rng.normal(0, setting.noise_grey + 1e-9, canvas.shape)
        return np.asarray(np.clip(self._moved(out, at_s), 0, 255), np.uint8)

    def pictures(self, rate_hz: float) -> Iterator[tuple[float, GreyPicture]]:
        """Yield every picture of the recording with its moment."""
        for n in range(int(self.seconds * rate_hz)):
            yield n / rate_hz, self.picture(n / rate_hz)

    def _moved(self, picture: Numbers, at_s: float) -> Numbers:
        """Return the picture as a knocked or swaying camera sees it."""
        shift = 2.0 * sum(at_s > nudge for nudge in self._setting.nudges_s) * self.width / 192
        shift += self._setting.sway_px * np.sin(2 * np.pi * 1.3 * at_s)
        if abs(shift) < 0.02:
            return picture
        move = np.array([[1.0, 0.0, shift], [0.0, 1.0, 0.5 * shift]])
        moved = cv2.warpAffine(picture, move, (self.width, self.height), borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(moved, np.float64)

    def _pixel(self, x: float, y: float, z: float) -> tuple[int, int, float]:
        """Return a point's pixel and the pixels a metre has there."""
        cx, cy, cz = self._setting.camera_m
        down = np.arctan2(cz - 0.9, cy - 3.0)
        forward, up = cy - y, z - cz
        depth = forward * np.cos(down) - up * np.sin(down)
        high = up * np.cos(down) + forward * np.sin(down)
        scale = self._setting.focal * self.width / max(0.4, depth)
        return (
            round(self.width / 2 + scale * (x - cx)),
            round(self.height / 2 - scale * high),
            scale,
        )

    def _empty_court(self) -> Numbers:
        """Return the court without players: walls, floor, lines, a little texture."""
        canvas = np.full((self.height, self.width), 0.9 * self._setting.floor_grey + 20)
        corners = [(0, 0), (WIDTH_M, 0), (WIDTH_M, LENGTH_M), (0, LENGTH_M)]
        floor = np.array([self._pixel(x, y, 0)[:2] for x, y in corners], np.int32)
        cv2.fillConvexPoly(canvas, floor, self._setting.floor_grey)
        for z in (0.48, 1.78, 4.57):
            cv2.line(canvas, self._pixel(0, 0, z)[:2], self._pixel(WIDTH_M, 0, z)[:2], 70.0, 1)
        cv2.line(canvas, self._pixel(0, 5.44, 0)[:2], self._pixel(WIDTH_M, 5.44, 0)[:2], 70.0, 1)
        rough = self._rng.normal(0, 4, (self.height // 4 + 1, self.width // 4 + 1))
        canvas += cv2.resize(rough, (self.width, self.height))
        return np.asarray(canvas, np.float64)

    def _figure(self, canvas: Numbers, at_m: Numbers, grey: float, at_s: float, who: int) -> None:
        """Draw a person: legs, body, head, and the arm while swinging."""
        x, y = float(at_m[0]), float(at_m[1])
        if y > LENGTH_M + 1.0:
            return
        for z0, z1, wide, tone in ((0.05, 0.8, 0.22, 90.0), (0.8, 1.45, 0.36, grey), (1.6, 1.65, 0.2, 150.0)):
            (u0, v0, scale), (u1, v1, _) = self._pixel(x, y, z0), self._pixel(x, y, z1)
            cv2.line(canvas, (u0, v0), (u1, v1), tone, max(1, round(wide * scale)))
        swing = float(np.abs(self._swings[who] - at_s).min())
        if at_s >= 0 and swing < 0.3:
            turn = 5 * swing
            u0, v0, scale = self._pixel(x, y, 1.3)
            end = (round(u0 + 0.9 * scale * np.cos(turn)), round(v0 - 0.9 * scale * np.sin(turn)))
            cv2.line(canvas, (u0, v0), end, grey, max(1, round(0.1 * scale)))


def plain_picture(rng: np.random.Generator, world: WorldRecording, places: Places) -> PlainPicture:
    """Return a drawn picture of a recording by a way of moving, its setting drawn at random."""
    seconds = world.samples.shape[1] / world.rate
    setting = draw_picture_setting(rng, seconds)
    return PlainPicture(rng, world, setting, places(rng, world, seconds))


def write_plain_film(path: Path, world: WorldRecording, picture: PlainPicture, rate_hz: int = 10) -> Path:
    """Write a recording's sound with its drawn picture as a film."""
    with av.open(str(path), "w") as container:
        video = container.add_stream("libx264", rate_hz, options={"preset": "ultrafast", "g": str(rate_hz)})
        video.width, video.height, video.pix_fmt = picture.width, picture.height, "yuv420p"
        audio = container.add_stream("aac", world.rate, layout="mono")
        for n, (_, image) in enumerate(picture.pictures(rate_hz)):
            frame = av.VideoFrame.from_ndarray(image, format="gray").reformat(format="yuv420p")
            frame.pts, frame.time_base = n, Fraction(1, rate_hz)
            container.mux(video.encode(frame))
            if n % rate_hz == 0:
                at = n // rate_hz * world.rate
                wave = np.ascontiguousarray(world.samples[:1, at : at + world.rate])
                sound = av.AudioFrame.from_ndarray(wave, format="fltp", layout="mono")
                sound.sample_rate, sound.pts, sound.time_base = world.rate, at, Fraction(1, world.rate)
                container.mux(audio.encode(sound))
        container.mux(video.encode(None))
        container.mux(audio.encode(None))
    return path
