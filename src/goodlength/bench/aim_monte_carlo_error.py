"""Benchmark: how much of an aim's "of 100" range is Monte Carlo error of its simulated throws."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.aim.aim_optimisation import (
    SHARE_HIGH,
    SHARE_LOW,
    THROWS,
    WORLDS,
    AimPoint,
    share_of,
    thrown,
    worlds_of,
)
from goodlength.aim.serve_goals import KINDS, Task, task_of
from goodlength.aim.serve_launch_window import middle_of_window
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.ball import Ball, PlayConditions, warm
from goodlength.ball.flight.batch_serve_legality import Flags
from goodlength.ball.model.input_validation import Floats

MANY_THROWS = 2048
OUTCOMES = ("goal", "good", "dies", "volley", "off_back")


@dataclass(frozen=True)
class AimRanges:
    """Ranges of all cases together, in serves of 100; widths are sums over the ranges.

    `luck` is the part of the width that many throws do not have, with `throws` throws a world as they fell;
    `luck_shown` the same of the range that is shown. `off` and `off_shown` are how far their ends lie from
    those of many throws, on average, and `worst_shown` at most.
    """

    cases: int
    ranges: int
    throws: int
    luck: float
    luck_shown: float
    off: float
    off_shown: float
    worst_shown: float
    seconds: float


def bench_aim_ranges(
    seed: int = 20261127, cases: int = 10, throws: Sequence[int] = (THROWS,)
) -> tuple[AimRanges, ...]:
    """Random serves of random players, each aimed at the middle of its window, for each number of throws."""
    warm()
    found: dict[int, list[Floats]] = {count: [] for count in throws}
    spent = dict.fromkeys(throws, 0.0)
    made = case = 0
    while made < cases:
        task, setting, scatter = _case(np.random.default_rng([seed, case]))
        case += 1
        aim = middle_of_window(task, setting)
        if aim is None:
            continue
        made += 1
        many = _ends(_flags(task, setting, scatter, aim, MANY_THROWS))
        for count in throws:
            began = time.process_time()
            flags = _flags(task, setting, scatter, aim, count)
            spent[count] += time.process_time() - began
            found[count].append(np.hstack([many, _ends(flags), _shown(flags)]))
    return tuple(_ranges(count, np.vstack(found[count]), spent[count] / cases, cases) for count in throws)


def _case(rng: np.random.Generator) -> tuple[Task, PlayConditions, AimScatter]:
    kind = KINDS[int(rng.integers(len(KINDS)))].kind
    box, hand = (str(side) for side in rng.choice(["right", "left"], 2))
    warmth = str(rng.choice(["hot", "warm", "club", "cold", "unsure"]))
    level = str(rng.choice(["new", "club", "county"]))
    return task_of(kind, box, hand), PlayConditions(Ball(warmth=warmth)), AimScatter.of_level(level)


def _flags(
    task: Task, setting: PlayConditions, scatter: AimScatter, aim: AimPoint, throws: int
) -> list[Flags]:
    """Return of each outcome whether it came, shape (worlds, throws); the worlds are those of an answer."""
    at = np.array([[aim.across_m, aim.up_m, aim.speed_m_s]])
    got = thrown(task, at, worlds_of(setting, scatter, WORLDS, throws))
    return [getattr(got, name).reshape(WORLDS, throws) for name in OUTCOMES]


def _ends(flags: Sequence[Flags]) -> Floats:
    """Return the ends of the ranges as the throws fell, shape (outcomes, 2), in 100."""
    return np.array([np.quantile(100.0 * each.mean(axis=1), [SHARE_LOW, SHARE_HIGH]) for each in flags])


def _shown(flags: Sequence[Flags]) -> Floats:
    """Return the ends of the ranges as an answer shows them, shape (outcomes, 2), in 100."""
    shares = [share_of(each) for each in flags]
    return np.array([(share.low, share.high) for share in shares])


def _ranges(throws: int, ends: Floats, seconds: float, cases: int) -> AimRanges:
    """Return the figures of one number of throws; ranges that are no range with any throws are left out."""
    ends = ends[(ends[:, 1] > ends[:, 0]) | (ends[:, 3] > ends[:, 2])]
    many, fell, shown = ends[:, :2], ends[:, 2:4], ends[:, 4:]
    width = float(np.diff(many).sum())
    fallen, corrected = float(np.diff(fell).sum()), float(np.diff(shown).sum())
    return AimRanges(
        cases=cases,
        ranges=len(ends),
        throws=throws,
        luck=(fallen - width) / fallen,
        luck_shown=(corrected - width) / corrected,
        off=float(np.abs(fell - many).mean()),
        off_shown=float(np.abs(shown - many).mean()),
        worst_shown=float(np.abs(shown - many).max()),
        seconds=seconds,
    )
