"""Fourth training family: impacts by frequency modulation and grains, reverberation of coloured grains.

An impact is one to three tones that bend each other's pitch, with a click of grains; each surface sounds
differently from each of a few places, whose first echoes are part of the sound. The late echo is laid out of
short grains of noise, each with a spectrum of its own, fading as measured ones do: not evenly. Play comes
from `training_random_session_play`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.recording_types import (
    Surface,
    WorldContact,
    WorldRecording,
)
from goodlength.synthetic.recordings.session_recording import RATE, record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS, Setting
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession, RandomSession

Wave = NDArray[np.float32]
FAMILY = "learning operators"
TAKES, PLACES = 4, 4
# Mean level beside a racket in dB, and longest fading in s: ASSUMED
LEVELS = {
    Surface.RACKET: (-1, 1),
    Surface.FRONT_WALL: (-14, 6),
    Surface.OTHER_WALL: (-18, 2),
    Surface.FLOOR: (-24, -1),
    Surface.TIN: (-8, 6),
    Surface.OTHER: (-14, 4),
}
LONGEST_S = {Surface.TIN: 0.15}


class OperatorHall:
    """The sounds of a recording's surfaces from each place, and its late echo."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        self.level = {surface: float(rng.uniform(*pair)) for surface, pair in LEVELS.items()}
        common, alike = _timbre(rng), float(rng.random() ** 1.5)
        near = [_first_echoes(rng) for _ in range(PLACES)]
        self.sounds: dict[Surface, list[Wave]] = {}
        for surface in LEVELS:
            timbre = (1 - alike) * _timbre(rng) + alike * common
            longest = LONGEST_S.get(surface, 0.04)
            fade = float(np.exp(rng.uniform(np.log(0.0015), np.log(longest))))
            takes = [_impact(rng, timbre, fade) for _ in range(TAKES)]
            self.sounds[surface] = [
                hall_background_sounds.unit_peak(signal.convolve(take, echo))
                for take in takes
                for echo in near
            ]
        self.late = late_echo(rng, setting.t60_s, setting.wet_db)

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the late echo, and its truth."""
        rng = self.rng
        out = np.zeros(count, np.float32)
        contacts = []
        for knock in session.knocks:
            waves = self.sounds[knock.surface if knock.surface in self.sounds else Surface.OTHER]
            wave = waves[int(rng.integers(len(waves)))]
            begin = round(knock.time_s * RATE)
            if 0 <= begin < count - len(wave):
                level = self.level[knock.surface] + knock.level_db
                out[begin : begin + len(wave)] += np.float32(10 ** (level / 20)) * wave
                contacts.append(WorldContact(knock.time_s, knock.surface, knock.striker))
        return out, contacts


def _timbre(rng: np.random.Generator) -> NDArray[np.float64]:
    """Return log pitch, log ratio, bending, share, three times; then the click's share and band."""
    return np.concatenate(
        [
            rng.uniform(np.log(150), np.log(3500), 3),
            rng.uniform(np.log(0.3), np.log(6), 3),
            rng.uniform(0, 6, 3) * rng.random(),
            rng.uniform(0, 1, 3),
            [rng.uniform(0, 1.5), rng.uniform(np.log(300), np.log(6000)), rng.uniform(0.2, 2.5)],
        ]
    )


def _impact(rng: np.random.Generator, timbre: NDArray[np.float64], fade_s: float) -> Wave:
    """Return one impact: operators whose bending dies away first, and a click of grains."""
    fade = fade_s * float(np.exp(rng.normal(0, 0.12)))
    t = np.arange(round((6 * fade + 0.006) * RATE)) / RATE
    wave = np.zeros(len(t))
    for k in range(3):
        pitch = float(np.exp(timbre[k] + rng.normal(0, 0.02)))
        bend = (
            timbre[6 + k] * np.exp(-t / (0.4 * fade)) * np.sin(2 * np.pi * pitch * np.exp(timbre[3 + k]) * t)
        )
        own = fade * (1000 / (pitch + 500)) ** 0.5
        wave += timbre[9 + k] * np.sin(2 * np.pi * pitch * t + bend + rng.uniform(0, 6.28)) * np.exp(-t / own)
    low = float(np.exp(timbre[13]))
    high = min(7800.0, low * (1 + float(timbre[14])))
    band = signal.butter(2, (min(low, 7000.0), high), "bandpass", fs=RATE, output="sos")
    grains = rng.standard_normal(len(t)) * np.exp(-t / (0.3 * fade + 5e-4))
    click = signal.sosfilt(band, grains)
    wave += timbre[12] * click / (np.abs(click).max() + 1e-9)
    wave *= np.minimum(1, (t + 1e-5) / float(np.exp(rng.uniform(-9.5, -6.5)))) * np.minimum(
        1, (t[-1] - t) / 0.002
    )
    return hall_background_sounds.unit_peak(wave)


def _first_echoes(rng: np.random.Generator) -> Wave:
    """Return the direct sound and the first echoes of a place, some louder than the direct sound."""
    out = np.zeros(round(0.06 * RATE), np.float32)
    out[0] = 1.0
    strong = float(rng.uniform(0.05, 0.9)) if rng.random() < 0.85 else float(rng.uniform(0.9, 2.0))
    for at in rng.uniform(0.0006, 0.055, int(rng.integers(2, 12))).tolist():
        begin = int(at * RATE)
        smear = np.hanning(int(rng.integers(1, 9)) + 2)[1:-1]
        smear = smear / smear.sum() * rng.choice([-1, 1]) * strong * rng.random() * np.exp(-at / 0.04)
        stop = min(len(out), begin + len(smear))
        out[begin:stop] += smear[: stop - begin].astype(np.float32)
    return out


def late_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and a tail of coloured grains; it may outdo the direct sound in energy."""
    count = round(min(2.5, 0.9 * t60_s + 0.05) * RATE)
    out = np.zeros(count + RATE // 4)
    grain = round(float(rng.uniform(0.004, 0.04)) * RATE)
    window = np.hanning(2 * grain + 2)[1:-1]
    colour, drift = rng.normal(0, 3, 9), float(rng.uniform(1, 6))
    damping = np.linspace(0, -1, 9) * float(rng.uniform(0, 60)) / t60_s
    fading = 60 / t60_s
    for begin in range(round(float(rng.uniform(0.003, 0.05)) * RATE), count, grain):
        at = begin / RATE
        shape = colour + rng.normal(0, drift, 9) + damping * at
        level = -fading * at + float(rng.normal(0, 2))
        out[begin : begin + 2 * grain] += (
            hall_background_sounds.shaped_noise(rng, 2 * grain, RATE, shape)[: 2 * grain]
            * window
            * 10 ** (level / 20)
        )
    if rng.random() < 0.3:  # between two bare walls
        step, keep = round(float(rng.uniform(0.015, 0.06)) * RATE), float(rng.uniform(0.2, 0.8))
        for k in range(1, int(count / step)):
            out[k * step] += keep**k * float(np.std(out) * 30 + 1e-3)
    wet = 10 ** ((wet_db + float(rng.uniform(-4, 16))) / 20)
    out *= wet / (np.sqrt((out**2).sum()) + 1e-9)
    out[0] = 1.0
    return np.asarray(out, np.float32)


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    return record_session(rng, FAMILY, condition, seconds, RandomSession, OperatorHall)
