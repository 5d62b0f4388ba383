"""What goes on during a recording, as impacts, spans and moments at which somebody speaks or claps.

Warm-ups are small state machines (to oneself, to the other, ball lost); gaps between rallies are fetching the
ball, at times a longer rest, then getting ready to serve; the winner of a rally serves. All figures ASSUMED.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_flight_and_bounces import (
    CourtBall,
    FlightLeg,
    Vector,
    fault_index,
    flight,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.footfalls_and_squeaks import (
    rally_footfalls,
    walking_footfalls,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    FEED,
    STROKES,
    CourtImpact,
    Interception,
    RallyPlayer,
    StrokeStyle,
    draw_rally_player,
    impacts_of,
    meet_ball,
    play_pressure_rally,
    racket_impact,
    strike_velocity,
)

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class PlayHabits:
    """What a condition asks of the play; all else is drawn."""

    power_m_s: tuple[float, float] = (25.0, 41.0)
    errs: float = 1.0
    touch: float = 1.0
    warm_up_s: tuple[float, float] = (55.0, 290.0)
    warm_up_chance: float = 0.8
    rest_chance: float = 0.2
    fetch_s: tuple[float, float] = (2.0, 7.0)


@dataclass(frozen=True)
class SpokenCue:
    """A moment at which somebody speaks or claps: time, who, for about how long."""

    time_s: float
    who: str
    seconds: float


@dataclass
class Evening:
    """Impacts, spans and cues of one court, in the time of the court."""

    impacts: list[CourtImpact] = field(default_factory=list)
    spans: list[WorldSpan] = field(default_factory=list)
    cues: list[SpokenCue] = field(default_factory=list)


@dataclass(frozen=True)
class _WarmUpStyle:
    """Chances that one plays to oneself and that the ball is lost; how long it is fetched; short shots."""

    name: str
    to_self: float
    lost: float
    fetch_s: float
    short: float = 0.0


_STYLES = (
    _WarmUpStyle("cross-court in turn", 0.08, 0.09, 2.5),
    _WarmUpStyle("some to oneself, then across", 0.72, 0.08, 2.5),
    _WarmUpStyle("straight to oneself", 0.97, 0.1, 3.0),
    _WarmUpStyle("careful beginners", 0.5, 0.35, 4.5),
    _WarmUpStyle("drop and drive", 0.35, 0.16, 2.2, 0.4),
    _WarmUpStyle("hit and chat", 0.6, 0.2, 11.0),
    _WarmUpStyle("nearly a rally", 0.02, 0.05, 1.8, 0.05),
)
_STYLE_SHARES = (0.2, 0.28, 0.12, 0.12, 0.1, 0.1, 0.08)


def friendly_shot(
    rng: np.random.Generator,
    ball: CourtBall,
    hitter: RallyPlayer,
    taker: RallyPlayer,
    meeting: Interception,
    across: bool,
    short: bool = False,
) -> tuple[Vector, list[FlightLeg], Interception] | None:
    """Return a warm-up's shot: velocity, flight and how it is met; None where none of the tries can be."""
    base = STROKES[3] if short else FEED
    style = StrokeStyle(base.name, base.speed, False, base.height_m, base.lands_y_m, 1.0 if across else 0.03)
    side = WIDTH_M - meeting.place[0] if across else meeting.place[0]
    for _ in range(20):
        velocity = strike_velocity(rng, hitter, style, meeting.place)
        legs = flight(ball, meeting.time_s, meeting.place, velocity)
        if fault_index(legs) is not None:
            continue
        reply = meet_ball(rng, legs, taker, (side, 2.6 if short else 6.4), meeting.time_s, stretch=1.4)
        if reply is not None:
            return velocity, legs, reply
    return None


