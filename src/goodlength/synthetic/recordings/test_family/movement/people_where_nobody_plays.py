"""Who is on a court on which nobody plays: nobody, people who talk, run without a ball, stretch or sweep.

Movement without a ball is a common exercise; common practice, no source. All else is ASSUMED.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import MovementPlan

_WEIGHTS = {
    "speech only": {
        "empty": 1.5,
        "talk": 4.0,
        "ghosting": 0.7,
        "stretch": 1.0,
        "children": 0.6,
        "sweep": 0.3,
    },
    "music only": {"empty": 2.0, "talk": 1.0, "ghosting": 2.0, "stretch": 1.5, "children": 0.7, "sweep": 0.7},
    "street": {"empty": 6.0, "talk": 0.5, "ghosting": 0.5, "stretch": 0.5, "children": 0.3, "sweep": 0.2},
}


def scenes_without_play(plan: MovementPlan, condition: str, start_s: float, end_s: float) -> None:
    """Write down scenes one after the other until the end."""
    rng = plan.rng
    weights = _WEIGHTS.get(condition, _WEIGHTS["speech only"])
    time = start_s
    while time < end_s:
        total = sum(weights.values())
        name = str(rng.choice(list(weights), p=[w / total for w in weights.values()]))
        until = time + float(rng.uniform(20.0, 150.0))
        _SCENES[name](plan, time, min(until, end_s))
        time = until
    for goals in plan.goals:
        goals.sort(key=lambda g: g.time_s)


def _send_out(plan: MovementPlan, who: int, start_s: float) -> None:
    if not plan.goals[who]:
        plan.stay_out(who, start_s)
    elif not plan.is_out(who):
        plan.leave(who, start_s + 2.0)


def _empty(plan: MovementPlan, start_s: float, _until_s: float) -> None:
    for who in (0, 1):
        _send_out(plan, who, start_s + who)


def _talk(plan: MovementPlan, start_s: float, until_s: float) -> None:
    rng, u = plan.rng, plan.rng.uniform
    time = start_s
    while time < until_s - 2.0:
        x, y = float(u(1.2, 5.2)), float(u(3.0, 8.8))
        for who in (0, 1):
            spot = (x + float(rng.normal(0.0, 0.8)), y + float(rng.normal(0.0, 0.8)))
            plan.go(who, time + float(u(0.0, 2.0)), spot)
        time += float(u(6.0, 40.0))


def _ghosting(plan: MovementPlan, start_s: float, until_s: float) -> None:
    """Sets of runs from the middle to the corners and back, by one or both in turn."""
    rng, u = plan.rng, plan.rng.uniform
    both = rng.random() < 0.5
    time, who = start_s, int(rng.integers(0, 2))
    while time < until_s - 2.0:
        plan.go(1 - who, time, (float(u(1.5, 5.0)), float(u(8.7, 9.3))))
        ends = min(time + float(u(15.0, 60.0)), until_s)
        rhythm = float(u(1.1, 2.0))
        plan.go(who, time, (3.2, 5.8), pace_m_s=1.5)
        time += 2.0
        while time < ends:
            corner = (float(rng.choice([0.9, 5.5])), float(rng.choice([1.3, 5.2, 8.3])))
            plan.go(who, time, corner, by_s=time + 0.9 * rhythm, pace_m_s=1.5)
            plan.go(who, time + rhythm, (3.2, 5.9), by_s=time + 1.9 * rhythm, pace_m_s=1.5)
            time += 2.0 * rhythm + float(u(-0.1, 0.3))
        time += float(u(3.0, 12.0))
        who = 1 - who if both else who


def _stretch(plan: MovementPlan, start_s: float, until_s: float) -> None:
    rng, u = plan.rng, plan.rng.uniform
    for who in (0, 1):
        time = start_s + float(u(0.0, 4.0))
        while time < until_s - 2.0:
            x = float(rng.choice([0.5, 5.9])) if rng.random() < 0.6 else float(u(1.0, 5.4))
            plan.go(who, time, (x, float(u(1.5, 9.2))), sway=0.7)
            time += float(u(10.0, 45.0))


def _children(plan: MovementPlan, start_s: float, until_s: float) -> None:
    """Two who chase each other: the second follows the first."""
    u, time = plan.rng.uniform, start_s
    while time < until_s - 2.0:
        place = (float(u(0.6, 5.8)), float(u(0.8, 9.0)))
        plan.go(0, time, place, pace_m_s=float(u(1.5, 3.2)))
        plan.go(1, time + float(u(0.3, 0.9)), place, pace_m_s=float(u(1.5, 3.2)))
        time += float(u(1.2, 5.0))


def _sweep(plan: MovementPlan, start_s: float, until_s: float) -> None:
    """Somebody walks up and down with a broom; the other waits outside."""
    _send_out(plan, 1, start_s)
    time, x, far = start_s, 0.6, True
    while time < until_s - 2.0:
        plan.go(0, time, (x, 0.8 if far else 9.0), pace_m_s=1.1)
        x, far = (x + 0.7 if x < 5.5 else 0.6), not far
        time += 8.8


_SCENES: dict[str, Callable[[MovementPlan, float, float], None]] = {
    "empty": _empty,
    "talk": _talk,
    "ghosting": _ghosting,
    "stretch": _stretch,
    "children": _children,
    "sweep": _sweep,
}
