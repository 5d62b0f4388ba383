"""Two people who walk and run from goal to goal: habits, a plan of goals, and the places that follow.

A person turns towards the goal with bounded acceleration, slows before it, and gives way to the other; a slow
noise (an Ornstein-Uhlenbeck process) moves who stands. All ranges are ASSUMED; that runs on a squash court
stay below about 6 m/s is common practice, no source.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

from goodlength.court.dimensions import LENGTH_M, MIDDLE_M, WIDTH_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEP_S = 0.05
FASTEST_M_S = 5.8
OUTSIDE_Y_M = 11.5
BODY_M = 0.25
"""Half the width of a body: nobody's middle comes nearer to a wall."""

CLOSEST_M = 0.5
DOOR_M = 0.45
"""Half the width of the door."""

FloorPlace = tuple[float, float]


@dataclass(frozen=True)
class Mover:
    """How a person moves: times in s, speeds in m/s, lengths in m; shares 0 to 1."""

    left_handed: bool
    reaction_s: float
    top_m_s: float
    acceleration_m_s2: float
    walk_m_s: float
    home: FloorPlace
    recovery: float
    scatter: float
    reach_m: float
    sway_m: float
    fidgets: float
    tires: float
    right_box: float
    early_s: float


def draw_mover(rng: np.random.Generator, level: float) -> Mover:
    """Return a person; `level` 0 is a beginner, 1 a player of the tours."""
    u = rng.uniform
    return Mover(
        left_handed=bool(rng.random() < 0.14),
        reaction_s=float(u(0.08, 0.28) + 0.22 * (1.0 - level)),
        top_m_s=float(np.clip(3.3 + 1.7 * level + rng.normal(0.0, 0.35), 2.9, 5.5)),
        acceleration_m_s2=float(np.clip(4.0 + 2.5 * level + rng.normal(0.0, 0.7), 3.2, 8.0)),
        walk_m_s=float(u(0.75, 1.6)),
        home=(float(rng.normal(3.2, 0.2)), float(np.clip(rng.normal(6.7 - 0.8 * level, 0.4), 5.0, 7.8))),
        recovery=float(np.clip(0.35 + 0.55 * level + rng.normal(0.0, 0.14), 0.1, 1.0)),
        scatter=float(u(0.05, 0.45)),
        reach_m=float(u(0.6, 1.05)),
        sway_m=float(np.exp(u(math.log(0.02), math.log(0.25)))),
        fidgets=float(rng.choice([0.0, u(0.02, 0.12), u(0.15, 0.5)], p=[0.3, 0.45, 0.25])),
        tires=float(u(0.0, 0.5) * (1.2 - level)),
        right_box=float(rng.choice([0.05, 0.3, 0.75, 0.95])),
        early_s=float(np.exp(u(math.log(0.5), math.log(5.0)))),
    )


def within_court(place: FloorPlace, margin_m: float = 0.3) -> FloorPlace:
    """Return the nearest place that is so far from every wall."""
    x, y = place
    return (
        min(max(x, margin_m), WIDTH_M - margin_m),
        min(max(y, margin_m), LENGTH_M - margin_m),
    )


@dataclass(frozen=True)
class MoveGoal:
    """From a time on somebody makes for a place, at a pace or as fast as it takes to be there by a time.

    `sway` scales the noise of who stands; `top_m_s` is the most for this way.
    """

    time_s: float
    place: FloorPlace
    by_s: float
    pace_m_s: float
    top_m_s: float
    sway: float


