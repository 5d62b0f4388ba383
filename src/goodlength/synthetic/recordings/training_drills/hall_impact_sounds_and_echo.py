"""A hall for a played session: variants of each surface's sound by hardness, their levels, and an echo."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.recording_types import Surface, WorldContact
from goodlength.synthetic.recordings.session_recording import RATE
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession

Wave = NDArray[np.float32]
HARDNESSES, TAKES, DB_A_HARDNESS = 4, 4, 6.0
# Mean level beside a racket in dB: lowest, highest, ASSUMED
LEVELS = {
    Surface.RACKET: (-2, 2),
    Surface.FRONT_WALL: (-13, 6),
    Surface.OTHER_WALL: (-19, 2),
    Surface.FLOOR: (-24, 0),
    Surface.TIN: (-6, 8),
    Surface.OTHER: (-14, 4),
}


class StruckHall:
    """The sounds of a recording's surfaces, and its echo.

    Parameters
    ----------
    rng : numpy Generator
    makers : mapping of Surface to callable
        What makes a surface's sound, with its peak at 1, by hardness in doublings.
    late : ndarray
        The direct sound with its echo.
    """

    def __init__(
        self, rng: np.random.Generator, makers: Mapping[Surface, Callable[[float], Wave]], late: Wave
    ):
        self.rng, self.late = rng, late
        self.level = {surface: float(rng.uniform(*pair)) for surface, pair in LEVELS.items()}
        self.sounds = {
            surface: [[make(hard - 1.5) for _ in range(TAKES)] for hard in range(HARDNESSES)]
            for surface, make in makers.items()
        }

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the late echo, and its truth."""
        rng = self.rng
        out, contacts = np.zeros(count, np.float32), []
        for knock in session.knocks:
            surface = knock.surface if knock.surface in self.sounds else Surface.OTHER
            hard = int(np.clip(round(2 + knock.level_db / DB_A_HARDNESS), 0, HARDNESSES - 1))
            wave = self.sounds[surface][hard][int(rng.integers(TAKES))]
            begin = round(knock.time_s * RATE)
            if 0 <= begin < count - len(wave):
                gain = 10 ** ((self.level[surface] + knock.level_db) / 20)
                out[begin : begin + len(wave)] += np.float32(gain) * wave
                contacts.append(WorldContact(knock.time_s, knock.surface, knock.striker))
        return out, contacts


def with_echo(rng: np.random.Generator, tail: NDArray[np.float64], wet_db: float) -> Wave:
    """Return the direct sound followed by a tail at a level."""
    out = tail * 10 ** ((wet_db + float(rng.uniform(-4, 16))) / 20) / (np.sqrt((tail**2).sum()) + 1e-9)
    out[0] = 1.0
    return np.asarray(out, np.float32)


def echo_count(t60_s: float) -> int:
    """Return how many samples of an echo are kept."""
    return round(min(2.5, 0.9 * t60_s + 0.05) * RATE)


def faded(wave: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a wave whose last 3 ms fade to nothing."""
    return np.asarray(wave * np.minimum(1, np.arange(len(wave))[::-1] / 48))
