"""How people move in a warm-up: by sides, feeding, to oneself; changes of sides, lost balls, four on court.

That each has a side and sides change about half-way is in the rules on the warm-up (as compiled); styles,
bases and all else are common practice or ASSUMED. Two of four are given where four share the court.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from goodlength.court.dimensions import MIDDLE_M, WIDTH_M
from goodlength.synthetic.recordings.test_family.movement.movement_in_rallies import RallyStrike, body_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import (
        FloorPlace,
        MovementPlan,
    )


@dataclass(frozen=True)
class WarmUpStyle:
    """Depth of each one's base and its range in m, how far in from the side wall, how lively between strokes.

    `across` is False where both play on one side, one before the other; `changes` counts changes of sides.
    """

    name: str
    deep: tuple[float, float]
    roams: float
    inside: float
    lively: float
    across: bool = True
    changes: int = 1


_STYLES = (
    WarmUpStyle("each on a side", (7.3, 7.3), 0.5, 1.6, 0.2),
    WarmUpStyle("each on a side", (6.6, 6.9), 0.9, 1.9, 0.7),
    WarmUpStyle("each on a side", (7.8, 7.0), 0.7, 1.4, 0.4, changes=0),
    WarmUpStyle("one feeds from the front", (3.4, 7.4), 0.5, 2.2, 0.5),
    WarmUpStyle("one feeds from the front", (3.0, 7.8), 0.6, 1.2, 0.6, across=False),
    WarmUpStyle("one feeds from the middle", (5.2, 8.0), 0.5, 1.7, 0.5, across=False, changes=2),
    WarmUpStyle("volleys", (5.0, 5.2), 0.4, 1.7, 0.3),
    WarmUpStyle("short game", (2.8, 3.2), 0.8, 1.8, 0.8),
    WarmUpStyle("points without a score", (6.2, 6.2), 1.2, 2.7, 1.0),
)


def draw_style(rng: np.random.Generator) -> WarmUpStyle:
    """Return how a warm-up goes; most are the usual one, each on a side."""
    weights = [4.0, 4.0, 2.0, 1.0, 1.0, 0.7, 1.0, 0.7, 1.0]
    total = sum(weights)
    style = _STYLES[int(rng.choice(len(_STYLES), p=[w / total for w in weights]))]
    first, second = style.deep
    deep = (first + float(rng.normal(0.0, 0.4)), second + float(rng.normal(0.0, 0.4)))
    inside = min(max(style.inside + float(rng.normal(0.0, 0.3)), 0.8), 2.8)
    return replace(style, deep=deep if rng.random() < 0.5 else deep[::-1], inside=inside)


def _base(style: WarmUpStyle, who: int, flipped: bool) -> FloorPlace:
    right = ((who == 1) if style.across else True) != flipped
    x = WIDTH_M - style.inside if right else style.inside
    front_first = flipped and style.deep[0] != style.deep[1] and not style.across
    return (x, style.deep[1 - who] if front_first else style.deep[who])


def _turns(style: WarmUpStyle, start_s: float, end_s: float, strikes: Sequence[RallyStrike]) -> list[float]:
    """Return when sides change: in the longest gap between strikes about each share of the time."""
    out = []
    for number in range(style.changes):
        wanted = start_s + (number + 1) / (style.changes + 1) * (end_s - start_s)
        near = [
            (b.time_s - a.time_s, a.time_s)
            for a, b in itertools.pairwise(strikes)
            if abs(a.time_s - wanted) < 0.15 * (end_s - start_s)
        ]
        out.append(max(near)[1] + 0.6 if near else wanted)
    return sorted(out)


def warm_up_moves(
    plan: MovementPlan, start_s: float, end_s: float, strikes: Sequence[RallyStrike], tired: float = 0.0
) -> None:
    """Write down a warm-up of two from its strikes."""
    rng = plan.rng
    style = draw_style(rng)
    turns = _turns(style, start_s, end_s, strikes)
    flip = bool(rng.random() < 0.5)
    for who in (0, 1):
        plan.go(who, start_s - 2.5, _base(style, who, flip), by_s=start_s)
    for turn, end in zip(turns, [*turns, end_s][1:], strict=True):
        for who in (0, 1):
            flipped = flip != (sum(t <= turn for t in turns) % 2 == 1)
            plan.go(
                who,
                turn + float(rng.uniform(0.0, 1.2)),
                _base(style, who, flipped),
                by_s=min(turn + 6.0, end),
            )
    last = start_s - 3.0
    for strike, following in zip(strikes, [*strikes[1:], None], strict=True):
        flipped = flip != (sum(t <= strike.time_s for t in turns) % 2 == 1)
        base = _base(style, strike.who, flipped)
        ball = _own_ball(rng, style, base, strike.ball)
        mover = plan.movers[strike.who]
        body = body_at(rng, mover, ball)
        sets_out = max(strike.time_s - float(rng.uniform(0.5, 1.3)), last + 0.2)
        plan.go(
            strike.who,
            sets_out,
            body,
            by_s=strike.time_s - 0.1,
            pace_m_s=float(rng.uniform(0.6, 1.6)),
            sway=0.4,
        )
        if rng.random() < style.lively:
            back = (base[0] + float(rng.normal(0.0, 0.3)), base[1] + float(rng.normal(0.0, 0.3)))
            pace = float(rng.uniform(0.7, 2.0)) * (1.0 - 0.3 * tired)
            plan.go(strike.who, strike.time_s + float(rng.uniform(0.2, 0.6)), back, pace_m_s=pace)
        last = strike.time_s
        gap = (following.time_s if following else end_s) - strike.time_s
        if gap > 3.2 and not any(strike.time_s <= t <= strike.time_s + gap for t in turns):
            _lost_ball(plan, strike.time_s, gap)
    for goals in plan.goals:
        goals.sort(key=lambda g: g.time_s)


def _own_ball(rng: np.random.Generator, style: WarmUpStyle, base: FloorPlace, ball: FloorPlace) -> FloorPlace:
    """Return a ball's place moved to the striker's side and near the base's depth."""
    x = ball[0]
    if style.inside < 2.4 and (x < MIDDLE_M) != (base[0] < MIDDLE_M):
        x = WIDTH_M - x
    x = 0.5 * x + 0.5 * (base[0] if style.inside < 2.4 else x)
    deep = base[1] + style.roams * (0.5 * (ball[1] - 6.5) + float(rng.normal(0.0, 0.4)))
    return (x, min(max(deep, 1.0), 9.2))


