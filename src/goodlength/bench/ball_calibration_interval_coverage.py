"""Benchmark: how often the 90 % ranges of calibration hold the truth, on simulated recordings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.ball import PlayConditions
from goodlength.ball.ball_and_court_coefficient_fit import (
    ASSUMED_DROP_M,
    ASSUMED_TIME_S,
    FRICTION_SD,
    PRIOR_SDS,
    Drop,
    calibrate,
    coefficients_of,
    thud_gaps,
)
from goodlength.ball.model.ball_and_court_calibration_result import NAMES, Calibration
from goodlength.ball.model.input_validation import Floats
from goodlength.errors import InputError
from goodlength.synthetic.simulated_bounce_recordings import (
    CONDITIONS,
    HIGH,
    LOW,
    Condition,
    simulated_hits,
)


@dataclass(frozen=True)
class CalibrationFigures:
    """Share of 90-in-100 ranges that hold the truth, and how wide they are beside those before."""

    condition: str
    runs: int
    coverage: dict[str, float]
    width_share: dict[str, float]
    failed: int


def bench_calibration(
    seed: int = 20261125, runs: int = 200, condition: Condition = CONDITIONS[0]
) -> CalibrationFigures:
    """Simulate recordings as the guide asks for: five drops, fifteen straight hits, five cross-court."""
    covered, width, failed = np.zeros(6), np.zeros(6), 0
    for k in range(runs):
        truth, found = calibrate_one(np.random.default_rng([seed, k]), condition)
        if found is None:
            failed += 1
            continue
        for i, name in enumerate(NAMES):
            low, high = found.interval(name)
            covered[i] += low <= truth[i] <= high
            width[i] += (high - low) / (3.2897 * PRIOR_SDS[i])
    done = max(runs - failed, 1)
    return CalibrationFigures(
        condition.name,
        runs,
        dict(zip(NAMES, (covered / done).tolist(), strict=True)),
        dict(zip(NAMES, (width / done).tolist(), strict=True)),
        failed,
    )


def table(seed: int = 20261125, runs: int = 60) -> tuple[CalibrationFigures, ...]:
    """`bench_calibration` for every condition."""
    return tuple(bench_calibration(seed, runs, condition) for condition in CONDITIONS)


def calibrate_one(
    rng: np.random.Generator, condition: Condition = CONDITIONS[0]
) -> tuple[Floats, Calibration | None]:
    """Return one court with its recordings: the truth, and what was learnt."""
    base = PlayConditions().coefficients()
    middle = np.array([base.e7, base.speed_power, base.grip, base.drag_factor, base.lift, base.bounce.floor])
    truth = np.clip(middle + rng.standard_normal(6) * np.array(PRIOR_SDS), LOW, HIGH)
    how = coefficients_of(base, truth)
    if condition.friction_random:
        floor, walls, glass = np.exp(np.clip(rng.normal(0.0, FRICTION_SD, 3), -1.0, 1.0))
        assumed = how.friction
        how = how.but(
            friction=type(assumed)(
                assumed.floor * floor,
                assumed.front * walls,
                assumed.left * walls,
                assumed.right * walls,
                assumed.back * glass,
            )
        )
    drops = []
    for _ in range(5):
        gaps = thud_gaps(how, 2.0 + rng.normal(0, ASSUMED_DROP_M), 3)
        drops.append(
            Drop(2.0, tuple(np.concatenate([[0.0], np.cumsum(gaps)]) + rng.normal(0, ASSUMED_TIME_S, 4)))
        )
    hits = simulated_hits(rng, how, condition)
    try:
        return truth, calibrate(drops, hits)
    except InputError:  # refused in words
        return truth, None
