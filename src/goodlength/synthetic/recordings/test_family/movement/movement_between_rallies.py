"""What two players do between rallies, between games, and before and after play.

The ball is fetched, handed over, hit back; a hand is wiped on a wall; people talk, tie a shoe, step out for a
towel and come back; then the server walks to a box and the receiver to the other back quarter. Intervals of
some two minutes between games are in the rules of 2025, as compiled; that players mostly leave the court in
them is common practice. Chances, paces and places are ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, MIDDLE_M, WIDTH_M
from goodlength.synthetic.recordings.test_family.movement.movement_in_rallies import (
    RallyStrike,
    ServeStand,
    body_at,
)

if TYPE_CHECKING:
    import numpy as np

    from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import (
        FloorPlace,
        MovementPlan,
    )


@dataclass(frozen=True)
class PauseEvents:
    """What the recording holds of a pause: strikes, hands on walls, pairs of doors, where the ball lay."""

    strikes: tuple[RallyStrike, ...] = ()
    taps: tuple[tuple[float, FloorPlace], ...] = ()
    doors: tuple[float, ...] = ()
    ball: FloorPlace | None = None


@dataclass
class PauseHabits:
    """What this pair does in pauses: shares 0 to 1, drawn once for a recording."""

    leaves: float
    stays_in_breaks: float
    hurry: float
    talk: float
    scenes: dict[str, float] = field(default_factory=dict)


SCENES = ("wait", "walk about", "talk", "referee", "shoe", "swing", "lean")


def draw_pause_habits(rng: np.random.Generator) -> PauseHabits:
    """Return what a pair does in pauses."""
    weights = rng.gamma(0.8, 1.0, len(SCENES)) + 0.02
    shares = dict(zip(SCENES, (weights / weights.sum()).tolist(), strict=True))
    leaves = float(rng.choice([0.15, 0.6, 0.95]))
    return PauseHabits(
        leaves,
        float(rng.uniform(0.0, 0.3)),
        float(rng.uniform(0.8, 1.6)),
        float(rng.uniform(0.0, 0.6)),
        shares,
    )


def pause_moves(
    plan: MovementPlan,
    habits: PauseHabits,
    start_s: float,
    stand: ServeStand,
    serve_s: float,
    events: PauseEvents,
) -> None:
    """Write down a pause from the end of play until the next serve is struck."""
    rng = plan.rng
    server = stand.server
    ready = _ready_times(plan, habits, start_s, stand, serve_s)
    for who in (0, 1):
        x, y = plan.at(who)
        drift = (x + float(rng.normal(0.0, 0.6)), y + float(rng.normal(0.2, 0.7)))
        plan.go(who, start_s + float(rng.uniform(0.1, 0.9)), drift, pace_m_s=float(rng.uniform(0.4, 1.2)))
    free = serve_s - start_s
    struck = {s.who for s in events.strikes}
    fetcher = (1 - server) if (1 - server) in struck or rng.random() < 0.45 else server
    if free > 5.0:
        ball = events.ball or (float(rng.uniform(0.6, 5.8)), float(rng.choice([1.0, 2.2, 7.5, 9.0])))
        time = start_s + float(rng.uniform(0.5, 2.0))
        plan.go(fetcher, time, ball, pace_m_s=habits.hurry * plan.movers[fetcher].walk_m_s)
        time += plan.walk_s(fetcher, ball)
        if fetcher != server and not struck and rng.random() < 0.6:
            between = [(a + b) / 2 for a, b in zip(ball, stand.places[server], strict=True)]
            plan.go(fetcher, time, (between[0], between[1]))
        if free > 11.0:
            _scene(plan, habits, 1 - fetcher, start_s + float(rng.uniform(1.5, 3.0)), ready[1 - fetcher])
            if rng.random() < habits.talk:
                _talk(plan, start_s + 3.0, min(ready))
    _struck(plan, events, server)
    for time, place in events.taps:
        who = int(rng.integers(0, 2))
        plan.go(who, time - 1.5, _by_wall(place), by_s=time - 0.2)
    _doors(plan, habits, events, start_s, serve_s)
    _fidget(plan, start_s, ready)
    for who in (0, 1):
        _take_place(plan, who, ready[who], stand, serve_s)


def _ready_times(
    plan: MovementPlan, habits: PauseHabits, start_s: float, stand: ServeStand, serve_s: float
) -> tuple[float, float]:
    """Return when each sets out for the place of the serve."""
    rng, out = plan.rng, []
    for who in (0, 1):
        mover = plan.movers[who]
        early = mover.early_s * float(rng.lognormal(0.0, 0.4)) + (0.5 if who == stand.server else 0.0)
        walk = 4.0 / (habits.hurry * mover.walk_m_s)
        out.append(max(serve_s - early - walk, start_s + 0.3 * (serve_s - start_s)))
    return out[0], out[1]


def _take_place(plan: MovementPlan, who: int, ready_s: float, stand: ServeStand, serve_s: float) -> None:
    """Send somebody to the place at the serve, in time; a server may step into the box at the last moment."""
    rng, place = plan.rng, stand.places[who]
    outside = [g.time_s for g in plan.goals[who] if g.time_s < serve_s and g.place[1] > LENGTH_M]
    inside = [g.time_s for g in plan.goals[who] if g.place[1] < LENGTH_M and g.time_s < serve_s]
    if outside and inside and max(outside) < max(inside) < serve_s - 0.5:
        # Somebody who came in by the door goes on from there.
        ready_s = max(ready_s, min(t for t in inside if t > max(outside)) + 1.2)
    ready_s = min(ready_s, serve_s - 1.4)
    plan.cut(who, ready_s)
    by_s = serve_s - float(rng.uniform(0.5, 1.3))
    if serve_s - ready_s > 4.0 and rng.random() < 0.5:
        x, y = place
        near = (x + float(rng.normal(0.0, 0.5)), y + float(rng.normal(0.2, 0.4)))
        plan.go(who, ready_s, near, by_s=serve_s - 1.8)
        plan.go(who, serve_s - float(rng.uniform(1.4, 2.2)), place, by_s=by_s, sway=0.5, top_m_s=5.0)
    else:
        plan.go(who, ready_s, place, by_s=by_s, sway=0.6, top_m_s=5.0)
    plan.go(who, serve_s - 0.5, place, by_s=serve_s - 0.05, sway=0.2, top_m_s=5.5)


def _by_wall(place: FloorPlace) -> FloorPlace:
    x = 0.5 if place[0] < MIDDLE_M else WIDTH_M - 0.5
    return (x, place[1])


def _scene(plan: MovementPlan, habits: PauseHabits, who: int, start_s: float, until_s: float) -> None:
    """Write down what somebody does who has time."""
    rng, u = plan.rng, plan.rng.uniform
    scene = str(rng.choice(list(habits.scenes), p=list(habits.scenes.values())))
    time = start_s
    if scene == "walk about":
        while time < until_s:
            x, y = plan.at(who)
            plan.go(who, time, (x + float(rng.normal(0.0, 1.3)), y + float(rng.normal(0.0, 1.5))))
            time += float(u(1.5, 5.0))
    elif scene == "talk":
        _talk(plan, time, until_s)
    elif scene == "referee":
        plan.go(who, time, (float(u(1.5, 4.9)), float(u(7.2, 8.6))))
    elif scene == "shoe":
        plan.go(who, time, plan.at(who), sway=0.3)
    elif scene == "swing":
        for _ in range(int(rng.integers(2, 6))):
            x, y = float(u(2.0, 4.4)), float(u(4.8, 7.4))
            plan.go(who, time, (x, y), pace_m_s=float(u(1.0, 2.5)))
            time += float(u(0.8, 2.2))
    elif scene == "lean":
        x = 0.35 if plan.at(who)[0] < MIDDLE_M else WIDTH_M - 0.35
        plan.go(who, time, (x, float(u(2.0, 9.2))), sway=0.3)


def _talk(plan: MovementPlan, start_s: float, until_s: float) -> None:
    """Bring both together for some words."""
    if until_s - start_s < 4.0:
        return
    rng, angle = plan.rng, float(plan.rng.uniform(0.0, 2.0 * math.pi))
    x, y, half = float(rng.uniform(1.8, 4.6)), float(rng.uniform(3.5, 8.2)), float(rng.uniform(0.5, 1.1))
    for who, sign in ((0, 1.0), (1, -1.0)):
        place = (x + sign * half * math.cos(angle), y + sign * half * math.sin(angle))
        plan.go(who, start_s + float(rng.uniform(0.0, 1.5)), place)


def _struck(plan: MovementPlan, events: PauseEvents, server: int) -> None:
    """Write down who hits a ball in a pause: one who is not the server walks to it, a server stands."""
    rng = plan.rng
    for strike in events.strikes:
        if strike.who == server and rng.random() < 0.8:
            continue
        body = body_at(rng, plan.movers[strike.who], strike.ball)
        plan.go(strike.who, strike.time_s - float(rng.uniform(0.9, 1.6)), body, by_s=strike.time_s - 0.15)


def _doors(
    plan: MovementPlan, habits: PauseHabits, events: PauseEvents, start_s: float, serve_s: float
) -> None:
    """Let somebody out at one door and in at the next."""
    rng = plan.rng
    times = sorted(t for t in events.doors if start_s < t < serve_s)
    groups = [t for i, t in enumerate(times) if i == 0 or t - times[i - 1] > 4.0]
    if len(groups) < 2:
        return
    gone = [int(rng.integers(0, 2))] if rng.random() > 0.4 * habits.leaves else [0, 1]
    for who in gone:
        plan.cut(who, groups[0] - 2.0)
        plan.leave(who, groups[0] + 0.6 * (who == gone[-1]))
        back_s = min(groups[-1] + 0.5, serve_s - 3.2)
        plan.come_in(who, back_s, (plan.door_x + float(rng.uniform(-1.0, 1.0)), 8.0))


def _fidget(plan: MovementPlan, start_s: float, until_s: tuple[float, float]) -> None:
    """Add the small ways of a fidgety player."""
    rng = plan.rng
    for who in (0, 1):
        rate = plan.movers[who].fidgets
        if rate <= 0.0 or any(g.place[1] > LENGTH_M for g in plan.goals[who] if g.time_s > start_s):
            continue
        time = start_s + float(rng.exponential(1.0 / rate))
        while time < until_s[who]:
            earlier = [g for g in plan.goals[who] if g.time_s <= time]
            x, y = max(earlier, key=lambda g: g.time_s).place if earlier else plan.at(who)
            step = (x + float(rng.normal(0.0, 0.4)), y + float(rng.normal(0.0, 0.4)))
            plan.go(who, time, step)
            time += 0.6 + float(rng.exponential(1.0 / rate))
        plan.goals[who].sort(key=lambda g: g.time_s)


def break_moves(
    plan: MovementPlan, habits: PauseHabits, start_s: float, end_s: float, events: PauseEvents
) -> None:
    """Write down a break between games: out by the door, or a rest inside; back before play."""
    rng, u = plan.rng, plan.rng.uniform
    middle = (start_s + end_s) / 2
    out = min((t for t in events.doors if start_s <= t < middle), default=start_s + float(u(3.0, 9.0)))
    back = min((t for t in events.doors if middle <= t <= end_s), default=end_s - float(u(6.0, 14.0)))
    struck = {s.who for s in events.strikes}
    for who in (0, 1):
        if who in struck or rng.random() < habits.stays_in_breaks:
            _rest_inside(plan, who, start_s + float(u(0.5, 4.0)), end_s)
        else:
            plan.leave(who, out + float(u(0.0, 2.5)))
            time = out + 6.0
            while time < back - 6.0:
                plan.stay_out(who, time)
                time += float(u(8.0, 60.0))
            inside = (float(u(1.5, 4.9)), float(u(6.5, 8.6)))
            plan.come_in(who, max(min(back + float(u(0.5, 4.0)), end_s - 2.5), out + 5.0), inside)
    for strike in events.strikes:
        body = body_at(rng, plan.movers[strike.who], strike.ball)
        plan.go(strike.who, strike.time_s - float(u(0.8, 1.4)), body, by_s=strike.time_s - 0.15)
    for goals in plan.goals:
        goals.sort(key=lambda g: g.time_s)


def _rest_inside(plan: MovementPlan, who: int, start_s: float, end_s: float) -> None:
    rng, u = plan.rng, plan.rng.uniform
    spot = (float(rng.choice([0.6, 2.4, 4.0, 5.8])), float(u(8.6, 9.3)))
    plan.go(who, start_s, spot, sway=0.4)
    time = start_s + float(u(5.0, 40.0))
    while time < end_s - 6.0:
        place = (float(u(0.6, 5.8)), float(u(2.0, 9.2))) if rng.random() < 0.5 else spot
        plan.go(who, time, place)
        time += float(u(4.0, 35.0))


def after_play(plan: MovementPlan, habits: PauseHabits, start_s: float, end_s: float) -> None:
    """Write down what follows the last rally: hands are shaken, then people go, talk or walk about."""
    rng = plan.rng
    if end_s - start_s < 6.0:
        for who in (0, 1):
            _scene(plan, habits, who, start_s + 0.5, end_s)
        return
    if rng.random() < 0.7:
        _talk(plan, start_s + 1.0, end_s)
    leaves = rng.random() < habits.leaves
    for who in (0, 1):
        time = start_s + float(rng.uniform(8.0, 25.0))
        if leaves and end_s - start_s > 20.0:
            plan.leave(who, time + 4.0)
        else:
            while time < end_s:
                _scene(plan, habits, who, time, min(time + 8.0, end_s))
                time += float(rng.uniform(6.0, 20.0))
