"""The seventh learning family: impacts on plates and strings with the modes of their shape, velvet echo.

A surface is a plate or a net of strings of drawn sides, stiffness and damping; a ball or frame touches it at
a point for a time by Hertz's law, which says how far each mode is driven. The echo is velvet noise, each
octave of it fading at its own pace. Play comes from `DrillSession`, phones are of either make.
"""

from __future__ import annotations

from functools import cached_property, partial

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
FAMILY = "learning plates"
MOST_MODES, LONGEST_S = 60, 0.35


class Plate:
    """Modes of a plate (or of strings, whose modes lie evenly): hertz, damping and shape.

    Parameters
    ----------
    rng : numpy Generator
    rings : bool
        Whether it may ring for long, as a tin does.
    """

    def __init__(self, rng: np.random.Generator, rings: bool) -> None:
        self.rng = rng
        m, n = (grid.ravel() for grid in np.meshgrid(np.arange(1, 13), np.arange(1, 9)))
        self.m, self.n, self.aspect = m, n, float(rng.uniform(0.2, 1.0))
        low = float(np.exp(rng.uniform(np.log(40), np.log(1800))))
        stiff = float(rng.random())  # 0: strings or a skin, 1: a plate
        order = np.sqrt(m**2 + (self.aspect * n) ** 2) / np.sqrt(1 + self.aspect**2)
        hertz = low * order ** (1 + stiff) * np.exp(rng.normal(0, 0.02, len(m)))
        lowest = np.argsort(hertz)[:MOST_MODES]
        lowest = lowest[hertz[lowest] < 0.47 * RATE]
        self.m, self.n, self.hertz = m[lowest], n[lowest], hertz[lowest]
        longest = LONGEST_S if rings else 0.05
        slow = float(np.exp(rng.uniform(np.log(0.003), np.log(longest))))
        by_hertz = float(rng.uniform(0.0, 1.5))
        self.fade_s = np.clip(slow * (self.hertz / 500) ** -by_hertz, 0.0006, longest)
        self.contact_s = float(np.exp(rng.uniform(np.log(1.2e-4), np.log(4e-3))))
        self.place, self.spread = rng.uniform(0.1, 0.9, 2), float(rng.uniform(0, 0.2))
        self.click = float(rng.random() ** 2)

    @cached_property
    def modes(self) -> NDArray[np.float64]:
        """Return the fading tone of each mode, shape (modes, samples): the same at every contact."""
        t = np.arange(round(min(0.5, 6 * float(self.fade_s.max()) + 0.01) * RATE)) / RATE
        return np.asarray(np.exp(-t / self.fade_s[:, None]) * np.sin(2 * np.pi * self.hertz[:, None] * t))

    def struck(self, hardness: float) -> Wave:
        """Return the sound of a contact; harder ones are shorter by Hertz's law (a fifth of the speed)."""
        rng = self.rng
        contact = self.contact_s * 2 ** (-0.2 * hardness) * float(np.exp(rng.normal(0, 0.05)))
        x, y = np.clip(self.place + rng.normal(0, self.spread, 2), 0.02, 0.98)
        shape = np.sin(np.pi * self.m * x) * np.sin(np.pi * self.n * y)
        driven = np.abs(np.cos(np.pi * self.hertz * contact) / (1 - (2 * self.hertz * contact) ** 2 + 1e-3))
        waves = self.modes
        count = waves.shape[1]
        t = np.arange(count) / RATE
        strength = shape * np.minimum(driven, 1.5) * np.sqrt(self.hertz)
        push = np.sin(np.pi * np.minimum(1, t / contact)) ** 1.5
        wave = strength @ waves if len(strength) else push
        wave = wave / (np.abs(wave).max() + 1e-9) + self.click * push * rng.standard_normal(count)
        return unit_peak(faded(wave * np.minimum(1, (t + 0.5 / RATE) / (0.5 * contact + 1 / RATE))))


def velvet_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and velvet noise (a pulse of either sign in each slot), by octaves."""
    count = echo_count(t60_s)
    slot = RATE / float(np.exp(rng.uniform(np.log(400), np.log(4000))))
    place = ((np.arange(int(count / slot)) + rng.random(int(count / slot))) * slot).astype(np.int64)
    place = place[(place > 0) & (place < count)]
    dense = np.zeros(count)
    dense[place] = rng.choice([-1.0, 1.0], len(place))
    t, tail, low = np.arange(count) / RATE, np.zeros(count), dense
    drop = float(rng.uniform(0.5, 1.0))
    for k, edge in enumerate((250, 500, 1000, 2000, 4000)):
        band = signal.sosfilt(signal.butter(2, edge, fs=RATE, output="sos"), low)
        tail += band * 10 ** (-3 * t / (t60_s * float(rng.uniform(0.8, 1.3)) * drop**k))
        low = low - band
    tail += low * 10 ** (-3 * t / (t60_s * drop**5))
    before = round(float(rng.uniform(0.001, 0.03)) * RATE)
    tail[:before] *= float(rng.uniform(0, 0.4))
    return with_echo(rng, tail, wet_db)


def plate_hall(rng: np.random.Generator, setting: Setting) -> StruckHall:
    """Return a hall of plates."""
    shared = Plate(rng, False)
    makers = {}
    for surface in LEVELS:
        plate = shared if rng.random() < 0.08 else Plate(rng, surface is Surface.TIN)
        makers[surface] = partial(plate.struck)
    return StruckHall(rng, makers, velvet_echo(rng, setting.t60_s, setting.wet_db))


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    play = DrillSession if rng.random() < 0.75 else FlightSession
    phone = taken_by if rng.random() < 0.7 else None
    return record_session(rng, FAMILY, condition, seconds, play, plate_hall, phone=phone)
