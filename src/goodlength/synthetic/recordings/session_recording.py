"""A recording of a session in a hall: play, surroundings, neighbours, echo, noise and the phone.

What plays and what sounds are given, so that each way of playing can be heard in each kind of hall.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.image_source_family_match_play import Played
from goodlength.synthetic.recordings.phone_recording_chain import draw_chain, record_through
from goodlength.synthetic.recordings.recording_types import Activity, WorldContact, WorldRecording
from goodlength.synthetic.recordings.training_background_levels import Setting, draw_setting
from goodlength.synthetic.recordings.training_family_image_source import add_to_pauses
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession, RandomSession

Wave = NDArray[np.float32]
RATE = 16_000


class SessionHall(Protocol):
    """The sounds of a recording's surfaces; `late` is the direct sound with its echo."""

    late: Wave

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the late echo, and its truth."""


MakeHall = Callable[[np.random.Generator, Setting], SessionHall]
TakenBy = Callable[[np.random.Generator, str, Wave, int], tuple[Wave, int]]


def record_session(
    rng: np.random.Generator,
    family: str,
    condition: str,
    seconds: float,
    make_session: type[RandomSession],
    make_hall: MakeHall,
    *,
    phone: TakenBy | None = None,
) -> WorldRecording:
    """Return one recording with its truth.

    Parameters
    ----------
    rng : numpy Generator
    family : str
    condition : str
        One of `training_background_levels.CONDITIONS`.
    seconds : float
    make_session : type
        What plays: `RandomSession` or one like it.
    make_hall : callable
        What gives the hall for a setting.
    phone : callable, optional
        What gives the file of a phone, and its rate, for the sound in the hall; the usual chain when None.
    """
    setting = draw_setting(rng, condition, seconds)
    count = round(seconds * RATE)
    programme = "match with a warm-up" if setting.warm_up_s and condition != "" else None
    session = make_session(rng, seconds, programme).play()
    hall = make_hall(rng, setting)
    out, contacts = hall.render(session, count)
    add_to_pauses(rng, setting, Played(pauses=session.pauses, ends=session.ends), out, np.zeros_like(out))
    _add_shoes(rng, setting, out)
    whole = np.asarray(signal.oaconvolve(out, hall.late)[:count], np.float32)
    for db, lowpass in setting.neighbours:
        contacts += _add_neighbour(rng, whole, (db, lowpass), seconds, make_session, make_hall)
    if setting.music_db is not None:
        tune = hall_background_sounds.music(rng, seconds + 1, RATE)[:count]
        whole += np.float32(10 ** (setting.music_db / 20)) * tune
    whole += np.float32(10 ** (setting.noise_db / 20)) * hall_background_sounds.steady_noise(rng, count, RATE)
    if phone is None:
        samples, rate = record_through(draw_chain(rng, condition), whole, RATE, rng), RATE
    else:
        samples, rate = phone(rng, condition, whole, RATE)
    spans = tuple(
        s for s in session.spans if (s.end_s if s.activity is Activity.RALLY else s.start_s) < seconds - 0.5
    )
    inside = tuple(sorted((c for c in contacts if c.time_s < seconds - 0.3), key=lambda c: c.time_s))
    return WorldRecording(family, condition or "usual", samples[None], rate, inside, spans)


def _add_shoes(rng: np.random.Generator, setting: Setting, out: Wave) -> None:
    for _ in range(int(rng.poisson((setting.squeaks + 2 * setting.steps) * len(out) / RATE / 3))):
        make = hall_background_sounds.squeak if rng.random() < 0.4 else hall_background_sounds.step
        wave = make(rng, RATE)
        begin = int(rng.integers(len(out) - len(wave)))
        out[begin : begin + len(wave)] += np.float32(10 ** (rng.uniform(-34, -6) / 20)) * wave


def _add_neighbour(
    rng: np.random.Generator,
    whole: Wave,
    transmission: tuple[float, float],
    seconds: float,
    make_session: type[RandomSession],
    make_hall: MakeHall,
) -> list[WorldContact]:
    """Add a court next door, `transmission` a level in dB and a low-pass in Hz."""
    db, lowpass = transmission
    setting = draw_setting(rng, "quiet", seconds)
    hall = make_hall(rng, setting)
    dry, contacts = hall.render(make_session(rng, seconds).play(), len(whole))
    through_wall = signal.oaconvolve(dry, hall.late)[: len(whole)]
    sections = signal.butter(int(rng.integers(1, 4)), lowpass, fs=RATE, output="sos").astype(np.float32)
    whole += np.float32(10 ** (db / 20)) * np.asarray(signal.sosfilt(sections, through_wall), np.float32)
    return [WorldContact(c.time_s, c.surface, c.striker, False) for c in contacts]
