"""Benchmark of the aim search against brute force on random cases, with its response time."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from goodlength.aim.aim_optimisation import best_aim, thrown, worlds_of
from goodlength.aim.serve_goals import KINDS, task_of
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.ball import Ball, PlayConditions, warm
from goodlength.ball.model.input_validation import Floats

ROUND_WORLDS, ROUND_THROWS = 30, 12
# Aims far apart fare unlike in one world: with 120 worlds the judge itself is off by up to 3 in 100
FRESH_WORLDS, FRESH_THROWS = 1200, 16


@dataclass(frozen=True)
class Case:
    """One random case: what the search found and brute force found are worth, on draws neither has seen.

    `gap` is brute force's worth less the search's, in serves that do their work: 0.01 is one in 100.
    """

    words: str
    search: float
    brute_force: float
    gap: float


@dataclass(frozen=True)
class AimFigures:
    """What `bench aim` prints; seconds are warm, for search, odds, window and misses together."""

    cases: int
    agree: int
    worst_gap: float
    mean_gap: float
    answer_s: float
    answer_worst_s: float
    rows: tuple[Case, ...]


def bench_aim(seed: int = 20261127, cases: int = 20, candidates: int = 600) -> AimFigures:
    """Random cases against brute force; a case agrees when the gap is at most 0.02."""
    from goodlength.tasks.aim.serve_aim import aim_serve

    warm()
    rows = tuple(agrees(seed + k, candidates) for k in range(cases))
    times = []
    for goal in KINDS:
        task, scatter = task_of(goal.kind, "right"), AimScatter.of_level("club")
        start = time.perf_counter()
        aim_serve(task, PlayConditions(), scatter)
        times.append(time.perf_counter() - start)
    gaps = [row.gap for row in rows]
    return AimFigures(
        cases,
        sum(gap <= 0.02 for gap in gaps),
        max(gaps),
        float(np.mean(gaps)),
        float(np.median(times)),
        max(times),
        rows,
    )


def agrees(case: int, candidates: int = 600) -> Case:
    """Return one random case, searched, and by brute force over random spots and speeds in rounds."""
    rng = np.random.default_rng(case)
    kind = KINDS[int(rng.integers(len(KINDS)))].kind
    box, hand = rng.choice(["right", "left"], 2)
    warmth = str(rng.choice(["hot", "warm", "club", "cold"]))
    scatter = AimScatter.of_level(str(rng.choice(["new", "club", "county"])))
    cost = float(rng.choice([0.5, 1.0, 2.0]))
    task, setting = task_of(kind, str(box), str(hand)), PlayConditions(Ball(warmth=warmth))
    best = best_aim(task, setting, scatter, fault_cost=cost, factors=()).aim

    def worth(aims: Floats, worlds: int, throws: int, seed: int) -> Floats:
        got = thrown(task, aims, worlds_of(setting, scatter, worlds, throws, seed))
        each: Floats = (got.goal - cost * ~got.good).reshape(len(aims), -1).mean(axis=1)
        return each

    spans = np.array([task.across_m, task.wanted.up_m, task.wanted.speed_m_s])
    aims = rng.uniform(spans[:, 0], spans[:, 1], (candidates, 3))
    near_best = aims[np.argsort(worth(aims, ROUND_WORLDS, ROUND_THROWS, case))[-30:]]
    near = np.repeat(near_best[-10:], 8, axis=0) + rng.normal(0, [0.1, 0.1, 0.7], (80, 3))
    near = np.clip(np.vstack([near_best, near]), spans[:, 0], spans[:, 1])
    brute = near[int(np.argmax(worth(near, 60, 20, case + 1)))]
    ours = np.array([best.across_m, best.up_m, best.speed_m_s])
    search, force = worth(np.array([ours, brute]), FRESH_WORLDS, FRESH_THROWS, case + 2)
    words = (
        f"{kind}, {box} box, {hand}-handed, {warmth} ball, scatter {scatter.up_m:g} m, fault costs {cost:g}"
    )
    return Case(words, float(search), float(force), float(force - search))