def friendly_run(
    rng: np.random.Generator,
    players: tuple[RallyPlayer, ...],
    pair: tuple[int, int],
    ball: CourtBall,
    start_s: float,
    style: _WarmUpStyle,
    most: int = 60,
) -> list[CourtImpact]:
    """Return one run of friendly hits until the ball is lost; `pair` are the numbers of those who hit."""
    who = pair[int(rng.integers(0, 2))]
    left = rng.random() < 0.5
    x = float(rng.uniform(0.8, 2.0))
    meeting = Interception(
        start_s,
        (x if left else WIDTH_M - x, float(rng.uniform(5.0, 8.0)), float(rng.uniform(0.5, 1.1))),
        0,
        1.0,
        0.0,
    )
    out: list[CourtImpact] = []
    for _ in range(most):
        other = pair[0] if who == pair[1] else pair[1]
        taker = who if rng.random() < style.to_self else other
        shot = friendly_shot(
            rng, ball, players[who], players[taker], meeting, taker != who, rng.random() < style.short
        )
        if shot is None:
            break
        velocity, legs, reply = shot
        out.append(racket_impact(meeting, velocity, who % 2))
        if rng.random() < style.lost:
            out += impacts_of(legs[: int(rng.integers(1, len(legs) + 1))])
            break
        out += impacts_of(legs[: reply.contacts])
        meeting, who = reply, taker
    return out


def _ball_in_warm_up(
    rng: np.random.Generator,
    players: tuple[RallyPlayer, ...],
    pair: tuple[int, int],
    ball: CourtBall,
    span: tuple[float, float],
    style: _WarmUpStyle,
) -> list[CourtImpact]:
    time, out = span[0], []
    while time < span[1] - 3.0:
        run = friendly_run(rng, players, pair, ball, time, style)
        out += [i for i in run if i.time_s < span[1]]
        time = max([i.time_s for i in run] or [time]) + 0.8 + float(rng.gamma(2.0, 0.5 * style.fetch_s))
    return out


def warm_up_period(
    rng: np.random.Generator,
    evening: Evening,
    players: tuple[RallyPlayer, ...],
    ball: CourtBall,
    start_s: float,
    seconds: float,
) -> float:
    """Add a warm-up and its span, with two balls for doubles and at times for two; return when it ends."""
    end = start_s + seconds
    style = _STYLES[int(rng.choice(len(_STYLES), p=_STYLE_SHARES))]
    pairs = ((0, 2), (1, 3)) if len(players) == 4 else ((0, 1),)
    if len(players) == 2 and rng.random() < 0.1:
        pairs = ((0, 0), (1, 1))
    impacts: list[CourtImpact] = []
    for pair in pairs:
        impacts += _ball_in_warm_up(rng, players, pair, ball, (start_s, end), style)
    times = [i.time_s for i in impacts] or [start_s, end]
    strikes = [i.time_s for i in impacts if i.striker is not None]
    evening.impacts += impacts
    for player in players:
        evening.impacts += walking_footfalls(rng, player, start_s, max(times))
    evening.spans.append(
        WorldSpan(min(times), max(times), Activity.WARM_UP, max(strikes) if strikes else None)
    )
    return max(times)


def door_sounds(rng: np.random.Generator, evening: Evening, time_s: float) -> None:
    """Add a door that falls shut: the leaf, perhaps again as it springs back, and the latch."""
    place = (WIDTH_M / 2 + float(rng.uniform(-0.5, 0.5)), LENGTH_M - 0.03, 1.05)
    hard = float(rng.uniform(2.5, 12.0))
    for number in range(int(rng.integers(1, 4))):
        evening.impacts.append(CourtImpact(time_s, Surface.DOOR, place, hard, None, "door"))
        time_s += float(rng.uniform(0.07, 0.2))
        hard *= 0.45 if number else 0.6
    latch = time_s + float(rng.uniform(0.02, 0.3))
    evening.impacts.append(
        CourtImpact(latch, Surface.DOOR, place, float(rng.uniform(2.0, 6.0)), None, "latch")
    )


def _racket_taps(rng: np.random.Generator, evening: Evening, start_s: float, end_s: float) -> None:
    if rng.random() > 0.3 or end_s - start_s < 2.5:
        return
    time = float(rng.uniform(start_s, end_s - 1.5))
    spots = (
        (0.05, float(rng.uniform(2.0, 9.0)), 0.4),
        (WIDTH_M - 0.05, float(rng.uniform(2.0, 9.0)), 0.4),
        (float(rng.uniform(1.0, 5.4)), float(rng.uniform(3.0, 9.0)), 0.02),
    )
    place = spots[int(rng.integers(0, 3))]
    gap = float(rng.uniform(0.2, 0.5))
    for _ in range(1 + int(rng.geometric(0.45))):
        hard = float(rng.uniform(1.5, 7.0))
        evening.impacts.append(CourtImpact(time, Surface.OTHER, place, hard, None, "tap"))
        time += gap * float(rng.normal(1.0, 0.12))