class MovementPlan:
    """Goals of two people while they are written down; `at` is where each is to be by the last goal."""

    def __init__(self, rng: np.random.Generator, movers: tuple[Mover, Mover]) -> None:
        self.rng, self.movers = rng, movers
        self.door_x = MIDDLE_M + float(rng.choice([0.0, 0.0, -2.0, 2.0]) + rng.uniform(-0.4, 0.4))
        self.goals: tuple[list[MoveGoal], list[MoveGoal]] = ([], [])

    def at(self, who: int) -> FloorPlace:
        """Return where somebody's last goal lies."""
        return self.goals[who][-1].place if self.goals[who] else (3.2, 7.0)

    def go(
        self,
        who: int,
        time_s: float,
        place: FloorPlace,
        *,
        by_s: float = math.inf,
        pace_m_s: float | None = None,
        top_m_s: float | None = None,
        sway: float = 1.0,
        outside: bool = False,
    ) -> None:
        """Add a goal; one on the court is moved off its walls, one `outside` stays."""
        mover = self.movers[who]
        if not outside:
            place = within_court(place)
        pace = mover.walk_m_s if pace_m_s is None else pace_m_s
        top = mover.top_m_s if top_m_s is None else top_m_s
        self.goals[who].append(MoveGoal(time_s, place, by_s, pace, max(top, pace), sway))

    def cut(self, who: int, time_s: float) -> None:
        """Take out what somebody was to do from a time on."""
        self.goals[who][:] = [g for g in self.goals[who] if g.time_s < time_s]

    def walk_s(self, who: int, place: FloorPlace) -> float:
        """Return how long a walk from the last goal to a place takes."""
        return math.dist(self.at(who), place) / self.movers[who].walk_m_s + 0.6

    def is_out(self, who: int) -> bool:
        """Return whether somebody's last goal lies outside."""
        return bool(self.goals[who]) and self.at(who)[1] > LENGTH_M

    def stay_out(self, who: int, time_s: float, pace_m_s: float = 0.8) -> None:
        """Give somebody a place outside, near the door."""
        u = self.rng.uniform
        beyond = (self.door_x + float(u(-1.2, 1.2)), OUTSIDE_Y_M + float(u(0.4, 1.8)))
        self.go(who, time_s, beyond, sway=0.5, pace_m_s=pace_m_s, outside=True)

    def leave(self, who: int, time_s: float) -> None:
        """Send somebody out by the door in the back wall."""
        inside = (self.door_x, 9.2)
        self.go(who, time_s - 0.5 * self.walk_s(who, inside), inside, by_s=time_s + 0.6)
        self.stay_out(who, time_s + 0.9, max(1.1, self.movers[who].walk_m_s))

    def come_in(self, who: int, time_s: float, place: FloorPlace) -> None:
        """Let somebody in by the door, and on to a place."""
        self.go(who, time_s, (self.door_x, 9.0), by_s=time_s + 2.0)
        self.go(who, time_s + 1.8, place)


def walked_places(plan: MovementPlan, seconds: float) -> NDArray[np.float64]:
    """Return both people's places, shape (2, n, 2) in m, every `STEP_S` from 0 to about `seconds`."""
    count = round(seconds / STEP_S) + 1
    sways = [_sway(plan.rng, mover, count) for mover in plan.movers]
    orders = [sorted(goals, key=lambda g: g.time_s) for goals in plan.goals]
    times = [[g.time_s for g in goals] for goals in orders]
    places = [[*goals[0].place] for goals in orders]
    speeds = [[0.0, 0.0], [0.0, 0.0]]
    out = np.empty((2, count, 2))
    for index in range(count):
        now = index * STEP_S
        out[:, index] = places
        ahead = [[*place] for place in places]
        for who in (0, 1):
            goal = orders[who][max(bisect.bisect(times[who], now) - 1, 0)]
            goal = replace(goal, place=_by_door(plan.door_x, places[who], goal.place))
            _one_step(
                plan.movers[who], goal, now, places[who], speeds[who], places[1 - who], sways[who][index]
            )
            ahead[who] = [p + STEP_S * v for p, v in zip(places[who], speeds[who], strict=True)]
        _give_room(places, ahead)
        ahead = [_walled(plan.door_x, places[who], ahead[who]) for who in (0, 1)]
        for who in (0, 1):
            speeds[who] = [(a - p) / STEP_S for a, p in zip(ahead[who], places[who], strict=True)]
        places = ahead
    return out


