"""Timeline of an evening on one court: warm-up, games, pauses, breaks, and other noise, as a list of
impacts.

Lengths of pauses, breaks and warm-ups, feet and habits between rallies are ASSUMED.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.retired_test_families.plan_rays.friendly_hit_sequences import exchange
from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import BallInFlight, Point
from goodlength.synthetic.recordings.test_family_films.rally_play.rally_simulation import Hit, play_rally
from goodlength.synthetic.recordings.test_family_films.rally_play.shot_simulation import (
    ShotMaker,
    draw_player,
)

if TYPE_CHECKING:
    import numpy as np

_END_WEIGHTS = {"bounce": 0.5, "tin": 0.17, "out": 0.08, "down": 0.08, "let": 0.1, "stroke": 0.07}


@dataclass(frozen=True)
class SessionHabits:
    """What a condition asks of the play; all else is drawn."""

    shots: tuple[float, float] = (8.0, 0.75)  # median, spread of the log
    pace: tuple[float, float] = (0.72, 1.1)
    soft: float = 1.0
    warm_up_s: tuple[float, float] = (60.0, 300.0)
    warm_up_chance: float = 0.8
    pause_s: tuple[float, float] = (6.0, 40.0)


@dataclass(frozen=True)
class Cue:
    """A moment at which somebody speaks or claps: time, who, for about how long."""

    time_s: float
    who: str
    seconds: float


@dataclass
class Session:
    """Impacts, spans and cues of one court, in the time of the court."""

    hits: list[Hit] = field(default_factory=list)
    spans: list[WorldSpan] = field(default_factory=list)
    cues: list[Cue] = field(default_factory=list)


def _walk(
    rng: np.random.Generator, session: Session, player: ShotMaker, start_s: float, end_s: float, rate: float
) -> None:
    """Add footfalls at a rate with pauses; fast feet squeak now and then."""
    time = start_s + float(rng.exponential(0.4))
    while time < end_s:
        place = (float(rng.uniform(1.2, 5.2)), float(rng.uniform(3.5, 8.8)), 0.0)
        speed = player.weight * float(rng.lognormal(-0.4, 0.4)) * (0.5 + rate / 4.0)
        session.hits.append(Hit(time, Surface.FOOT, place, speed, None, "foot"))
        if rate > 1.5 and rng.random() < 0.05:
            session.hits.append(Hit(time + 0.02, Surface.FOOT, place, speed, None, "squeak"))
        time += float(rng.gamma(4.0, 1.0 / (4.0 * rate)))
        if rng.random() < 0.12:
            time += float(rng.exponential(0.8))


def _lunges(rng: np.random.Generator, session: Session, hits: tuple[Hit, ...]) -> None:
    """Add the planted foot before most strikes."""
    for hit in hits:
        if hit.striker is not None and rng.random() < 0.7:
            before = hit.time_s - float(rng.uniform(0.02, 0.3))
            speed = float(rng.lognormal(0.2, 0.5))
            session.hits.append(
                Hit(before, Surface.FOOT, (hit.place[0], hit.place[1], 0.0), speed, None, "foot")
            )


def _bounce_ball(
    rng: np.random.Generator, session: Session, player: ShotMaker, end_s: float, by: int
) -> None:
    """Add the ball bounced before a serve, by hand or by racket, the last one `end_s`."""
    times = (
        end_s - 0.9 - float(rng.uniform(0.42, 0.7)) * (1 + _indices(int(rng.poisson(player.bounces)), rng))
    )
    place = (float(rng.uniform(1.0, 5.4)), float(rng.uniform(5.6, 7.0)), 0.02)
    racket = rng.random() < 0.4
    for time in sorted(times):
        session.hits.append(Hit(float(time), Surface.FLOOR, place, float(rng.uniform(3.0, 5.5))))
        if racket:
            up = (place[0], place[1], 0.8)
            session.hits.append(Hit(float(time) - 0.17, Surface.RACKET, up, float(rng.uniform(3.5, 7.0)), by))


def _indices(count: int, rng: np.random.Generator) -> np.ndarray:
    import numpy as np

    return np.arange(count) + 0.06 * rng.standard_normal(count)


def _taps(rng: np.random.Generator, session: Session, start_s: float, end_s: float) -> None:
    """Add racket taps on floor or wall, and the ball picked up with the racket against the wall."""
    if rng.random() < 0.3 and end_s - start_s > 3.0:
        time = float(rng.uniform(start_s, end_s - 2.0))
        place = (float(rng.choice([0.1, WIDTH_M - 0.1, 3.0])), float(rng.uniform(1.0, 9.0)), 0.1)
        for _ in range(int(rng.integers(1, 6))):
            session.hits.append(Hit(time, Surface.OTHER, place, float(rng.uniform(2.0, 7.0)), None, "tap"))
            time += float(rng.uniform(0.18, 0.6))


def _knock(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ShotMaker],
    ball: BallInFlight,
    start_s: float,
    who: int,
) -> float:
    """Add a player hitting the ball to himself between rallies; return when the last contact is."""
    strikes = int(rng.integers(1, 7))
    hits = exchange(rng, players, ball, [who] * strikes, start_s, 0.2, 0.3)
    return _add_play(session, hits, Activity.KNOCKING, start_s)


def _add_play(session: Session, hits: list[Hit], activity: Activity, start_s: float) -> float:
    if not hits:
        return start_s
    session.hits += hits
    end = max(h.time_s for h in hits)
    strikes = [h.time_s for h in hits if h.striker is not None]
    session.spans.append(WorldSpan(start_s, end, activity, max(strikes)))
    return end


def pause(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ShotMaker],
    ball: BallInFlight,
    habits: SessionHabits,
    start_s: float,
    server: int,
) -> float:
    """Add what happens between two rallies; return when the next serve is struck."""
    low, high = habits.pause_s
    length = min(high, low + float(rng.lognormal(math.log(max(5.0, 0.6 * low)), 0.7)))
    end = start_s + length
    if rng.random() < 0.8:
        session.cues.append(
            Cue(start_s + float(rng.uniform(0.4, 2.0)), "referee", float(rng.uniform(0.6, 2.5)))
        )
    if rng.random() < 0.35:
        session.cues.append(
            Cue(start_s + float(rng.uniform(0.1, 0.8)), "applause", float(rng.uniform(1.0, 4.0)))
        )
    if rng.random() < 0.25:
        session.cues.append(
            Cue(start_s + float(rng.uniform(0.2, 1.0)), "player", float(rng.uniform(0.3, 1.5)))
        )
    for player in players:
        _walk(rng, session, player, start_s + 0.3, end - 0.5, 0.9)
    _taps(rng, session, start_s + 1.0, end - 1.0)
    if rng.random() < 0.35 and length > 9.0:
        knocked = _knock(
            rng, session, players, ball, start_s + float(rng.uniform(2.0, 5.0)), int(rng.integers(0, 2))
        )
        end = max(end, knocked + float(rng.uniform(2.0, 6.0)))
    if end - start_s > 5.0:
        quiet_from = max(
            [h.time_s for h in session.hits if h.striker is not None and h.time_s > start_s] or [start_s]
        )
        before = len(session.hits)
        _bounce_ball(rng, session, players[server], end, server)
        session.hits[before:] = [h for h in session.hits[before:] if h.time_s > quiet_from + 2.0]
    return end


def _shots_wanted(rng: np.random.Generator, habits: SessionHabits) -> int:
    median, spread = habits.shots
    return int(min(60, max(1, round(float(rng.lognormal(math.log(median), spread))))))


def game(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ShotMaker],
    ball: BallInFlight,
    habits: SessionHabits,
    start_s: float,
    until_s: float,
) -> float:
    """Add one game to 11, or until the recording ends; return when it ended."""
    score = [0, 0]
    server = int(rng.integers(0, 2))
    time = start_s
    while max(score) < 11 or abs(score[0] - score[1]) < 2:
        time = pause(rng, session, players, ball, habits, time, server)
        ending = str(rng.choice(list(_END_WEIGHTS), p=list(_END_WEIGHTS.values())))
        rally = play_rally(rng, players, ball, server, _shots_wanted(rng, habits), ending, time)
        if max(h.time_s for h in rally.hits) > until_s - 1.5:
            break
        session.hits += rally.hits
        span = WorldSpan(rally.start_s, rally.end_s, Activity.RALLY, rally.last_strike_s, rally.let)
        session.spans.append(span)
        _lunges(rng, session, rally.hits)
        for player in players:
            _walk(rng, session, player, rally.start_s, rally.end_s, player.step_hz)
        time = max(h.time_s for h in rally.hits)
        if not rally.let:
            server = int(rng.integers(0, 2))
            score[server] += 1
    return time


_STYLES = (
    "to self, then across",
    "alternating",
    "volleys across",
    "to self all the time",
    "two balls",
    "slow",
)


def _warm_up_order(rng: np.random.Generator, style: str, sides: tuple[int, int]) -> list[int]:
    number, two = sides
    if style in {"alternating", "volleys across"}:
        return [sides[i % 2] for i in range(int(rng.integers(2, 16)))]
    if style == "to self, then across":
        order: list[int] = []
        for turn in range(int(rng.integers(1, 7))):
            order += [number if turn % 2 == 0 else two] * int(rng.integers(1, 7))
        return order
    return [number] * int(rng.integers(2, 20))


def _warm_up_ball(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ...],
    ball: BallInFlight,
    start_s: float,
    end_s: float,
    sides: tuple[int, int],
    style: str,
) -> None:
    """Add one ball's part of a warm-up: runs of friendly hits with the ball fetched between them."""
    time = start_s
    fetch = float(rng.uniform(0.8, 5.0))
    while time < end_s - 4.0:
        first = sides if rng.random() < 0.5 else (sides[1], sides[0])
        order = _warm_up_order(rng, style, first)
        volley = float(rng.uniform(0.5, 1.0)) if style == "volleys across" else 0.15
        hits = exchange(rng, players, ball, order, time, 0.05, volley)
        hits = [h for h in hits if h.time_s < end_s]
        session.hits += hits
        time = (
            max([h.time_s for h in hits] or [time])
            + float(rng.exponential(fetch))
            + (2.0 if style == "slow" else 0.5)
        )
        if style not in {"two balls", "to self all the time"} and rng.random() < 0.15:
            style = str(rng.choice(_STYLES[:3]))


