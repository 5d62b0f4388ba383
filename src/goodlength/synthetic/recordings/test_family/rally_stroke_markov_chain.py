"""Rallies as a chain of states: who has the initiative, where the ball is met, which stroke follows.

The length follows from the chance that a stroke ends the rally in each state (a phase-type distribution),
scaled to a mean that the pair draws: 5 to 9 strokes for club players, 12 to 19 on the tours, as compiled in
the project's notes of published counts; shares of strokes lie about the published ones (drive 47, cross 20,
drop 11, volley 13, boast 6, lob 3 of 100). All else is ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family.shot_flight_timing import (
    KINDS,
    BallWay,
    CourtMoment,
    Spot,
    StruckBall,
    ball_way,
    dead_ball,
    missed_way,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NAMES = ("drive", "cross", "volley", "boast", "drop", "lob", "kill")
_SHARES = np.array([46.0, 20.0, 0.0, 6.0, 11.0, 4.0, 3.0])
_BY_ZONE = {
    "front": np.array([0.8, 1.1, 0.0, 0.1, 1.8, 2.5, 1.6]),
    "middle": np.array([0.9, 1.0, 0.0, 0.6, 1.2, 0.4, 2.0]),
    "back": np.array([1.2, 1.0, 0.0, 1.6, 0.5, 1.0, 0.2]),
}
_ENDS_BY_STATE = (1.9, 1.0, 0.75)  # under pressure, even, with the initiative (errors and winners together)


@dataclass(frozen=True)
class TempoPlayer:
    """A player: pace as a factor on speeds, how wide strokes differ, taste by kind, habits at the serve."""

    pace: float
    spread: float
    taste: NDArray[np.float64]
    volleys: float
    early: float
    fidget: str
    bounces: float
    step_hz: float
    heavy: float


@dataclass(frozen=True)
class TempoPair:
    """Two players and a ball: mean length of rallies in strokes, chance of a let, how the rest ends."""

    players: tuple[TempoPlayer, TempoPlayer]
    ball: StruckBall
    mean_strokes: float
    sticky: float
    let: float
    errors: float


@dataclass(frozen=True)
class TempoRally:
    """A rally: impacts of the ball in order (what comes after its end too), start, last strike, end, how it
    ended and who won it; `lets` are played again.
    """

    moments: tuple[CourtMoment, ...]
    start_s: float
    last_strike_s: float
    end_s: float
    ending: str
    winner: int


def draw_player(rng: np.random.Generator, pace: tuple[float, float], touch: float) -> TempoPlayer:
    """Return a player; `touch` above 1 plays more soft strokes."""
    taste = rng.gamma(4.0, 0.25, len(_NAMES))
    taste[4] *= touch
    taste[5] *= math.sqrt(touch)
    return TempoPlayer(
        pace=float(rng.uniform(*pace)),
        spread=float(rng.uniform(0.08, 0.24)),
        taste=taste,
        volleys=float(rng.uniform(0.06, 0.3)),
        early=float(rng.uniform(0.3, 0.75)),
        fidget=str(rng.choice(["hand", "racket", "strings", "none"], p=[0.4, 0.2, 0.15, 0.25])),
        bounces=float(rng.uniform(1.0, 5.0)),
        step_hz=float(rng.uniform(2.3, 4.0)),
        heavy=float(np.exp(rng.uniform(-0.7, 0.7))),
    )


def draw_pair(
    rng: np.random.Generator,
    pace: tuple[float, float] = (0.58, 1.0),
    length: float = 1.0,
    touch: float = 1.0,
) -> TempoPair:
    """Return a pair; `length` is a factor on the mean number of strokes."""
    tour = rng.random() < 0.25
    pace = (1.12 * pace[0], 1.12 * pace[1]) if tour else pace
    mean = float(rng.uniform(12.0, 19.0) if tour else rng.uniform(5.0, 9.0)) * length
    ball = StruckBall(float(rng.uniform(0.62, 0.8)), float(rng.uniform(0.4, 0.56)))
    return TempoPair(
        (draw_player(rng, pace, touch), draw_player(rng, pace, touch)),
        ball,
        max(mean, 2.2),
        float(rng.uniform(0.4, 0.8)),
        float(rng.uniform(0.12, 0.25) if tour else rng.uniform(0.03, 0.1)),
        float(rng.uniform(0.35, 0.7)),
    )


def strike(time_s: float, place: Spot, speed: float, striker: int, closing: float = 3.0) -> CourtMoment:
    """Return a racket on the ball; `speed` is what the ball leaves with."""
    return CourtMoment(
        time_s, Surface.RACKET, place, 0.75 * speed + 0.5 * closing, f"racket{striker % 2}", striker
    )


def meeting(
    rng: np.random.Generator, way: BallWay, player: TempoPlayer, volleys: float
) -> tuple[float, Spot, int]:
    """Return when and where a player meets a ball, and how many of its impacts come before."""
    u = rng.uniform
    if way.lands[1] > 4.5 and rng.random() < volleys:
        share = float(u(0.5, 0.85))
        time = way.wall_time_s + share * (way.bounce_s - way.wall_time_s)
        y = max(share * way.lands[1], 2.5)
        x = way.wall_place[0] + share * (way.lands[0] - way.wall_place[0])
        return time, (x, y, float(u(0.8, 2.1))), sum(m.time_s < time - 0.03 for m in way.moments)
    share = float(np.clip(rng.normal(player.early, 0.18), 0.18, 0.93))
    time = way.bounce_s + share * way.hang_s
    after = way.lands[1] + share * way.hang_s * way.away_m_s
    y = after if after < LENGTH_M - 0.3 else 2.0 * (LENGTH_M - 0.3) - after
    height = max(0.15, 0.5 * 9.81 * share * (1.0 - share) * way.hang_s**2)
    place = (way.lands[0], min(max(y, 0.4), LENGTH_M - 0.3), min(height, 1.6))
    return time, place, sum(m.time_s < time - 0.03 for m in way.moments)


def _chosen(rng: np.random.Generator, player: TempoPlayer, place: Spot, volley: bool, state: int) -> str:
    if volley and rng.random() < 0.6:
        return "volley"
    zone = "front" if place[1] < 3.6 else "middle" if place[1] < 6.4 else "back"
    weights = _SHARES * _BY_ZONE[zone] * player.taste
    if state < 0:
        weights = weights * np.array([0.7, 1.2, 0.0, 1.8, 0.3, 3.0, 0.1])
    return str(rng.choice(_NAMES, p=weights / weights.sum()))


def stroke_speed(rng: np.random.Generator, player: TempoPlayer, kind: str, place: Spot) -> float:
    """Return the speed of a stroke: log-normal about the kind's range, by the player's pace."""
    low, high = KINDS[kind].speed
    middle = math.sqrt(low * high) * (player.pace if kind != "drop" else math.sqrt(player.pace))
    far = 1.0 + 0.02 * (place[1] - 5.0)
    least = place[1] / (1.2 if kind == "lob" else 0.9)
    return float(np.clip(middle * far * rng.lognormal(0.0, player.spread + 0.1), max(least, 3.5), 55.0))


def play_rally(rng: np.random.Generator, pair: TempoPair, server: int, start_s: float) -> TempoRally:
    """Return a rally that begins with the serve's strike at `start_s`."""
    state, who, volley = 0, server, False
    left = rng.random() < 0.5
    place: Spot = (float(rng.uniform(0.8, 1.7)), float(rng.uniform(5.6, 6.9)), float(rng.uniform(0.8, 1.9)))
    if not left:
        place = (WIDTH_M - place[0], place[1], place[2])
    out: list[CourtMoment] = []
    time, kind, number, closing = start_s, "serve", 0, 0.0
    chance = 1.0 / pair.mean_strokes
    while True:
        player = pair.players[who]
        speed = stroke_speed(rng, player, kind, place)
        out.append(strike(time, place, speed, who, closing))
        number += 1
        ends = chance * (_ENDS_BY_STATE[state + 1] if number > 1 else 0.35)
        if rng.random() < ends or number > 140:
            return _ended(rng, pair, out, (time, place, speed, kind), who, start_s)
        way = ball_way(rng, pair.ball, KINDS[kind], time, place, speed)
        other = 1 - who
        wish = 0.45 if number == 1 else pair.players[other].volleys
        meets, place, before = meeting(rng, way, pair.players[other], wish)
        out += way.moments[:before]
        volley = meets < way.bounce_s
        closing = min(way.away_m_s, 15.0)
        time, who = max(meets, time + 0.35), other
        drift = int(rng.choice([-1, 0, 1])) if rng.random() > pair.sticky else 0
        state = int(np.clip((-state if number > 1 else 0) + drift, -1, 1))
        kind = _chosen(rng, pair.players[who], place, volley, state)


