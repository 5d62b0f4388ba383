"""Players' feet: a split step as the other strikes, quickening steps, a lunge, a way back, squeaks.

Steps are even in number of strides over the way and begin slow; walking between rallies is a renewal process
with rests. How many, how hard and how often they squeak are ASSUMED.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family.shot_flight_timing import CourtMoment, Spot

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from goodlength.synthetic.recordings.test_family.rally_stroke_markov_chain import TempoPlayer

_HOME: Spot = (3.2, 5.8, 0.0)


def _step(time_s: float, place: Spot, hard: float, who: int, squeak: bool = False) -> CourtMoment:
    body = "squeak" if squeak else f"foot{who % 2}"
    return CourtMoment(time_s, Surface.FOOT, (place[0], place[1], 0.02), hard, body)


def _run(
    rng: np.random.Generator,
    player: TempoPlayer,
    who: int,
    start: Spot,
    end: Spot,
    times: tuple[float, float],
) -> list[CourtMoment]:
    """Return the steps of a way between two times; the last is the heaviest."""
    way = math.dist(start[:2], end[:2])
    count = min(int(way / 0.85) + 1, int((times[1] - times[0]) * player.step_hz * 1.3) + 1)
    out = []
    for number in range(count):
        share = ((number + 1) / count) ** 0.8
        time = times[0] + share * (times[1] - times[0])
        place = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]), 0.0)
        hard = player.heavy * float(rng.uniform(1.0, 2.4)) * (1.7 if number == count - 1 else 1.0)
        out.append(_step(time, place, hard, who))
        if rng.random() < 0.06:
            out.append(_step(time + 0.02, place, float(rng.uniform(1.0, 3.0)), who, squeak=True))
    return out


def rally_steps(
    rng: np.random.Generator,
    players: tuple[TempoPlayer, TempoPlayer],
    moments: Sequence[CourtMoment],
    end_s: float,
) -> list[CourtMoment]:
    """Return the steps of both players through a rally."""
    strikes = [m for m in moments if m.striker is not None]
    out: list[CourtMoment] = []
    for now, following in zip(strikes, [*strikes[1:], None], strict=True):
        who = now.striker or 0
        other = 1 - who
        if following is None:
            if rng.random() < 0.7 and end_s - now.time_s > 0.5:
                target = (float(rng.uniform(1.0, 5.4)), float(rng.uniform(1.5, 8.5)), 0.0)
                out += _run(rng, players[other], other, _HOME, target, (now.time_s + 0.3, end_s))
            continue
        gap = following.time_s - now.time_s
        out.append(
            _step(now.time_s + float(rng.uniform(0.02, 0.16)), _HOME, players[other].heavy * 1.6, other)
        )
        away = (now.time_s + 0.3 * gap, following.time_s - float(rng.uniform(0.04, 0.14)))
        out += _run(rng, players[other], other, _HOME, following.place, away)
        home = (now.time_s + 0.25, following.time_s + 0.1)
        out += _run(rng, players[who], who, now.place, _HOME, home)
    return out


def walking_steps(
    rng: np.random.Generator, player: TempoPlayer, who: int, start_s: float, end_s: float
) -> list[CourtMoment]:
    """Return somebody who walks about: stretches of steps with rests between them."""
    out = []
    time = start_s + float(rng.exponential(1.0))
    place = [float(rng.uniform(1.0, 5.4)), float(rng.uniform(2.0, 9.0))]
    while time < end_s:
        for _ in range(int(rng.geometric(0.2))):
            if time >= end_s:
                break
            place = [
                min(max(p + float(rng.normal(0.0, 0.5)), 0.3), most)
                for p, most in zip(place, (6.1, 9.4), strict=True)
            ]
            out.append(
                _step(time, (place[0], place[1], 0.0), 0.8 * player.heavy * float(rng.uniform(0.5, 1.4)), who)
            )
            time += float(rng.normal(1.0, 0.08)) / (0.55 * player.step_hz)
        time += float(rng.exponential(2.5))
    return out
