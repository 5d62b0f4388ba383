"""Render a plain video for a simulated recording: two players on a court, from the same truth.

Who strikes when, and what goes on, is the recording's; where the players stand in between is drawn here.
Two movers, written apart, keep learning and choosing apart: one goes from place to place on smooth curves,
the other is drawn to its next place like by a spring.

```
 contacts, spans ──> two paths on the floor ──> capsules in a camera's picture ──> lights, noise, nudges
```
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldRecording

Numbers = NDArray[np.float64]
GreyPicture = NDArray[np.uint8]
STEP_S = 0.05  # of the paths
MOVERS = ("smooth", "spring")
T_M = (WIDTH_M / 2, 6.0)
CORNERS_M = ((1.1, 8.6), (5.3, 8.6), (1.2, 2.2), (5.2, 2.2), (1.0, 6.0), (5.4, 6.0), (3.2, 7.0))
SERVE_M = ((5.2, 6.6), (1.3, 7.6))
OFF_COURT_M = (WIDTH_M / 2, 11.5)
TALL_M = 1.75


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
    mover: str


def draw_picture_setting(rng: np.random.Generator, mover: str, seconds: float) -> PictureSetting:
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
        mover=mover,
    )


@dataclass(frozen=True)
class Place:
    """Where a player is to be at a moment."""

    time_s: float
    x_m: float
    y_m: float


def player_paths(rng: np.random.Generator, world: WorldRecording, mover: str, seconds: float) -> Numbers:
    """Return where both players are, shape (2, n, 2) in metres, each `STEP_S`."""
    places = _places(rng, world, seconds)
    times = np.asarray(np.arange(round(seconds / STEP_S) + 1) * STEP_S, np.float64)
    walk = _smooth if mover == "smooth" else _spring
    return np.stack([walk(rng, own, times) for own in places])


def _places(rng: np.random.Generator, world: WorldRecording, seconds: float) -> list[list[Place]]:
    """Return the places of both players in order of time."""
    out: list[list[Place]] = [[], []]
    strikes = [c for c in world.contacts if c.surface is Surface.RACKET and c.own_court]
    spans = sorted(world.spans, key=lambda span: span.start_s)
    before = 0.0
    for span in spans:
        _pause(rng, out, before, span.start_s)
        own = [c for c in strikes if span.start_s - 0.05 <= c.time_s <= span.end_s + 0.05]
        times = [(c.time_s, k % 2 if c.striker is None else c.striker % 2) for k, c in enumerate(own)]
        if span.activity is Activity.RALLY:
            _rally(rng, out, times, span.end_s)
        else:
            _hitting(rng, out, times, span.start_s, span.end_s, span.activity)
        before = span.end_s
    _pause(rng, out, before, seconds)
    return [sorted(own, key=lambda place: place.time_s) for own in out]


def _rally(
    rng: np.random.Generator, out: list[list[Place]], strikes: list[tuple[float, int]], end_s: float
) -> None:
    spread = float(rng.uniform(0.3, 1.0))  # how far from the T this rally is played
    for k, (at, who) in enumerate(strikes):
        corner = CORNERS_M[int(rng.integers(len(CORNERS_M)))] if k else SERVE_M[int(rng.integers(2))]
        x, y = (t + spread * (c - t) for t, c in zip(T_M, corner, strict=True)) if k else corner
        if k == 0:
            out[who].append(Place(at - 1.5, x, y))
            out[1 - who].append(Place(at, *SERVE_M[int(rng.integers(2))]))
        out[who].append(Place(at, x, y))
        out[who].append(Place(at + 0.2, x, y))
        after = strikes[k + 1][0] if k + 1 < len(strikes) else end_s
        out[who].append(
            Place(max(at + 0.3, 0.3 * at + 0.7 * after), T_M[0] + float(rng.normal(0, 0.4)), T_M[1])
        )


def _pause(rng: np.random.Generator, out: list[list[Place]], begin_s: float, end_s: float) -> None:
    """Walk about, fetch the ball, stand; in a long pause both leave the court."""
    length = end_s - begin_s
    if length <= 1.5:
        return
    for who in (0, 1):
        at = begin_s + float(rng.uniform(0.5, 1.5))
        if length > 40 and rng.random() < 0.8:
            out[who] += [Place(begin_s + 8, *OFF_COURT_M), Place(end_s - 8, *OFF_COURT_M)]
            continue
        while at < end_s - 1.0:
            walks = float(rng.uniform(1.0, 4.0))
            stands = float(rng.exponential(3.0))
            x, y = float(rng.uniform(0.6, WIDTH_M - 0.6)), float(rng.uniform(1.0, LENGTH_M - 0.5))
            out[who] += [
                Place(min(at + walks, end_s - 0.5), x, y),
                Place(min(at + walks + stands, end_s - 0.4), x, y),
            ]
            at += walks + stands


def _hitting(
    rng: np.random.Generator,
    out: list[list[Place]],
    strikes: list[tuple[float, int]],
    begin_s: float,
    end_s: float,
    activity: Activity,
) -> None:
    """Hit from one side each, a step or two about it."""
    homes = [(1.5, float(rng.uniform(5, 8))), (4.9, float(rng.uniform(5, 8)))]
    lively = float(rng.uniform(0.1, 0.7))
    for who in (0, 1):
        out[who].append(Place(begin_s, *homes[who]))
    for at, who in strikes:
        x, y = (h + float(rng.normal(0, lively)) for h in homes[who])
        out[who] += [Place(at, x, y), Place(at + 0.2, x, y)]
    if activity is not Activity.WARM_UP and len({who for _, who in strikes}) == 1:
        _pause(rng, [out[1 - strikes[0][1]], []], begin_s, end_s)
    for who in (0, 1):
        out[who].append(Place(end_s, *homes[who]))


def _smooth(rng: np.random.Generator, places: list[Place], times: Numbers) -> Numbers:
    """Return a path on curves that start and end at rest in each place."""
    if not places:
        places = [Place(0.0, *T_M)]
    at = np.array([place.time_s for place in places])
    where = np.array([[place.x_m, place.y_m] for place in places])
    after = np.clip(np.searchsorted(at, times, "right"), 1, max(1, len(at) - 1))
    if len(at) == 1:
        return np.repeat(where, len(times), axis=0)
    length = np.maximum(0.05, at[after] - at[after - 1])
    u = np.clip((times - at[after - 1]) / length, 0, 1)
    ease = (u * u * u * (10 - 15 * u + 6 * u * u))[:, None]
    path = where[after - 1] + ease * (where[after] - where[after - 1])
    return np.asarray(path + _fidget(rng, times, 0.05))


def _spring(rng: np.random.Generator, places: list[Place], times: Numbers) -> Numbers:
    """Return a path drawn to the place aimed at, never faster than a player runs."""
    if not places:
        places = [Place(0.0, *T_M)]
    at = np.array([place.time_s for place in places])
    where = np.array([[place.x_m, place.y_m] for place in places])
    aim = where[np.clip(np.searchsorted(at, times + 0.55, "right") - 1, 0, len(at) - 1)]
    stiff, most = float(rng.uniform(10, 25)), float(rng.uniform(3.5, 5.5))
    path = np.zeros((len(times), 2))
    place, speed = where[0].copy(), np.zeros(2)
    for k in range(len(times)):
        speed += STEP_S * (stiff * (aim[k] - place) - 1.8 * np.sqrt(stiff) * speed)
        fast = float(np.hypot(*speed))
        speed *= min(1.0, most / fast) if fast else 1.0
        place = place + STEP_S * speed
        path[k] = place
    return path + _fidget(rng, times, 0.08)


def _fidget(rng: np.random.Generator, times: Numbers, size_m: float) -> Numbers:
    """Return how a person stirs while standing."""
    count = max(4, len(times) // 16)
    knots = rng.normal(0, size_m, (count, 2))
    return np.stack([np.interp(times, np.linspace(0, times[-1], count), k) for k in knots.T], axis=1)


class PlainPicture:
    """Draws any moment of a made-up recording.

    Parameters
    ----------
    rng : numpy Generator
    world : WorldRecording
    setting : PictureSetting
    width, height : int
        Of the picture in pixels.
    """

    def __init__(
        self,
        rng: np.random.Generator,
        world: WorldRecording,
        setting: PictureSetting,
        width: int = 192,
        height: int = 108,
    ) -> None:
        self.seconds = world.samples.shape[1] / world.rate
        self.paths = player_paths(rng, world, setting.mover, self.seconds)
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


def plain_picture(rng: np.random.Generator, world: WorldRecording, mover: str) -> PlainPicture:
    """Return a drawn picture of a recording, its setting drawn at random."""
    seconds = world.samples.shape[1] / world.rate
    return PlainPicture(rng, world, draw_picture_setting(rng, mover, seconds))


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
