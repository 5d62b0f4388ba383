"""The fifth learning family: each way of playing heard in each kind of hall of the other families.

What plays and what it sounds like are drawn apart, so that neither gives the other away.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.recording_types import Surface, WorldContact, WorldRecording
from goodlength.synthetic.recordings.session_recording import RATE, MakeHall, record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS, Setting
from goodlength.synthetic.recordings.training_family_fm_impacts import OperatorHall
from goodlength.synthetic.recordings.training_family_noise_bursts import BurstHall
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import FlightSession
from goodlength.synthetic.recordings.training_flights.training_family_minimum_phase_impacts import PulseHall
from goodlength.synthetic.recordings.training_flights.training_family_waveguides import WaveguideHall
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession, RandomSession

Wave = NDArray[np.float32]
FAMILY = "learning mixtures"


class NoiseHall:
    """The bursts and the echo of `BurstHall` for a session played elsewhere."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self._hall = BurstHall(rng, setting)
        self.late = self._hall.echo

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the echo, and its truth."""
        out, contacts = np.zeros(count, np.float32), []
        for knock in session.knocks:
            surface = knock.surface if knock.surface in self._hall.takes else Surface.OTHER
            if 0 <= knock.time_s < count / RATE - 0.6:
                self._hall.strike(out, surface, knock.time_s, knock.level_db)
                contacts.append(WorldContact(knock.time_s, knock.surface, knock.striker))
        return out, contacts


PLAYS: tuple[type[RandomSession], ...] = (RandomSession, FlightSession)
HALLS: tuple[MakeHall, ...] = (OperatorHall, PulseHall, NoiseHall, WaveguideHall)


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    play, hall = PLAYS[int(rng.integers(len(PLAYS)))], HALLS[int(rng.integers(len(HALLS)))]
    return record_session(rng, FAMILY, condition, seconds, play, hall)