def _give_room(places: list[list[float]], ahead: list[list[float]]) -> None:
    """Move two who would stand in one place apart, by no more than a fast step."""
    apart = math.dist(ahead[0], ahead[1])
    if not 1e-6 < apart < CLOSEST_M:
        return
    shift = min(0.5 * (CLOSEST_M - apart), 0.1) / apart
    dx, dy = shift * (ahead[0][0] - ahead[1][0]), shift * (ahead[0][1] - ahead[1][1])
    for who, sign in ((0, 1.0), (1, -1.0)):
        x, y = ahead[who][0] + sign * dx, ahead[who][1] + sign * dy
        far = math.hypot(x - places[who][0], y - places[who][1])
        share = min(1.0, FASTEST_M_S * STEP_S / far) if far > 0.0 else 1.0
        ahead[who] = [
            places[who][0] + share * (x - places[who][0]),
            places[who][1] + share * (y - places[who][1]),
        ]


def _sway(rng: np.random.Generator, mover: Mover, count: int) -> NDArray[np.float64]:
    """Return the slow noise of somebody who stands, shape (count, 2), about 1.5 s long."""
    past = math.exp(-STEP_S / 1.5)
    noise = rng.normal(0.0, mover.sway_m * math.sqrt(1.0 - past**2), (count, 2))
    swayed: NDArray[np.float64] = np.clip(lfilter([1.0], [1.0, -past], noise, axis=0), -0.5, 0.5)
    return swayed


def _one_step(
    mover: Mover,
    goal: MoveGoal,
    now_s: float,
    place: list[float],
    speed: list[float],
    other: list[float],
    sway: NDArray[np.float64],
) -> None:
    """Turn somebody's speed towards what the goal asks for, within the bounds of acceleration."""
    dx = goal.place[0] + goal.sway * float(sway[0]) - place[0]
    dy = goal.place[1] + goal.sway * float(sway[1]) - place[1]
    far = math.hypot(dx, dy)
    hurry = far / max(goal.by_s - now_s, 0.15) if goal.by_s < math.inf else 0.0
    brake = mover.acceleration_m_s2 * (1.7 if hurry > goal.pace_m_s else 1.0)
    wanted = min(max(goal.pace_m_s, hurry), goal.top_m_s, math.sqrt(2.0 * brake * far), far / 0.15)
    vx, vy = (wanted * dx / far, wanted * dy / far) if far > 1e-6 else (0.0, 0.0)
    apart = math.dist(place, other)
    if 1e-6 < apart < 0.9:
        push = 6.0 * (0.9 - apart)
        vx += push * (place[0] - other[0]) / apart
        vy += push * (place[1] - other[1]) / apart
    change = math.hypot(vx - speed[0], vy - speed[1])
    most = brake * STEP_S
    share = min(1.0, most / change) if change > 0.0 else 0.0
    speed[0] += share * (vx - speed[0])
    speed[1] += share * (vy - speed[1])
    size = math.hypot(*speed)
    if size > FASTEST_M_S:
        speed[0] *= FASTEST_M_S / size
        speed[1] *= FASTEST_M_S / size


def _by_door(door_x: float, place: list[float], goal: FloorPlace) -> FloorPlace:
    """Return where to go next: the goal, or the door where the back wall lies between."""
    if (place[1] > LENGTH_M) == (goal[1] > LENGTH_M):
        return goal
    if abs(place[0] - door_x) > DOOR_M - 0.1:
        return (door_x, LENGTH_M + 0.5 if place[1] > LENGTH_M else LENGTH_M - 0.5)
    return (door_x, goal[1])


def _walled(door_x: float, before: list[float], after: list[float]) -> list[float]:
    """Return the next place: nobody walks through a wall, and through the back wall only by the door."""
    x = min(max(after[0], BODY_M), WIDTH_M - BODY_M)
    y = max(after[1], BODY_M)
    in_door = abs(x - door_x) < DOOR_M
    if not in_door and before[1] <= LENGTH_M - BODY_M:
        y = min(y, LENGTH_M - BODY_M)
    elif not in_door and before[1] >= LENGTH_M + BODY_M:
        y = max(y, LENGTH_M + BODY_M)
    elif LENGTH_M - BODY_M < before[1] < LENGTH_M + BODY_M:
        x = min(max(x, door_x - DOOR_M), door_x + DOOR_M)
    return [x, y]
