"""The ninth learning family: impacts as atoms of sound with soft attacks, an echo drawn line by line.

A surface is a handful of atoms (a tone or noise of a width, with a rise of up to some milliseconds and a fall
of its own), so that what a contact begins with is not always sharp. The echo is drawn in the plane of time
and frequency: normal numbers under a fading curve for each line. Play from `DrillSession` or flights.
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
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import FlightSession

Wave = NDArray[np.float32]
FAMILY = "learning atoms"
LINES = 128


class Atoms:
    """A surface: its atoms (hertz, width, rise, fall, share) and how they move with hardness."""

    def __init__(self, rng: np.random.Generator, rings: bool) -> None:
        self.rng = rng
        count = int(rng.integers(2, 9))
        self.hertz = np.exp(rng.uniform(np.log(120), np.log(7200), count))
        self.wide = rng.uniform(0, 0.6, count) * (rng.random(count) < 0.7)
        self.rise_s = np.exp(rng.uniform(np.log(5e-5), np.log(3e-3), count))
        self.fall_s = np.exp(rng.uniform(np.log(1e-3), np.log(0.15 if rings else 0.02), count))
        self.share = rng.dirichlet(np.full(count, 0.8))
        self.tilt = float(rng.uniform(0, 1.0))

    def struck(self, hardness: float) -> Wave:
        """Return the sound of a contact."""
        rng = self.rng
        count = round((6 * float(self.fall_s.max()) + 0.008) * RATE)
        t, wave = np.arange(count) / RATE, np.zeros(count)
        share = self.share * (self.hertz / 1500) ** (self.tilt * 0.3 * hardness)
        for hertz, wide, rise, fall, part in zip(
            self.hertz, self.wide, self.rise_s, self.fall_s, share, strict=True
        ):
            drift = np.cumsum(rng.standard_normal(count)) * wide * 0.35
            shape = (1 - np.exp(-(t + 0.5 / RATE) / rise)) * np.exp(-t / fall)
            wave += part * shape * np.sin(2 * np.pi * hertz * t + drift + float(rng.uniform(0, 6.28)))
        return unit_peak(faded(wave))


def spectrogram_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and an echo drawn in the plane of time and frequency."""
    count = echo_count(t60_s)
    steps = count // (LINES // 2) + 2
    t = np.arange(steps) * (LINES / 2) / RATE
    points = np.linspace(0, 5, LINES // 2 + 1)
    fade = t60_s * 2 ** np.interp(points, np.arange(6), np.sort(rng.uniform(-1.6, 0.5, 6))[::-1])
    gain = np.interp(points, np.arange(6), rng.normal(0, 4, 6))
    rise = 1 - np.exp(-(t + 1e-4) / float(np.exp(rng.uniform(np.log(1e-3), np.log(0.08)))))
    size = 10 ** (gain[:, None] / 20 - 3 * t / fade[:, None]) * rise
    lines = size * (rng.standard_normal(size.shape) + 1j * rng.standard_normal(size.shape))
    _, tail = signal.istft(lines, RATE, nperseg=LINES)
    return with_echo(rng, np.asarray(np.pad(tail, (0, count))[:count], np.float64), wet_db)


def atom_hall(rng: np.random.Generator, setting: Setting) -> StruckHall:
    """Return a hall of atoms."""
    makers = {surface: partial(Atoms(rng, surface is Surface.TIN).struck) for surface in LEVELS}
    return StruckHall(rng, makers, spectrogram_echo(rng, setting.t60_s, setting.wet_db))


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    play = DrillSession if rng.random() < 0.75 else FlightSession
    phone = taken_by if rng.random() < 0.7 else None
    return record_session(rng, FAMILY, condition, seconds, play, atom_hall, phone=phone)
