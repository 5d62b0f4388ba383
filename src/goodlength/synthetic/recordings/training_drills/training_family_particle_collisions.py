"""The eighth learning family: impacts as many small collisions, an echo of all-passes and combs.

A contact is a cloud of tiny collisions that dies away, each of which rings in a few resonances of the
surface (strings against a frame, gravel, a loose panel). The echo follows Schroeder's method: combs side by
side, then all-passes one after the other. Play comes from `DrillSession` or random processes.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings.hall_background_sounds import unit_peak
from goodlength.synthetic.recordings.recording_types import Surface, WorldRecording
from goodlength.synthetic.recordings.session_recording import RATE, record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS, Setting
from goodlength.synthetic.recordings.training_drills.drill_session_play import DrillSession
from goodlength.synthetic.recordings.training_drills.hall_impact_sounds_and_echo import (
    LEVELS,
    StruckHall,
    echo_count,
    faded,
    with_echo,
)
from goodlength.synthetic.recordings.training_drills.phone_audio_effects import taken_by
from goodlength.synthetic.recordings.training_random_session_play import RandomSession

Wave = NDArray[np.float32]
FAMILY = "learning particles"


class Particles:
    """A surface: how its collisions die away, and the resonances in which each rings."""

    def __init__(self, rng: np.random.Generator, rings: bool) -> None:
        self.rng = rng
        self.many = float(np.exp(rng.uniform(np.log(1.5), np.log(400))))
        self.fade_s = float(np.exp(rng.uniform(np.log(0.0006), np.log(0.08 if rings else 0.02))))
        count = int(rng.integers(1, 6))
        self.hertz = np.exp(rng.uniform(np.log(150), np.log(7000), count))
        longest = 0.12 if rings else 0.015
        self.ring_s = np.exp(rng.uniform(np.log(0.0004), np.log(longest), count))
        self.gain = rng.dirichlet(np.ones(count))
        self.thump = float(rng.random() ** 2)
        self.thump_hz, self.brighter = float(rng.uniform(60, 500)), float(rng.uniform(0, 0.25))

    def struck(self, hardness: float) -> Wave:
        """Return the sound of a contact."""
        rng = self.rng
        count = round((6 * max(self.fade_s, float(self.ring_s.max())) + 0.01) * RATE)
        drive = np.zeros(count)
        number = 1 + int(rng.poisson(self.many * 2 ** (0.3 * hardness)))
        place = np.minimum((rng.exponential(self.fade_s, number) * RATE).astype(np.int64), count - 1)
        place[0] = 0
        size = rng.exponential(1.0, number) * np.exp(-place / RATE / self.fade_s / 2)
        size[0] += float(rng.uniform(0.5, 4))
        np.add.at(drive, place, size * rng.choice([-1.0, 1.0], number))
        wave = np.zeros(count)
        for hertz, ring, gain in zip(self.hertz, self.ring_s, self.gain, strict=True):
            pitch = min(
                0.48 * RATE, hertz * 2 ** (self.brighter * hardness) * float(np.exp(rng.normal(0, 0.01)))
            )
            pole = np.exp(-1 / (ring * RATE) + 2j * np.pi * pitch / RATE)
            part = signal.lfilter([1.0], [1, -2 * pole.real, abs(pole) ** 2], drive)
            wave += gain * part / (np.abs(part).max() + 1e-9)
        t = np.arange(count) / RATE
        wave += self.thump * np.sin(2 * np.pi * self.thump_hz * t) * np.exp(-t / (2 * self.fade_s + 0.004))
        return unit_peak(faded(wave))


def comb_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and an echo of four to eight combs and two to four all-passes."""
    count = echo_count(t60_s)
    drive, tail = np.zeros(count), np.zeros(count)
    drive[0] = 1.0
    for _ in range(int(rng.integers(4, 9))):
        delay = int(rng.integers(round(0.015 * RATE), round(0.06 * RATE)))
        keep, dull = 10 ** (-3 * delay / RATE / t60_s), float(rng.uniform(0, 0.5))
        tail += delayed(drive, delay, 0.0, -keep * (1 - dull), -keep * dull)
    for _ in range(int(rng.integers(2, 5))):
        delay, g = int(rng.integers(8, round(0.012 * RATE))), float(rng.uniform(0.4, 0.75))
        tail = delayed(tail, delay, -g, -g, 0.0)
    return with_echo(rng, tail, wet_db)


def delayed(
    wave: NDArray[np.float64], delay: int, direct: float, back: float, later: float
) -> NDArray[np.float64]:
    """Return y[n] = direct x[n] + x[n - delay] - back y[n - delay] - later y[n - delay - 1].

    As `signal.lfilter` with all other coefficients nought, to the bit, a delay at a time instead of a sample.
    """
    before, count = delay + 1, len(wave)
    x, y = np.zeros(count + before), np.zeros(count + before)
    x[before:] = wave
    for begin in range(before, count + before, delay):
        end = min(begin + delay, count + before)
        gone, further = slice(begin - delay, end - delay), slice(begin - delay - 1, end - delay - 1)
        y[begin:end] = (-later * y[further] + x[gone] - back * y[gone]) + direct * x[begin:end]
    return y[before:]


def particle_hall(rng: np.random.Generator, setting: Setting) -> StruckHall:
    """Return a hall of particles."""
    makers = {surface: partial(Particles(rng, surface is Surface.TIN).struck) for surface in LEVELS}
    return StruckHall(rng, makers, comb_echo(rng, setting.t60_s, setting.wet_db))


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    play = DrillSession if rng.random() < 0.75 else RandomSession
    phone = taken_by if rng.random() < 0.7 else None
    return record_session(rng, FAMILY, condition, seconds, play, particle_hall, phone=phone)
