"""The play of the retired judging families as sessions that any hall of the learning families can sound.

Rallies, warm-ups and what happens between them are those of `retired_test_families`; how loud an impact is
follows from the speed at which it meets, steeper or flatter in each recording. What plays and what it sounds
like are drawn apart, so that neither gives the other away.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Protocol

import numpy as np

from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldRecording, WorldSpan
from goodlength.synthetic.recordings.retired_test_families.plan_rays import session_event_timeline as plan
from goodlength.synthetic.recordings.retired_test_families.pressure_play import (
    session_event_timeline as pressure,
)
from goodlength.synthetic.recordings.session_recording import record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS
from goodlength.synthetic.recordings.training_drills.phone_audio_effects import taken_by
from goodlength.synthetic.recordings.training_flights.training_family_play_crossed_with_halls import HALLS
from goodlength.synthetic.recordings.training_random_session_play import Knock, PlayedSession, RandomSession

# Speed in m/s at which an impact of a kind is as loud as usual, ASSUMED
USUAL_SPEED = {Surface.RACKET: 27.0, Surface.FRONT_WALL: 22.0, Surface.FLOOR: 6.0, Surface.TIN: 20.0}
OTHER_SPEED, FOOT_SPEED = 9.0, 2.0
QUIETEST_DB, LOUDEST_DB = -26.0, 6.0
OTHERS = (Surface.FOOT, Surface.DOOR, Surface.OTHER)


class TimedImpact(Protocol):
    """An impact of a retired family, as far as it is used here."""

    @property
    def time_s(self) -> float: ...

    @property
    def surface(self) -> Surface: ...

    @property
    def speed_m_s(self) -> float: ...

    @property
    def striker(self) -> int | None: ...


class RetiredSession(RandomSession):
    """A recording's play by one of the retired families; how it is called is as in `RandomSession`."""

    def __init__(self, rng: np.random.Generator, seconds: float, programme: str | None = None) -> None:
        super().__init__(rng, seconds, programme)
        self.by_speed = float(rng.uniform(0.4, 1.3))  # of the level in dB, beside speed squared
        self.feet_db = float(rng.uniform(-26, -6))

    def timed(self) -> tuple[Iterable[TimedImpact], list[WorldSpan]]:
        """Return impacts and spans of the whole recording."""
        raise NotImplementedError

    def play(self) -> PlayedSession:
        """Return the whole recording."""
        if self.programme == "nobody plays":
            return super().play()
        impacts, spans = self.timed()
        for impact in sorted(impacts, key=lambda impact: impact.time_s):
            self._add(impact)
        self.out.spans = sorted(spans, key=lambda span: span.start_s)
        self.out.ends = [span.end_s for span in spans if span.activity is Activity.RALLY]
        edges = [0.0, *(edge for s in self.out.spans for edge in (s.start_s, s.end_s)), self.seconds]
        self.out.pauses = [
            (a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if 2.0 < b - a < self.seconds
        ]
        return self.out

    def _add(self, impact: TimedImpact) -> None:
        foot = impact.surface is Surface.FOOT
        usual = FOOT_SPEED if foot else USUAL_SPEED.get(impact.surface, OTHER_SPEED)
        level = self.by_speed * 20 * math.log10(max(0.3, impact.speed_m_s) / usual)
        level = float(np.clip(level, QUIETEST_DB, LOUDEST_DB)) + (self.feet_db if foot else 0.0)
        level += float(self.rng.normal(0, self.jitter_db))
        surface = Surface.OTHER if impact.surface in OTHERS else impact.surface
        self.out.knocks.append(Knock(impact.time_s, surface, level, impact.striker))


class PressureSession(RetiredSession):
    """Rallies whose length and ending follow from pressure on the players."""

    def timed(self) -> tuple[Iterable[TimedImpact], list[WorldSpan]]:
        """Return impacts and spans of the whole recording."""
        rng = self.rng
        if self.programme == "practice" and rng.random() < 0.5:
            four = pressure.doubles_evening(rng, self.seconds)
            return four.impacts, four.spans
        slow, warm = float(rng.uniform(15.0, 40.0)), self.programme != "match"
        habits = pressure.PlayHabits(
            power_m_s=(slow, slow * float(rng.uniform(1.1, 1.8))),
            errs=float(np.exp(rng.uniform(np.log(0.3), np.log(3.0)))),
            touch=float(np.exp(rng.uniform(np.log(0.5), np.log(2.5)))),
            warm_up_s=_warm_up_s(rng, self.programme, self.seconds),
            warm_up_chance=float(warm),
            rest_chance=float(rng.uniform(0.0, 0.5)),
            fetch_s=(float(rng.uniform(1.0, 3.0)), float(rng.uniform(3.0, 9.0))),
        )
        evening = pressure.match_evening(rng, habits, 0.0, self.seconds)
        return evening.impacts, evening.spans


class PlanSession(RetiredSession):
    """Rallies of a drawn length, shot by shot through the court's geometry."""

    def timed(self) -> tuple[Iterable[TimedImpact], list[WorldSpan]]:
        """Return impacts and spans of the whole recording."""
        rng = self.rng
        pace, wait = float(rng.uniform(0.55, 1.0)), float(rng.uniform(4.0, 9.0))
        habits = plan.SessionHabits(
            shots=(float(np.exp(rng.uniform(np.log(2.0), np.log(16.0)))), float(rng.uniform(0.4, 1.0))),
            pace=(pace, pace * float(rng.uniform(1.1, 1.6))),
            soft=float(np.exp(rng.uniform(np.log(0.5), np.log(2.5)))),
            warm_up_s=_warm_up_s(rng, self.programme, self.seconds),
            warm_up_chance=float(self.programme != "match"),
            pause_s=(wait, wait + float(rng.uniform(6.0, 40.0))),
        )
        session = plan.match(rng, habits, 0.0, self.seconds)
        return session.hits, session.spans


def _warm_up_s(rng: np.random.Generator, programme: str, seconds: float) -> tuple[float, float]:
    """Return the least and the most of a warm-up; a third of the recording is the most there is anyway."""
    share = 1.0 if programme == "practice" else float(rng.uniform(0.1, 0.6))
    return 0.8 * share * seconds, share * seconds


def recorded_in_a_hall(
    rng: np.random.Generator, family: str, condition: str | None, seconds: float, play: type[RetiredSession]
) -> WorldRecording:
    """Return one recording of a way of playing with its truth, in a hall and with a phone that are drawn."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    hall = HALLS[int(rng.integers(len(HALLS)))]
    phone = taken_by if rng.random() < 0.5 else None
    return record_session(rng, family, condition, seconds, play, hall, phone=phone)
