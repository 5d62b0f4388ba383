"""How two players move in a rally, and where they stand as it is served.

Rules of play (WSF singles, 5.2 to 5.6, as compiled for the project): the server has a foot in a box and
changes boxes while the serve is won; at a hand-out, and as a game begins, the server chooses. The receiver
may stand anywhere; that it is the other back quarter is common practice, no source. The home that a player
goes back to is an area that moves with the ball (a coaching text, as compiled). All else is ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from goodlength.court.dimensions import BOX_M, BOX_REAR_M, MIDDLE_M, SHORT_LINE_REAR_M, WIDTH_M
from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import (
    FloorPlace,
    within_court,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import (
        MovementPlan,
        Mover,
    )


@dataclass(frozen=True)
class RallyStrike:
    """A strike: when, by whom, and the ball's place above the floor in m."""

    time_s: float
    who: int
    ball: FloorPlace


@dataclass(frozen=True)
class ServeStand:
    """Who serves from which box, and where both stand as the serve is struck."""

    server: int
    right: bool
    places: tuple[FloorPlace, FloorPlace]


def _on_side(x_from_wall: float, right: bool) -> float:
    return WIDTH_M - x_from_wall if right else x_from_wall


def draw_stand(rng: np.random.Generator, server: int, right: bool) -> ServeStand:
    """Return where both stand at a serve; the server's middle may be a step inside of the box's line."""
    u = rng.uniform
    box = (
        _on_side(float(u(0.6, BOX_M + 0.2)), right),
        float(u(SHORT_LINE_REAR_M + 0.1, BOX_REAR_M - 0.05)),
    )
    wide = min(max(float(rng.normal(1.7, 0.4)), 0.7), MIDDLE_M - 0.55)
    deep = min(max(float(rng.normal(7.2, 0.6)), SHORT_LINE_REAR_M + 0.55), 8.9)
    receiver = (_on_side(wide, not right), deep)
    return ServeStand(server, right, (box, receiver) if server == 0 else (receiver, box))


def draw_ball(rng: np.random.Generator, before: FloorPlace, gap_s: float) -> FloorPlace:
    """Return where a ball may be met so long after a strike: where a recording leaves it out."""
    across = rng.random() < 0.35
    x = WIDTH_M - before[0] if across else before[0]
    deep = min(max(2.0 + 4.2 * gap_s + float(rng.normal(0.0, 1.2)), 1.0), 9.0)
    if rng.random() < 0.15:
        deep = float(rng.uniform(0.9, 3.0))
    return within_court((x + float(rng.normal(0.0, 0.5)), deep))


def body_at(rng: np.random.Generator, mover: Mover, ball: FloorPlace) -> FloorPlace:
    """Return where a body stands to strike a ball: beside it, on the inside, or by the hand in the middle."""
    reach = mover.reach_m * float(rng.uniform(0.7, 1.15))
    off_middle = ball[0] - MIDDLE_M
    if abs(off_middle) < 0.7:
        forehand = rng.random() < 0.65
        inside = -1.0 if forehand != mover.left_handed else 1.0
    else:
        inside = -math.copysign(1.0, off_middle)
    back = float(rng.normal(0.25 if ball[1] < 3.5 else 0.0, 0.25))
    return within_court((ball[0] + inside * reach, ball[1] + back))


def _home(
    rng: np.random.Generator, mover: Mover, own: RallyStrike, body: FloorPlace, tired: float
) -> FloorPlace:
    """Return where a player goes after a stroke: towards home, a share of the way."""
    deep = own.ball[1] > 6.3
    home = (
        mover.home[0] + 0.1 * (own.ball[0] - MIDDLE_M) + float(rng.normal(0.0, mover.scatter)),
        mover.home[1] + (0.3 if deep else -0.2) + 0.7 * tired + float(rng.normal(0.0, mover.scatter)),
    )
    share = min(max(mover.recovery - 0.35 * tired + float(rng.normal(0.0, 0.12)), 0.08), 1.0)
    return _part_way(body, home, share)


def _part_way(start: FloorPlace, end: FloorPlace, share: float) -> FloorPlace:
    return (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))


def _runs_m(time_s: float) -> float:
    """Return how far a player gets from a stand in a time, at 4.5 m/s2 up to 4.5 m/s (ASSUMED)."""
    if time_s <= 0.0:
        return 0.0
    return 2.25 * time_s**2 if time_s < 1.0 else 2.25 + 4.5 * (time_s - 1.0)


def _outward(strike: RallyStrike, power: float) -> RallyStrike:
    """Return a strike whose ball lies nearer to its side wall, as balls that are played straight do."""
    off = (strike.ball[0] - MIDDLE_M) / MIDDLE_M
    return replace(
        strike, ball=(MIDDLE_M + math.copysign(MIDDLE_M * min(abs(off), 1.0) ** power, off), strike.ball[1])
    )


