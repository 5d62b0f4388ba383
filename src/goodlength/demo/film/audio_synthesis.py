"""Synthesise the demo video's sound in blocks: impacts with the court's echo, shoes, murmur, a quiet room.

An impact is heard when its sound has come to the microphone, which stands at the camera.
Levels beside the racket's and their spread are those of the simulated recordings in which hearing of
rallies was first tried (docs/reference/demo.md); nothing here was recorded on a court.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.court.dimensions import WIDTH_M
from goodlength.demo.film.game_timeline import Filmed, FilmedContact
from goodlength.demo.play.court_camera import CEILING_M, PinholeCamera, Point

Wave = NDArray[np.float32]

RATE = 48_000
SOUND_M_S = 343.0  # in air at 20 degrees; source: SOUND-SPEED-20C
RACKET_PEAK = 0.26  # of full scale, six metres away
REFERENCE_M = 6.0
SPREAD_DB = 2.5
LEVEL_DB = {
    "racket": 0.0,
    "front-wall": -5.0,
    "side-wall": -8.0,
    "back-wall": -8.0,
    "floor": -15.0,
    "tin": -1.0,
}
USUAL_SPEED_M_S = {
    "racket": 24.0,
    "front-wall": 20.0,
    "side-wall": 9.0,
    "back-wall": 7.0,
    "floor": 7.0,
    "tin": 15.0,
}
SQUEAK_DB, VOICE_DB, ROOM_DB = -15.0, -17.0, -46.0
# lowest and highest partial in Hz, shortest and longest fading time of a partial in s, share of plain click
BODIES = {
    "racket": (1100.0, 7000.0, 0.003, 0.009, 0.5),
    "front-wall": (350.0, 4200.0, 0.004, 0.012, 0.4),
    "side-wall": (400.0, 3800.0, 0.004, 0.012, 0.35),
    "back-wall": (600.0, 5200.0, 0.006, 0.018, 0.35),
    "floor": (180.0, 2600.0, 0.005, 0.014, 0.3),
    "tin": (600.0, 6500.0, 0.02, 0.09, 0.3),
}
VARIANTS = 6
ECHO_S = 1.3
ECHO_T60_S = (
    (300.0, 2000.0, 1.5),
    (2000.0, 6000.0, 1.1),
    (6000.0, 12000.0, 0.6),
)  # band in Hz, fading by 60 dB
ECHO_DB = -21.0  # of the echo's beginning below the direct impact
MARKER: Point = (2.3, 11.4, 1.6)


@dataclass(frozen=True)
class _Piece:
    """A stretch of sound with the sample at which it begins."""

    at: int
    gain: float
    wave: Wave


def arrival_time_s(hit: FilmedContact, camera: PinholeCamera) -> float:
    """Return when an impact comes to the microphone, seconds from the start of the film."""
    return hit.time_s + camera.distance_m(hit.at) / SOUND_M_S


class GameSound:
    """The sound of a filmed game; the same seed gives the same samples whatever the blocks."""

    def __init__(self, filmed: Filmed, camera: PinholeCamera, seed: int) -> None:
        self.filmed = filmed
        self.camera = camera
        self.seed = seed
        rng = np.random.default_rng(seed)
        self.echo = _echo(rng)
        self.dry = {kind: [_impact(kind, rng) for _ in range(VARIANTS)] for kind in BODIES}
        self.wet = {kind: [_convolved(w, self.echo) for w in waves] for kind, waves in self.dry.items()}
        pieces = [p for hit in filmed.hits for p in self._of_hit(hit, rng)]
        pieces += [p for t, at in filmed.squeaks for p in self._with_echo(t, at, _squeak(rng), SQUEAK_DB)]
        pieces += [
            p for a, b in filmed.voices for p in self._with_echo(a, MARKER, _murmur(b - a, rng), VOICE_DB)
        ]
        self.pieces = sorted(pieces, key=lambda p: p.at)
        self.longest = max((len(p.wave) for p in pieces), default=0)
        self.count = round(filmed.length_s * RATE)

    def _of_hit(self, hit: FilmedContact, rng: np.random.Generator) -> list[_Piece]:
        """Return the direct sound of an impact, five first reflections, and the echo."""
        fast = min(max(hit.speed_m_s / USUAL_SPEED_M_S[hit.kind], 0.05), 1.6)
        db = LEVEL_DB[hit.kind] + SPREAD_DB * float(np.clip(rng.normal(), -2, 2)) + 14.0 * math.log10(fast)
        variant = int(rng.integers(VARIANTS))
        gain = RACKET_PEAK * 10 ** (db / 20)
        begin = arrival_time_s(hit, self.camera)
        away = self.camera.distance_m(hit.at)
        dry = self.dry[hit.kind][variant]
        near = gain * REFERENCE_M / away
        pieces = [
            _Piece(round(begin * RATE), near, dry),
            _Piece(round(begin * RATE), gain, self.wet[hit.kind][variant]),
        ]
        x, y, z = hit.at
        images = ((-x, y, z), (2 * WIDTH_M - x, y, z), (x, -y, z), (x, y, -z), (x, y, 2 * CEILING_M - z))
        for image in images:
            far = self.camera.distance_m(image)
            late = hit.time_s + far / SOUND_M_S
            pieces.append(_Piece(round(late * RATE), 0.45 * gain * REFERENCE_M / far, dry))
        return pieces

    def _with_echo(self, time_s: float, at: Point, wave: Wave, db: float) -> list[_Piece]:
        """Another sound from a place, with its echo."""
        begin = round((time_s + self.camera.distance_m(at) / SOUND_M_S) * RATE)
        gain = RACKET_PEAK * 10 ** (db / 20)
        near = gain * REFERENCE_M / self.camera.distance_m(at)
        return [_Piece(begin, near, wave), _Piece(begin, 0.5 * gain, _convolved(wave, self.echo))]

    def block(self, first: int, last: int) -> Wave:
        """Return samples first to last, the last left out, within -1 and 1."""
        out = self._room(first, last)
        for piece in self.pieces:
            if piece.at >= last:
                break
            if piece.at + len(piece.wave) <= first:
                continue
            a, b = max(first, piece.at), min(last, piece.at + len(piece.wave))
            out[a - first : b - first] += np.float32(piece.gain) * piece.wave[a - piece.at : b - piece.at]
        return np.asarray(np.tanh(out), dtype=np.float32)

    def _room(self, first: int, last: int) -> Wave:
        """Return the quiet room: noise falling with frequency, the same for each second whatever is asked."""
        seconds = range(first // RATE, (last - 1) // RATE + 1)
        parts = []
        for second in seconds:
            white = np.random.default_rng((self.seed, second)).normal(size=RATE).astype(np.float32)
            parts.append(signal.lfilter([0.22], [1.0, -0.90], white))
        noise = np.concatenate(parts) * RACKET_PEAK * 10 ** (ROOM_DB / 20)
        start = first - seconds[0] * RATE
        return np.asarray(noise[start : start + last - first], dtype=np.float32)


def _convolved(wave: Wave, echo: Wave) -> Wave:
    return np.asarray(signal.fftconvolve(wave, echo), dtype=np.float32)


def _impact(kind: str, rng: np.random.Generator) -> Wave:
    """Return a short impact with its loudest sample at 1: a click and fading partials."""
    low, high, short, long, click = BODIES[kind]
    t = np.arange(round(RATE * (0.25 if kind == "tin" else 0.06))) / RATE
    wave = np.zeros_like(t)
    for _ in range(14):
        pitch = low * (high / low) ** rng.random()
        fades = short + (long - short) * rng.random()
        wave += (
            rng.uniform(0.4, 1.0)
            * np.exp(-t / fades)
            * np.sin(2 * math.pi * pitch * t + rng.uniform(0, 6.28))
        )
    wave /= np.abs(wave).max()
    wave += click * rng.normal(size=len(t)) * np.exp(-t / 0.0012)
    wave *= np.minimum(1.0, (t + 1 / RATE) / 0.00015)
    wave *= np.minimum(1.0, (t[-1] - t) / 0.005)
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float32)


def _echo(rng: np.random.Generator) -> Wave:
    """Return what the court makes of an impulse after the first reflections: noise that fades, the high
    sooner.
    """
    t = np.arange(round(RATE * ECHO_S)) / RATE
    out = np.zeros_like(t)
    for low, high, t60 in ECHO_T60_S:
        sos = signal.butter(2, [low, high], btype="bandpass", fs=RATE, output="sos")
        band = signal.sosfilt(sos, rng.normal(size=len(t)))
        out += band / np.std(band) * 10 ** (-3 * t / t60)
    out *= np.clip((t - 0.012) / 0.02, 0.0, 1.0)  # nothing before the walls could answer
    out *= np.minimum(1.0, (t[-1] - t) / 0.1)
    return np.asarray(out * 10 ** (ECHO_DB / 20) / math.sqrt(3), dtype=np.float32) * 0.12


def _squeak(rng: np.random.Generator) -> Wave:
    """Return a shoe on the floor."""
    t = np.arange(round(RATE * rng.uniform(0.05, 0.12))) / RATE
    pitch = rng.uniform(2000, 3600) * (1 + rng.uniform(-1.5, 1.5) * t)
    angle = 2 * math.pi * np.cumsum(pitch) / RATE
    wave = (np.sin(angle) + 0.5 * np.sin(2 * angle)) * np.hanning(len(t))
    return np.asarray(wave / 1.5, dtype=np.float32)


def _murmur(length_s: float, rng: np.random.Generator) -> Wave:
    """Speech-like sound without words: a buzzing voice through slowly moving formants."""
    n = round(RATE * length_s)
    t = np.arange(n) / RATE
    pitch = rng.uniform(105, 180) * (1 + 0.08 * np.sin(2 * math.pi * 1.3 * t + rng.uniform(0, 6.28)))
    buzz = signal.sawtooth(2 * math.pi * np.cumsum(pitch) / RATE) + 0.2 * rng.normal(size=n)
    out = np.zeros(n)
    for centre, wide, gain in ((520, 120, 1.0), (1450, 220, 0.5), (2500, 350, 0.25)):
        shift = centre * rng.uniform(0.85, 1.15)
        sos = signal.butter(1, [shift - wide, shift + wide], btype="bandpass", fs=RATE, output="sos")
        out += gain * signal.sosfilt(sos, buzz)
    beat = np.clip(np.sin(2 * math.pi * rng.uniform(3.2, 4.6) * t + rng.uniform(0, 6.28)) + 0.35, 0, 1)
    fade = np.minimum(1.0, np.minimum(t, t[-1] - t) / 0.05)
    out *= beat * fade
    return np.asarray(out / max(1e-9, float(np.abs(out).max())), dtype=np.float32)