def _ready_to_serve(
    rng: np.random.Generator, player: RallyPlayer, who: int, end_s: float, from_s: float
) -> list[CourtImpact]:
    """Return the server bouncing the ball by hand or by racket before he serves at `end_s`."""
    time = end_s - float(rng.uniform(0.9, 2.2))
    gap = float(rng.uniform(0.38, 0.62))
    x, y = float(rng.uniform(0.8, 5.6)), float(rng.uniform(5.6, 6.9))
    racket = rng.random() < 0.35
    out: list[CourtImpact] = []
    for _ in range(int(rng.poisson(player.ball_bounces))):
        if time < from_s:
            break
        out.append(CourtImpact(time, Surface.FLOOR, (x, y, 0.02), float(rng.uniform(2.6, 4.8))))
        if racket:
            hard = float(rng.uniform(2.0, 4.5))
            out.append(CourtImpact(time - 0.4 * gap, Surface.RACKET, (x, y, 0.75), hard, who))
        time -= gap * float(rng.normal(1.0, 0.06))
    return out


_ALONE = _WarmUpStyle("knocking", 1.0, 0.2, 0.0)


def between_rallies(
    rng: np.random.Generator,
    evening: Evening,
    players: tuple[RallyPlayer, RallyPlayer],
    ball: CourtBall,
    habits: PlayHabits,
    start_s: float,
    server: int,
) -> float:
    """Add what happens between two rallies; return when the next serve is struck."""
    fetched = start_s + float(rng.uniform(*habits.fetch_s)) + float(rng.exponential(1.5))
    rest = float(rng.gamma(2.0, 7.0)) if rng.random() < habits.rest_chance else 0.0
    end = fetched + rest + float(rng.uniform(2.5, 7.0))
    for chance, who, wait, seconds in (
        (0.75, "referee", (0.4, 2.0), (0.7, 2.8)),
        (0.3, "applause", (0.1, 0.7), (1.0, 4.5)),
        (0.22, "player", (0.2, 1.2), (0.3, 1.6)),
    ):
        if rng.random() < chance:
            evening.cues.append(
                SpokenCue(start_s + float(rng.uniform(*wait)), who, float(rng.uniform(*seconds)))
            )
    _racket_taps(rng, evening, start_s + 1.0, end - 1.0)
    quiet_from = start_s + 1.0
    if rng.random() < 0.3 and end - start_s > 8.0:
        knock = friendly_run(rng, players, (server, server), ball, fetched, _ALONE, 6)
        if knock:
            last = max(i.time_s for i in knock)
            strikes = [i.time_s for i in knock if i.striker is not None]
            evening.impacts += knock
            evening.spans.append(WorldSpan(fetched, last, Activity.KNOCKING, max(strikes)))
            end, quiet_from = max(end, last + float(rng.uniform(2.5, 7.0))), last + 1.5
    evening.impacts += _ready_to_serve(rng, players[server], server, end, quiet_from)
    for player in players:
        evening.impacts += walking_footfalls(rng, player, start_s, end - 0.6)
    return end


def play_game(
    rng: np.random.Generator,
    evening: Evening,
    players: tuple[RallyPlayer, RallyPlayer],
    ball: CourtBall,
    habits: PlayHabits,
    start_s: float,
    until_s: float,
) -> float:
    """Add one game to 11 by two, or until the recording ends; return when it ended."""
    score = [0, 0]
    server = int(rng.integers(0, 2))
    time = start_s
    while max(score) < 11 or abs(score[0] - score[1]) < 2:
        serve_s = between_rallies(rng, evening, players, ball, habits, time, server)
        rally = play_pressure_rally(rng, players, ball, server, serve_s)
        last = max(i.time_s for i in rally.impacts)
        if last > until_s - 1.5:
            break
        evening.impacts += rally.impacts
        evening.impacts += rally_footfalls(rng, players, rally.impacts)
        let = rally.ending == "let"
        evening.spans.append(WorldSpan(rally.start_s, rally.end_s, Activity.RALLY, rally.last_strike_s, let))
        time = last
        if not let:
            server = rally.winner
            score[server] += 1
    return time


