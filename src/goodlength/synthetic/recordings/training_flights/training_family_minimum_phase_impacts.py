"""The fourth learning family: impacts as minimum-phase pulses, a hall of delay lines, play from flights.

An impact's spectrum is drawn (a curve, peaks and gaps) and becomes the shortest pulse that has it; harder
ones are brighter. The echo is a network of delay lines feeding each other, each duller at every turn. Which
surface is louder at the phone is left open, also between racket and front wall: only how flights follow each
other tells them apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.recording_types import Surface, WorldContact, WorldRecording
from goodlength.synthetic.recordings.session_recording import RATE, record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS, Setting
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import FlightSession
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession

Wave = NDArray[np.float32]
FAMILY = "learning pulses"
LINES = 1024  # of a pulse's spectrum
TAKES, HARDNESSES, DB_A_HARDNESS = 4, 3, 9.0
# Mean level beside a racket in dB: lowest, highest, ASSUMED
LEVELS = {
    Surface.RACKET: (-1, 1),
    Surface.FRONT_WALL: (-12, 5),
    Surface.OTHER_WALL: (-18, 0),
    Surface.FLOOR: (-24, -2),
    Surface.TIN: (-6, 8),
    Surface.OTHER: (-14, 4),
}
DELAYS_S = (0.009, 0.067)


class PulseHall:
    """The sounds of a recording's surfaces, by hardness, and its echo."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        self.level = {surface: float(rng.uniform(*pair)) for surface, pair in LEVELS.items()}
        self.brighter_db = float(rng.uniform(0, 8))
        common, alike = _curve(rng), float(rng.random() ** 1.5)
        self.sounds = {surface: self._sounds(surface, common, alike) for surface in LEVELS}
        self.late = delay_echo(rng, setting.t60_s, setting.wet_db)

    def _sounds(self, surface: Surface, common: NDArray[np.float64], alike: float) -> list[list[Wave]]:
        rng = self.rng
        curve = alike * common + (1 - alike) * _curve(rng)
        longest = 0.12 if surface is Surface.TIN else 0.03
        fade_s = float(np.exp(rng.uniform(np.log(0.0008), np.log(longest))))
        tilt = np.linspace(-1, 1, len(curve))
        out = []
        for hard in range(HARDNESSES):
            shape = curve + self.brighter_db * (hard - 1) * tilt
            out.append([_pulse(rng, shape + rng.normal(0, 1.2, len(shape)), fade_s) for _ in range(TAKES)])
        return out

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the late echo, and its truth."""
        rng = self.rng
        out, contacts = np.zeros(count, np.float32), []
        for knock in session.knocks:
            surface = knock.surface if knock.surface in self.sounds else Surface.OTHER
            hard = int(np.clip(round(1.5 + knock.level_db / DB_A_HARDNESS), 0, HARDNESSES - 1))
            takes = self.sounds[surface][hard]
            wave = takes[int(rng.integers(len(takes)))]
            begin = round(knock.time_s * RATE)
            if 0 <= begin < count - len(wave):
                out[begin : begin + len(wave)] += (
                    np.float32(10 ** ((self.level[surface] + knock.level_db) / 20)) * wave
                )
                contacts.append(WorldContact(knock.time_s, knock.surface, knock.striker))
        return out, contacts


def _curve(rng: np.random.Generator) -> NDArray[np.float64]:
    """Return a spectrum in dB at 64 points even in log frequency: slow waves, peaks and gaps."""
    points = np.linspace(0, 1, 64)
    out = np.interp(points, np.linspace(0, 1, 7), rng.normal(0, 6, 7).cumsum() * float(rng.uniform(0.3, 1)))
    for _ in range(int(rng.integers(0, 9))):
        wide = float(np.exp(rng.uniform(np.log(0.008), np.log(0.1))))
        out += float(rng.uniform(-18, 26)) * np.exp(-(((points - rng.random()) / wide) ** 2) / 2)
    return np.asarray(out, np.float64)


def _pulse(rng: np.random.Generator, shape_db: NDArray[np.float64], fade_s: float) -> Wave:
    """Return the minimum-phase pulse of a spectrum, fading, with its peak at 1."""
    hertz = np.fft.rfftfreq(2 * LINES, 1 / RATE)
    points = np.geomspace(80, RATE / 2, len(shape_db))
    log_size = np.interp(np.log(np.maximum(hertz, 80)), np.log(points), shape_db) * np.log(10) / 20
    cepstrum = np.fft.irfft(log_size)
    cepstrum[1:LINES] *= 2
    cepstrum[LINES + 1 :] = 0
    wave = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)))
    drive = rng.standard_normal(round(4 * fade_s * RATE) + 8)
    drive *= np.exp(-np.arange(len(drive)) / (fade_s * RATE)) * float(rng.uniform(0, 0.8))
    drive[0] += 1.0
    whole = signal.fftconvolve(wave, drive)
    whole = whole[: round((8 * fade_s + 0.03) * RATE)]
    whole *= np.minimum(1, np.arange(len(whole))[::-1] / 32)
    return hall_background_sounds.unit_peak(whole)


def delay_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and the echo of eight delay lines that feed each other."""
    count, size = round(min(2.5, 0.9 * t60_s + 0.05) * RATE), 8
    delays = np.sort(rng.integers(round(DELAYS_S[0] * RATE), round(DELAYS_S[1] * RATE), size))
    mixing = np.linalg.qr(rng.standard_normal((size, size)))[0]
    keep = 10 ** (-3 * delays / RATE / t60_s)
    dull = rng.uniform(0.0, 0.45, size)
    lines = np.zeros((size, count + delays[-1] + 1))
    feed = rng.choice([-1.0, 1.0], size)
    lines[:, 0] = feed
    block = int(delays[0])
    for begin in range(0, count, block):
        stop = min(count, begin + block)
        at = np.arange(begin, stop)
        echo = np.zeros((size, stop - begin))
        for k in range(size):
            back = at - delays[k]
            early = np.where(back >= 0, lines[k, np.maximum(back, 0)], 0.0)
            before = np.where(back >= 1, lines[k, np.maximum(back - 1, 0)], 0.0)
            echo[k] = keep[k] * ((1 - dull[k]) * early + dull[k] * before)
        lines[:, begin:stop] += mixing @ echo
    out = (lines[:, :count] * rng.standard_normal((size, 1))).sum(axis=0)
    out[0] = 0.0
    wet = 10 ** ((wet_db + float(rng.uniform(-4, 16))) / 20)
    out *= wet / (np.sqrt((out**2).sum()) + 1e-9)
    out[0] = 1.0
    return np.asarray(out, np.float32)


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    return record_session(rng, FAMILY, condition, seconds, FlightSession, PulseHall)