def _ended(
    rng: np.random.Generator,
    pair: TempoPair,
    out: list[CourtMoment],
    last: tuple[float, Spot, float, str],
    who: int,
    start_s: float,
) -> TempoRally:
    """Return the rally with its last stroke's end: a let, an error, or a winner that bounces twice."""
    time, place, speed, kind = last
    first = len(out)
    way = ball_way(rng, pair.ball, KINDS[kind], time, place, speed)
    draw = rng.random()
    if draw < pair.let:
        # Play stops: the ball is left after its first bounce.
        upto = way.before_bounce + 1
        out += way.moments[:upto]
        end = out[-1].time_s
        out += way.moments[upto : upto + int(rng.integers(0, 4))]
        ending, winner = "let", who
    elif draw < pair.let + (1.0 - pair.let) * pair.errors:
        ending = str(rng.choice(["tin", "out", "down"], p=[0.62, 0.25, 0.13]))
        missed = missed_way(rng, ending, time, place, speed)
        out += missed
        fault = {"tin": 0, "down": 0, "out": -1 if missed[1].surface is Surface.FLOOR else 1}[ending]
        end = missed[fault].time_s if fault >= 0 else missed[0].time_s
        winner = 1 - who
    else:
        upto = next(
            i + 1 for i, m in enumerate(way.moments) if i > way.before_bounce and m.surface is Surface.FLOOR
        )
        out += way.moments[:upto]
        end, ending, winner = out[-1].time_s, "winner", who
    if rng.random() < 0.75 and out[-1].surface is Surface.FLOOR:
        out += dead_ball(rng, pair.ball, out[-1])
    last_strike = out[first - 1].time_s
    return TempoRally(tuple(sorted(out, key=lambda m: m.time_s)), start_s, last_strike, end, ending, winner)