def warm_up(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ...],
    ball: BallInFlight,
    start_s: float,
    seconds: float,
    style: str | None = None,
) -> float:
    """Add a warm-up of a style (drawn if None) and its span; return when it ends."""
    chosen = style or str(rng.choice(_STYLES, p=[0.3, 0.2, 0.1, 0.15, 0.1, 0.15]))
    end = start_s + seconds
    before = len(session.hits)
    if chosen in {"two balls", "doubles"}:
        pairs = ((0, 2), (1, 3)) if len(players) == 4 else ((0, 0), (1, 1))
        for sides in pairs:
            _warm_up_ball(
                rng,
                session,
                players,
                ball,
                start_s,
                end,
                sides,
                "to self, then across" if len(players) == 4 else "to self all the time",
            )
    else:
        _warm_up_ball(rng, session, players, ball, start_s, end, (0, 1), chosen)
    times = [h.time_s for h in session.hits[before:]] or [start_s, end]
    strikes = [h.time_s for h in session.hits[before:] if h.striker is not None]
    for player in players:
        _walk(rng, session, player, start_s, end, 1.2)
    session.spans.append(
        WorldSpan(min(times), max(times), Activity.WARM_UP, max(strikes) if strikes else None)
    )
    return max(times)


def door(rng: np.random.Generator, session: Session, time_s: float) -> None:
    """Add a door that opens or falls shut, latch after leaf."""
    place: Point = (WIDTH_M / 2 + float(rng.uniform(-0.4, 0.4)), LENGTH_M - 0.03, 1.0)
    session.hits.append(Hit(time_s, Surface.DOOR, place, float(rng.uniform(3.0, 14.0)), None, "door"))
    later = time_s + float(rng.uniform(0.05, 0.4))
    session.hits.append(Hit(later, Surface.DOOR, place, float(rng.uniform(1.5, 6.0)), None, "latch"))


