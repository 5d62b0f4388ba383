"""Simulated phone recordings of matches on a court, with their truth.

A bare box of court size: the direct sound, its mirror images in the six surfaces for the first 60 ms, then
a fading noise per band. Rackets, walls, floor, tin; speech, shoes, applause, doors, a neighbour's court,
a crowd; a knock-up first, if wished. Nothing here was recorded on a court, and a real court differs.

```
 play: serve ─ hit ─ hit ─ ... ─ last hit ─ bounces │ pause: call, talk, ball sent back, door │ serve ...
       each hit: racket, front wall after its flight, perhaps a side wall, floor
```
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Wave = NDArray[np.float32]
RATE = 32_000
SOUND_M_S = 343.0
ROOM_M = (6.40, 9.75, 5.64)
# Levels beside the racket in dB with their spread; source: GL-HEARING-STUDY
LEVEL_DB = {"racket": 0.0, "front": -5.0, "side": -8.0, "floor": -15.0, "tin": -1.0, "dribble": -17.0}
SPREAD_DB = {"racket": 2.5, "front": 3.0, "side": 3.0, "floor": 3.0, "tin": 2.0, "dribble": 3.0}
# Lowest and highest partial in Hz, fading times in s, share of noise: ASSUMED, wide on purpose
BODY = {
    "racket": (900, 8000, 0.002, 0.008, 0.6),
    "front": (400, 7000, 0.002, 0.010, 0.6),
    "side": (400, 5000, 0.003, 0.012, 0.5),
    "floor": (150, 3000, 0.004, 0.012, 0.4),
    "tin": (500, 7500, 0.015, 0.080, 0.3),
    "dribble": (150, 3000, 0.004, 0.012, 0.4),
    "door": (60, 1500, 0.03, 0.12, 0.6),
    "clap": (700, 6000, 0.002, 0.008, 0.9),
}
EARLY_S = 0.06
TAILS = 4
LAST_S = 8.0  # no hit in the last seconds of what is made


@dataclass(frozen=True)
class SoundCondition:
    """How a recording is made.

    Levels are in dB beside a racket hit in the middle of the court; None leaves a sound out.
    """

    name: str
    t60_s: tuple[float, float] = (1.0, 4.5)
    neighbour_db: float | None = -16.0
    crowd_db: float = -38.0
    speech_db: float = -16.0
    applause: float = 0.5
    behind_glass: bool = False
    doors: float = 0.1
    knock_up_s: float = 0.0


TYPICAL = SoundCondition("typical")
NOISY = SoundCondition("noisy", neighbour_db=-9.0, crowd_db=-26.0, speech_db=-9.0)
GLASS = SoundCondition("behind glass", behind_glass=True, neighbour_db=-12.0)


@dataclass
class SoundTruth:
    """What was played: rallies by first and last hit, and all hits, in seconds as heard at the microphone."""

    rallies: list[tuple[float, float]] = field(default_factory=list)
    hits: list[list[float]] = field(default_factory=list)
    knock_up: tuple[float, float] | None = None


@dataclass(frozen=True)
class SoundRecording:
    """A made recording: its samples at `RATE` and the truth."""

    samples: Wave
    truth: SoundTruth
    condition: SoundCondition


class Hall:
    """The court as a box with a microphone, its echoes and the bodies of its sounds, drawn anew each time."""

    def __init__(self, rng: np.random.Generator, condition: SoundCondition, seconds: float) -> None:
        self.rng = rng
        self.out = np.zeros(round(seconds * RATE) + 8 * RATE, np.float32)
        low, high = condition.t60_s
        self.t60_s = float(np.exp(rng.uniform(np.log(low), np.log(high))))
        self.mic = np.array([rng.uniform(1.5, 4.9), ROOM_M[1] - rng.uniform(0.0, 0.3), rng.uniform(1.6, 3.2)])
        volume, surface = float(np.prod(ROOM_M)), 2 * (6.4 * 9.75 + 6.4 * 5.64 + 9.75 * 5.64)
        self.reflect = float(np.exp(-0.5 * 0.161 * volume / (surface * self.t60_s)))
        self._grid = self._mirrors(4)
        self._tails = [self._tail() for _ in range(TAILS)]
        self._bodies = {kind: [self._body(kind) for _ in range(3)] for kind in BODY}
        self._wet = {
            (kind, i): signal.fftconvolve(body, self._tails[i % TAILS]).astype(np.float32)
            for kind, bodies in self._bodies.items()
            for i, body in enumerate(bodies)
        }

    def _mirrors(self, order: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Cells of the mirror lattice and the number of reflections of each."""
        axis = np.arange(-order, order + 1)
        cells = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
        times = np.abs(cells).sum(axis=1)
        return cells[times <= order], times[times <= order]

    def _tail(self) -> Wave:
        """Fading noise in three bands, high ones fading sooner, beginning where the mirrors end."""
        n = round(min(self.t60_s, 2.5) * RATE)
        t = np.arange(n) / RATE
        noise = self.rng.standard_normal(n)
        out = np.zeros(n)
        for band, share in (((200, 1500), 1.0), ((1500, 5000), 0.75), ((5000, 12000), 0.45)):
            sos = signal.butter(2, band, "bandpass", fs=RATE, output="sos")
            out += signal.sosfilt(sos, noise) * 10 ** (-3 * t / (self.t60_s * share))
        rise = np.clip((t - 0.004) / EARLY_S, 0, 1)
        # Level of the late field against the direct sound at 1 m: 4 / room constant, spread over time
        density = np.sqrt(4 * np.pi * SOUND_M_S / float(np.prod(ROOM_M)) / RATE)
        return np.asarray(out * rise * density / np.sqrt(np.mean(out[: RATE // 20] ** 2) + 1e-12), np.float32)

    def _body(self, kind: str) -> Wave:
        low, high, short, long, noise = BODY[kind]
        rng = self.rng
        t = np.arange(round(RATE * long * 5)) / RATE
        partials = np.exp(rng.uniform(np.log(low), np.log(high), 9))
        fades = rng.uniform(short, long, 9)
        wave = np.zeros(len(t))
        for f, fade in zip(partials, fades, strict=True):
            wave += rng.uniform(0.3, 1) * np.exp(-t / fade) * np.sin(2 * np.pi * f * t + rng.uniform(0, 6.28))
        sos = signal.butter(1, (low, min(high, RATE * 0.45)), "bandpass", fs=RATE, output="sos")
        hiss = signal.sosfilt(sos, rng.standard_normal(len(t))) * np.exp(-t / (short * 1.5))
        wave = (1 - noise) * wave / (np.abs(wave).max() + 1e-9) + noise * hiss / (np.abs(hiss).max() + 1e-9)
        return np.asarray(wave / np.abs(wave).max(), np.float32)

    def strike(self, kind: str, at_s: float, place: NDArray[np.float64], db: float = 0.0) -> float:
        """Add a sound made at a place and moment; when its direct sound reaches the microphone."""
        rng = self.rng
        i = int(rng.integers(3))
        body = self._bodies[kind][i]
        gain = 10 ** ((LEVEL_DB.get(kind, 0.0) + db + rng.normal(0, SPREAD_DB.get(kind, 2.0))) / 20)
        cells, times = self._grid
        room = np.array(ROOM_M)
        images = np.where(cells % 2 == 0, cells * room + place, (cells + 1) * room - place)
        far = np.linalg.norm(images - self.mic, axis=1)
        direct = float(np.linalg.norm(place - self.mic))
        keep = far < direct + EARLY_S * SOUND_M_S
        for d, n in zip(far[keep], times[keep], strict=True):
            self.add(body, at_s + d / SOUND_M_S, gain * self.reflect ** int(n) / max(d, 0.3))
        self.add(self._wet[(kind, i)], at_s + direct / SOUND_M_S, gain)
        return at_s + direct / SOUND_M_S

    def add(self, wave: Wave, at_s: float, gain: float) -> None:
        """Add a wave at a moment."""
        start = round(at_s * RATE)
        if 0 <= start < len(self.out) - 1:
            stop = min(len(self.out), start + len(wave))
            self.out[start:stop] += np.float32(gain) * wave[: stop - start]


def record(rng: np.random.Generator, condition: SoundCondition, seconds: float = 260.0) -> SoundRecording:
    """Return one recording of an invented stretch of a match.

    Parameters
    ----------
    rng : numpy Generator
    condition : Condition
    seconds : float
        About how long; the last rally is played to its end.
    """
    hall = Hall(rng, condition, seconds)
    truth = SoundTruth()
    at = rng.uniform(2, 6)
    if condition.knock_up_s:
        truth.knock_up = (at, at + condition.knock_up_s)
        at = _knock_up(hall, at, condition.knock_up_s)
        at += rng.uniform(12, 25)
    while at < seconds - 25:
        at = _rally(hall, truth, at, condition)
        at = _pause(hall, at, condition)
    end = at + 2.0
    if condition.neighbour_db is not None:
        _neighbour(hall, end, condition.neighbour_db)
    samples = hall.out[: round(end * RATE)]
    _background(hall, samples, condition)
    if condition.behind_glass:
        sos = signal.butter(4, 1800, fs=RATE, output="sos")
        samples = np.asarray(signal.sosfilt(sos, samples) * 10 ** (-12 / 20), np.float32)
        samples += np.float32(10 ** (-44 / 20)) * rng.standard_normal(len(samples)).astype(np.float32)
    return SoundRecording(np.asarray(0.5 * samples / np.abs(samples).max(), np.float32), truth, condition)


def record_practice(
    rng: np.random.Generator, condition: SoundCondition, seconds: float = 150.0
) -> tuple[Wave, list[float]]:
    """Simulate solo practice, one serve at a time: samples at `RATE`, and when each strike was heard.

    The ball is bounced before the serve, runs dead after it, and is fetched; two to nine seconds pass.
    """
    hall = Hall(rng, condition, seconds)
    strikes: list[float] = []
    at = rng.uniform(2, 5)
    while at < seconds - 10:
        server = _player(rng, 0)
        for k in range(int(rng.integers(0, 4))):
            hall.strike("dribble", at + 0.55 * k, np.array([server[0], server[1], 0.02]))
        strike_s, at = _shot(hall, at + 2.2 + rng.uniform(0, 0.8), 0)
        strikes.append(strike_s)
        gap = 0.5
        for _ in range(int(rng.integers(1, 5))):
            place = np.array([rng.uniform(0.3, 6.1), rng.uniform(5, 9.5), 0.02])
            hall.strike("floor", at, place, -3.0)
            at += gap
            gap *= 0.75
        if rng.random() < 0.3:
            speech(hall, at + 1, rng.uniform(0.8, 2), condition.speech_db)
        at += rng.uniform(2, 9)
    if condition.neighbour_db is not None:
        _neighbour(hall, at + 2, condition.neighbour_db)
    samples = hall.out[: round((at + 2) * RATE)]
    _background(hall, samples, condition)
    return np.asarray(0.5 * samples / np.abs(samples).max(), np.float32), strikes


def _player(rng: np.random.Generator, side: int) -> NDArray[np.float64]:
    """Return where a player strikes: mostly mid and back court, the racket at knee to shoulder height."""
    x = np.clip(rng.normal(1.6 if side else 4.8, 1.0), 0.3, 6.1)
    return np.array([x, np.clip(rng.normal(6.8, 1.6), 1.0, 9.4), rng.uniform(0.2, 1.6)])


def _shot(hall: Hall, at: float, side: int) -> tuple[float, float]:
    """Return a racket hit and what the ball does next: when it was heard, and when the next hit may come."""
    rng = hall.rng
    strike_s = hall.strike("racket", at, _player(rng, side))
    flight = float(np.clip(rng.gamma(6, 0.06), 0.12, 1.1))
    wall = np.array([rng.uniform(0.3, 6.1), 0.02, rng.uniform(0.5, 3.5)])
    hall.strike("front", at + flight, wall)
    back = float(np.clip(rng.normal(0.75, 0.2), 0.35, 1.5))
    if rng.random() < 0.45:
        x = 0.02 if rng.random() < 0.5 else 6.38
        place = np.array([x, rng.uniform(2, 8.5), rng.uniform(0.3, 2.5)])
        hall.strike("side", at + flight + back * rng.uniform(0.3, 0.9), place)
    if rng.random() < 0.7:
        floor = np.array([rng.uniform(0.3, 6.1), rng.uniform(4, 9), 0.02])
        hall.strike("floor", at + flight + back * rng.uniform(0.6, 0.95), floor)
    return strike_s, at + flight + back


def _rally(hall: Hall, truth: SoundTruth, at: float, condition: SoundCondition) -> float:
    """Bounces before the serve, the rally, and the ball running dead; when it is over."""
    rng = hall.rng
    server = _player(rng, 0)
    for k in range(int(rng.integers(0, 4))):
        hall.strike("dribble", at + 0.55 * k, np.array([server[0], server[1], 0.02]))
    at += 2.2 + rng.uniform(0, 0.8)
    hits: list[float] = []
    side = int(rng.integers(2))
    count = 1 + int(rng.geometric(0.1))
    last = len(hall.out) / RATE - LAST_S  # a rally longer than the recording ends with it
    for k in range(count):
        if k > 1 and at > last:
            break
        strike_s, at = _shot(hall, at, (side + k) % 2)
        hits.append(strike_s)
        if rng.random() < 0.25:
            _squeak(hall, at - rng.uniform(0.2, 0.8))
    if len(hits) == 1:
        strike_s, at = _shot(hall, at, (side + 1) % 2)
        hits.append(strike_s)
    if rng.random() < 0.25:
        hall.strike("tin", at - 0.4, np.array([rng.uniform(0.3, 6), 0.02, 0.3]))
    gap = 0.5
    for _ in range(int(rng.integers(1, 5))):
        hall.strike("floor", at, np.array([rng.uniform(0.3, 6.1), rng.uniform(5, 9.5), 0.02]), -3.0)
        at += gap
        gap *= 0.75
    truth.rallies.append((hits[0], hits[-1]))
    truth.hits.append(hits)
    if rng.random() < condition.applause:
        _applause(hall, at + 0.5)
    return at


def _pause(hall: Hall, at: float, condition: SoundCondition) -> float:
    """Between rallies: the call, talk, the ball sent back, a door; when the next one may begin."""
    rng = hall.rng
    length = rng.uniform(6.0, 18.0)
    speech(hall, at + rng.uniform(0.8, 1.6), rng.uniform(0.8, 2.0), condition.speech_db)
    if rng.random() < 0.6:
        speech(hall, at + rng.uniform(3.5, 5.0), rng.uniform(1, 3), condition.speech_db)
    if rng.random() < 0.5:
        hall.strike("racket", at + length * rng.uniform(0.3, 0.55), _player(rng, 1), -9.0)
    if rng.random() < condition.doors:
        place = np.array([rng.uniform(0, 6.4), 9.7, 1.0])
        hall.strike("door", at + length * rng.uniform(0.2, 0.8), place, rng.uniform(-10, -2))
    return at + length


def _knock_up(hall: Hall, at: float, seconds: float) -> float:
    """Return each player hits the ball to himself once to four times, then across; no serve, hardly a
    pause.
    """
    rng = hall.rng
    end, side = at + seconds, 0
    while at < end:
        for _ in range(int(rng.integers(1, 5))):
            _, at = _shot(hall, at, side)
        side = 1 - side
        if rng.random() < 0.12:
            at += rng.uniform(2, 5)
    return at


def _neighbour(hall: Hall, end: float, db: float) -> None:
    """The next court: rallies of its own rhythm, muffled by the wall."""
    rng = hall.rng
    sos = signal.butter(2, 4000, fs=RATE, output="sos")
    muffled = {
        kind: [np.asarray(signal.sosfilt(sos, hall._wet[(kind, i)]), np.float32) for i in range(3)]
        for kind in ("racket", "front", "floor")
    }
    dry = {
        kind: [np.asarray(signal.sosfilt(sos, np.pad(b, (0, 400))), np.float32) for b in hall._bodies[kind]]
        for kind in muffled
    }
    at = rng.uniform(0, 10)
    while at < end:
        for _ in range(1 + int(rng.geometric(0.1))):
            for kind, later in (("racket", 0.0), ("front", rng.uniform(0.2, 0.6))):
                i = int(rng.integers(3))
                gain = 10 ** ((db + LEVEL_DB[kind] + rng.normal(0, 3)) / 20)
                hall.add(dry[kind][i], at + later, gain / 5.0)
                hall.add(muffled[kind][i], at + later, gain)
            at += rng.uniform(0.9, 1.6)
        at += rng.uniform(8, 20)


def speech(hall: Hall, at: float, seconds: float, db: float) -> None:
    """Syllables of voice and hiss, about four a second."""
    rng = hall.rng
    pitch = rng.uniform(95, 220)
    end = at + seconds
    while at < end:
        n = round(rng.uniform(0.09, 0.2) * RATE)
        t = np.arange(n) / RATE
        wave = np.zeros(n)
        for h in range(1, 30):
            f = pitch * h * (1 + 0.03 * t)
            shape = sum(1 / (1 + ((pitch * h - c) / 150) ** 2) for c in (500, 1500, 2600))
            wave += shape * np.sin(2 * np.pi * np.cumsum(f) / RATE)
        envelope = np.abs(np.sin(np.pi * t / t[-1])) ** 0.6
        wave = wave / np.abs(wave).max() * envelope
        if rng.random() < 0.6:
            m = round(rng.uniform(0.01, 0.05) * RATE)
            hiss = rng.standard_normal(m) * np.linspace(1, 0.2, m) * rng.uniform(0.2, 0.9)
            wave[:m] += signal.sosfilt(signal.butter(1, 2000, "highpass", fs=RATE, output="sos"), hiss)
        hall.add(np.asarray(wave, np.float32), at, 10 ** (db / 20) / 3.0 * rng.uniform(0.5, 1.0))
        at += n / RATE + rng.uniform(0.02, 0.15)


def _squeak(hall: Hall, at: float) -> None:
    """A shoe on the floor: a gliding tone of a tenth of a second."""
    rng = hall.rng
    n = round(rng.uniform(0.05, 0.16) * RATE)
    t = np.arange(n) / RATE
    f = rng.uniform(1500, 3500) * (1 + rng.uniform(-0.3, 0.3) * t / t[-1])
    wave = np.sin(2 * np.pi * np.cumsum(f) / RATE) + 0.4 * np.sin(4 * np.pi * np.cumsum(f) / RATE)
    wave *= np.abs(np.sin(np.pi * t / t[-1])) ** 0.5
    hall.add(np.asarray(wave, np.float32), at, 10 ** (rng.uniform(-22, -12) / 20) / 4.0)


def _applause(hall: Hall, at: float) -> None:
    """Many claps for one to three seconds, near the microphone."""
    rng = hall.rng
    length = rng.uniform(1, 3)
    db = rng.uniform(-28, -18)
    for moment in at + np.sort(rng.uniform(0, length, int(length * rng.uniform(15, 60)))):
        i = int(rng.integers(3))
        hall.add(hall._bodies["clap"][i], float(moment), 10 ** ((db + rng.normal(0, 4)) / 20) / 2.0)


def _background(hall: Hall, samples: Wave, condition: SoundCondition) -> None:
    """Crowd and air: noise falling toward high tones, slowly swelling."""
    rng = hall.rng
    n = len(samples)
    noise = signal.lfilter([1], [1, -0.96], rng.standard_normal(n))
    noise /= np.std(noise)
    swell = np.interp(
        np.arange(n),
        np.arange(0, n + RATE, RATE),
        rng.uniform(0.6, 1.4, n // RATE + 2)[: len(np.arange(0, n + RATE, RATE))],
    )
    samples += np.asarray(10 ** (condition.crowd_db / 20) / 5.0 * noise * swell, np.float32)
    samples += np.float32(10 ** (-70 / 20)) * rng.standard_normal(n).astype(np.float32)