def _lost_ball(plan: MovementPlan, time_s: float, gap_s: float) -> None:
    """Let somebody fetch a ball and come back; the other waits, or wanders."""
    rng = plan.rng
    who = int(rng.integers(0, 2))
    ball = (float(rng.uniform(0.5, 5.9)), float(rng.choice([0.8, 1.6, 5.5, 8.0, 9.2])))
    plan.go(who, time_s + float(rng.uniform(0.8, 1.5)), ball, by_s=time_s + 0.55 * gap_s, top_m_s=2.8)
    if rng.random() < 0.4:
        x, y = plan.at(1 - who)
        wander = (x + float(rng.normal(0.0, 0.8)), y + float(rng.normal(0.0, 0.8)))
        plan.go(1 - who, time_s + float(rng.uniform(0.8, 2.0)), wander)


def four_player_moves(
    plan: MovementPlan, start_s: float, end_s: float, strikes: Sequence[RallyStrike]
) -> None:
    """Write down two of four people who warm up with two balls: of one ball, or one of each."""
    rng, u = plan.rng, plan.rng.uniform
    chains: tuple[list[RallyStrike], list[RallyStrike]] = ([], [])
    for strike in strikes:
        near = [strike.time_s - chain[-1].time_s if chain else 9.0 for chain in chains]
        fits = [gap > 0.85 for gap in near]
        pick = int(near[1] > near[0]) if fits[0] == fits[1] else int(fits[1])
        chains[pick].append(strike)
    same_ball = rng.random() < 0.5
    corners = [(1.7, 7.6), (4.7, 7.6), (1.7, 4.0), (4.7, 4.0)]
    rng.shuffle(corners)
    for who in (0, 1):
        chain = chains[0] if same_ball or who == 0 else chains[1]
        base = (corners[who][0] + float(rng.normal(0.0, 0.3)), corners[who][1] + float(rng.normal(0.0, 0.5)))
        plan.go(who, start_s - 2.5, base, by_s=start_s + 0.5)
        changes = start_s + float(u(0.35, 0.65)) * (end_s - start_s) if rng.random() < 0.7 else end_s
        swapped = False
        for strike in (s for s in chain if s.who == who):
            if not swapped and strike.time_s > changes:
                swapped = True
                base = (WIDTH_M - base[0], base[1])
                plan.go(who, strike.time_s - 4.0, base)
            ball = (base[0] + float(rng.normal(0.0, 0.6)), base[1] + float(rng.normal(0.0, 0.6)))
            body = body_at(rng, plan.movers[who], ball)
            plan.go(who, strike.time_s - float(u(0.5, 1.1)), body, by_s=strike.time_s - 0.1)
            if rng.random() < 0.5:
                plan.go(who, strike.time_s + 0.4, base)
    for goals in plan.goals:
        goals.sort(key=lambda g: g.time_s)