def break_between(
    rng: np.random.Generator,
    session: Session,
    players: tuple[ShotMaker, ShotMaker],
    ball: BallInFlight,
    start_s: float,
    seconds: float,
) -> float:
    """Add a break between games: door, talk, at times knocking up; return when it ends."""
    end = start_s + seconds
    door(rng, session, start_s + float(rng.uniform(3.0, 12.0)))
    door(rng, session, end - float(rng.uniform(6.0, 15.0)))
    time = start_s + 4.0
    while time < end - 8.0:
        session.cues.append(Cue(time, "talk", float(rng.uniform(1.0, 5.0))))
        time += float(rng.uniform(2.0, 12.0))
    strikes: float | None = None
    if rng.random() < 0.6:
        knock_from = start_s + seconds * float(rng.uniform(0.3, 0.7))
        hits = exchange(
            rng, players, ball, [int(rng.integers(0, 2))] * int(rng.integers(3, 18)), knock_from, 0.1, 0.2
        )
        hits = [h for h in hits if h.time_s < end - 5.0]
        session.hits += hits
        strikes = max([h.time_s for h in hits if h.striker is not None], default=None)
    session.spans.append(WorldSpan(start_s, end, Activity.BETWEEN_GAMES, strikes))
    return end


def match(
    rng: np.random.Generator,
    habits: SessionHabits,
    start_s: float,
    until_s: float,
    session: Session | None = None,
) -> Session:
    """Return a match from `start_s`: perhaps a warm-up, then games and breaks until `until_s`."""
    session = session or Session()
    ball = BallInFlight(
        float(rng.uniform(0.44, 0.58)), float(rng.uniform(0.57, 0.68)), float(rng.uniform(0.012, 0.017))
    )
    players = (draw_player(rng, habits.pace, habits.soft), draw_player(rng, habits.pace, habits.soft))
    time = start_s + float(rng.uniform(2.0, 20.0))
    door(rng, session, time)
    if rng.random() < habits.warm_up_chance:
        low, high = habits.warm_up_s
        wanted = min(float(rng.uniform(low, high)), 0.35 * (until_s - start_s))
        time = warm_up(rng, session, players, ball, time + 2.0, wanted) + float(rng.uniform(4.0, 25.0))
    while time < until_s - 30.0:
        ended = game(rng, session, players, ball, habits, time, until_s)
        rest = float(rng.uniform(60.0, 150.0))
        if ended + rest > until_s - 20.0:
            break
        time = break_between(rng, session, players, ball, ended + 3.0, rest)
    return session


def nearest_pause_s(session: Session, wanted_s: float) -> float:
    """Return a moment near the wanted one outside every span, with nothing struck within 0.4 s."""
    times = sorted(h.time_s for h in session.hits if h.striker is not None or h.surface is not Surface.FOOT)
    busy = [(s.start_s - 1.0, s.end_s + 1.0) for s in session.spans]
    for step in range(4000):
        for sign in (1.0, -1.0):
            moment = wanted_s + sign * 0.25 * step
            i = bisect.bisect(times, moment)
            free = all(abs(t - moment) > 0.4 for t in times[max(0, i - 1) : i + 1])
            if moment > 1.0 and free and not any(a < moment < b for a, b in busy):
                return moment
    return wanted_s