def game_break(
    rng: np.random.Generator,
    evening: Evening,
    players: tuple[RallyPlayer, RallyPlayer],
    ball: CourtBall,
    start_s: float,
    seconds: float,
) -> float:
    """Add a break between games: door, talk, at times somebody hitting to himself; return when it ends."""
    end = start_s + seconds
    door_sounds(rng, evening, start_s + float(rng.uniform(3.0, 14.0)))
    door_sounds(rng, evening, end - float(rng.uniform(5.0, 16.0)))
    time = start_s + float(rng.uniform(2.0, 8.0))
    while time < end - 6.0:
        evening.cues.append(SpokenCue(time, "talk", float(rng.uniform(0.8, 5.5))))
        time += float(rng.gamma(2.0, 4.0))
    last_strike: float | None = None
    if rng.random() < 0.6:
        who = int(rng.integers(0, 2))
        from_s = start_s + seconds * float(rng.uniform(0.25, 0.65))
        run = friendly_run(rng, players, (who, who), ball, from_s, _STYLES[2], 20)
        run = [i for i in run if i.time_s < end - 4.0]
        evening.impacts += run
        last_strike = max([i.time_s for i in run if i.striker is not None], default=None)
    evening.spans.append(WorldSpan(start_s, end, Activity.BETWEEN_GAMES, last_strike))
    return end


def match_evening(rng: np.random.Generator, habits: PlayHabits, start_s: float, until_s: float) -> Evening:
    """Return a match from `start_s`: perhaps a warm-up, then games and breaks until `until_s`."""
    evening = Evening()
    ball = CourtBall(float(rng.uniform(30.0, 47.0)), float(rng.uniform(0.45, 0.8)))
    players = (
        draw_rally_player(rng, habits.power_m_s, habits.errs, habits.touch),
        draw_rally_player(rng, habits.power_m_s, habits.errs, habits.touch),
    )
    time = start_s + float(rng.uniform(1.5, 18.0))
    door_sounds(rng, evening, time)
    time += 2.5
    if rng.random() < habits.warm_up_chance:
        wanted = min(float(rng.uniform(*habits.warm_up_s)), 0.35 * (until_s - start_s))
        time = warm_up_period(rng, evening, players, ball, time, wanted) + float(rng.uniform(4.0, 30.0))
    while time < until_s - 30.0:
        ended = play_game(rng, evening, players, ball, habits, time, until_s)
        rest = float(rng.uniform(55.0, 160.0))
        if ended + rest > until_s - 20.0:
            break
        time = game_break(rng, evening, players, ball, ended + 3.0, rest)
    return evening


def doubles_evening(rng: np.random.Generator, seconds: float) -> Evening:
    """Return four people who warm up with two balls, with rests, and never play a rally."""
    evening = Evening()
    players = tuple(draw_rally_player(rng, (24.0, 36.0)) for _ in range(4))
    ball = CourtBall(float(rng.uniform(28.0, 45.0)))
    door_sounds(rng, evening, 1.0)
    time = float(rng.uniform(3.0, 9.0))
    while time < seconds - 15.0:
        length = min(float(rng.uniform(70.0, 380.0)), seconds - 5.0 - time)
        time = warm_up_period(rng, evening, players, ball, time, length) + float(rng.uniform(12.0, 60.0))
    return evening


def calm_moment_s(evening: Evening, wanted_s: float) -> float:
    """Return a moment near the one wanted, outside every span and 0.4 s from what is struck."""
    times = sorted(i.time_s for i in evening.impacts if i.surface is not Surface.FOOT)
    busy = [(s.start_s - 1.0, s.end_s + 1.0) for s in evening.spans]
    offsets = (math.copysign(0.3 * (step // 2), step % 2 - 0.5) for step in range(8000))
    for moment in (wanted_s + offset for offset in offsets):
        at = bisect.bisect(times, moment)
        free = all(abs(t - moment) > 0.4 for t in times[max(0, at - 1) : at + 1])
        if moment > 1.0 and free and not any(a < moment < b for a, b in busy):
            return moment
    return wanted_s