def play_rally_moves(
    plan: MovementPlan, strikes: Sequence[RallyStrike], end_s: float, tired: tuple[float, float], let: bool
) -> None:
    """Write down the moves of a rally; both stand as served when its first strike is struck.

    Who cannot get to a ball in time from where the last stroke left him sets out sooner, has gone less far
    home, and strikes it nearer to where he was: the diary's places may lie a run apart.
    """
    rng = plan.rng
    power = float(rng.uniform(0.45, 1.0))
    strikes = [strikes[0], *(_outward(s, power) for s in strikes[1:])]
    bodies = [plan.at(strikes[0].who), *(body_at(rng, plan.movers[s.who], s.ball) for s in strikes[1:])]
    reached = [plan.at(0), plan.at(1)]
    for number, now in enumerate(strikes[:-1]):
        following = strikes[number + 1]
        gap = following.time_s - now.time_s
        waits = _run_to(plan, reached, bodies, strikes, number, tired)
        mover = plan.movers[now.who]
        dwell = float(rng.uniform(0.1, 0.4) if number else rng.uniform(0.02, 0.3))
        dwell = min(dwell, 0.4 * gap)
        home = _home(rng, mover, now, bodies[number], tired[now.who])
        if number + 2 < len(strikes):
            home = _nearer(home, bodies[number + 2], strikes[number + 2].time_s - following.time_s - 0.2)
        eager = 1.2 + 2.2 * mover.recovery * (1.0 - 0.3 * tired[now.who])
        pace = eager * float(rng.uniform(0.6, 1.0))
        way = math.dist(bodies[number], home)
        top = min(1.3 * eager, mover.top_m_s)
        plan.go(
            now.who,
            now.time_s + dwell,
            home,
            by_s=following.time_s + float(rng.uniform(-0.1, 0.6)),
            pace_m_s=pace,
            top_m_s=top,
            sway=0.5,
        )
        share = 1.0 if way < 0.1 else min(1.0, max(top * (gap - dwell - 0.2), 0.0) / way)
        reached[now.who] = _part_way(bodies[number], home, share)
        _unsettle(plan, now, following, waits)
    _last_moves(plan, strikes[-1], bodies[-1], end_s, let)


def _nearer(home: FloorPlace, body: FloorPlace, time_s: float) -> FloorPlace:
    """Return a home moved towards the next ball where a run from it would take too long."""
    far, most = math.dist(home, body), _runs_m(time_s)
    return home if far <= most else _part_way(home, body, 0.6 * (1.0 - most / far))


def _run_to(
    plan: MovementPlan,
    reached: list[FloorPlace],
    bodies: list[FloorPlace],
    strikes: Sequence[RallyStrike],
    number: int,
    tired: tuple[float, float],
) -> float:
    """Send the next striker to the ball; return how long after the stroke. Changes `bodies` where too far."""
    rng, now, following = plan.rng, strikes[number], strikes[number + 1]
    other, gap = following.who, following.time_s - now.time_s
    runner, body = plan.movers[other], bodies[number + 1]
    waits = max(runner.reaction_s + float(rng.normal(0.05, 0.07)) + 0.1 * tired[other], 0.03)
    waits = min(waits + (0.15 if number == 0 else 0.0), 0.55 * gap)
    far = math.dist(reached[other], body)
    while waits > 0.06 and _runs_m(gap - waits) < far:
        waits -= 0.05
    most = 1.1 * _runs_m(gap - waits)
    if far > most:
        body = _part_way(reached[other], body, most / far)
    bodies[number + 1] = body
    plan.go(
        other,
        now.time_s + waits,
        body,
        by_s=following.time_s - float(rng.uniform(0.12, 0.4)),
        pace_m_s=float(rng.uniform(1.2, 2.6)),
        top_m_s=5.7,
        sway=0.2,
    )
    return waits


def _unsettle(plan: MovementPlan, now: RallyStrike, following: RallyStrike, waits_s: float) -> None:
    """Add what the next striker does before the run: a split step, or a step the wrong way."""
    rng, who = plan.rng, following.who
    gap = following.time_s - now.time_s
    if rng.random() < 0.05 and gap > 1.4:
        run = plan.goals[who].pop()
        x, y = plan.at(who)
        wrong = (x - 0.3 * (run.place[0] - x), y - 0.3 * (run.place[1] - y))
        plan.go(who, now.time_s + 0.6 * waits_s, wrong, pace_m_s=2.0)
        plan.goals[who].append(replace(run, time_s=min(run.time_s + 0.2, now.time_s + 0.5 * gap)))
    elif rng.random() < 0.5 and len(plan.goals[who]) > 1:
        x, y = plan.goals[who][-2].place
        nudge = (x + float(rng.normal(0.0, 0.12)), y + float(rng.normal(-0.05, 0.12)))
        run = plan.goals[who].pop()
        plan.go(who, now.time_s - 0.05, nudge, pace_m_s=1.5)
        plan.goals[who].append(run)


def _last_moves(plan: MovementPlan, last: RallyStrike, body: FloorPlace, end_s: float, let: bool) -> None:
    """Write down what both do from the last strike on: chase, give up, stand where they met."""
    rng, other = plan.rng, 1 - last.who
    now_s = last.time_s
    if let:
        near = (body[0] + float(rng.normal(0.0, 0.7)), body[1] + float(rng.normal(0.0, 0.7)))
        plan.go(other, now_s + 0.1, near, pace_m_s=2.0)
        plan.go(last.who, now_s + float(rng.uniform(0.2, 0.6)), body, pace_m_s=1.0)
        return
    pace = float(rng.uniform(1.0, 3.0))
    home = plan.movers[last.who].home
    part = float(rng.uniform(0.1, 0.8))
    rest = (body[0] + part * (home[0] - body[0]), body[1] + part * (home[1] - body[1]))
    plan.go(last.who, now_s + float(rng.uniform(0.1, 0.5)), rest, pace_m_s=pace)
    if rng.random() < 0.75:
        target = draw_ball(rng, last.ball, end_s - now_s)
        plan.go(other, now_s + plan.movers[other].reaction_s + 0.1, target, pace_m_s=1.5, by_s=end_s)
        x, y = plan.at(other)
        tail = (x + float(rng.normal(0.0, 0.5)), y + float(rng.normal(0.0, 0.6)))
        plan.go(other, max(end_s - float(rng.uniform(0.0, 0.4)), now_s + 0.5), tail, pace_m_s=1.0)
