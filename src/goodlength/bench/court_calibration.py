"""Calibration on simulated recordings with known truth: how often its 90-in-100 ranges hold it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.ball import PlayConditions
from goodlength.ball.calibration_fit import (
    ASSUMED_DROP_M,
    ASSUMED_LANDING_M,
    ASSUMED_MARK_M,
    ASSUMED_PHONE_M,
    ASSUMED_TIME_S,
    FRICTION_SD,
    PRIOR_SDS,
    CalibrationHit,
    Drop,
    calibrate,
    coefficients_of,
    observations,
    thud_gaps,
)
from goodlength.ball.model.calibration_result import NAMES, Calibration
from goodlength.ball.model.checks import Floats
from goodlength.errors import InputError

LOW = np.array([0.25, 0.0, -0.3, 0.7, -0.3, 0.75])
HIGH = np.array([0.75, 0.3, 0.55, 1.3, 1.6, 1.15])
PACES = (12.0, 25.0, 35.0)


@dataclass(frozen=True)
class Condition:
    """How the hits really were: spin about the axis across the court, about the other two, friction."""

    name: str
    top_rad_s: float = 40.0
    side_rad_s: float = 0.0
    friction_drawn: bool = False


CONDITIONS = (
    Condition("spin of 40 rad/s about all axes, friction drawn", 40.0, 40.0, True),
    Condition("spin of 40 rad/s across only, friction as assumed"),
    Condition("spin of 40 rad/s across only, friction drawn", friction_drawn=True),
    Condition("spin of 200 rad/s about all axes, friction drawn", 200.0, 200.0, True),
)


@dataclass(frozen=True)
class CalibrationFigures:
    """Share of 90-in-100 ranges that hold the truth, and how wide they are beside those before."""

    condition: str
    runs: int
    held: dict[str, float]
    width_share: dict[str, float]
    failed: int


def bench_calibration(
    seed: int = 20261125, runs: int = 200, condition: Condition = CONDITIONS[0]
) -> CalibrationFigures:
    """Simulate recordings as the guide asks for: five drops, fifteen straight hits, five cross-court."""
    held, width, failed = np.zeros(6), np.zeros(6), 0
    for k in range(runs):
        truth, found = calibrate_one(np.random.default_rng([seed, k]), condition)
        if found is None:
            failed += 1
            continue
        for i, name in enumerate(NAMES):
            low, high = found.interval(name)
            held[i] += low <= truth[i] <= high
            width[i] += (high - low) / (3.2897 * PRIOR_SDS[i])
    done = max(runs - failed, 1)
    return CalibrationFigures(
        condition.name,
        runs,
        dict(zip(NAMES, (held / done).tolist(), strict=True)),
        dict(zip(NAMES, (width / done).tolist(), strict=True)),
        failed,
    )


def table(seed: int = 20261125, runs: int = 60) -> tuple[CalibrationFigures, ...]:
    """`bench_calibration` for every condition."""
    return tuple(bench_calibration(seed, runs, condition) for condition in CONDITIONS)


def calibrate_one(
    rng: np.random.Generator, condition: Condition = CONDITIONS[0]
) -> tuple[Floats, Calibration | None]:
    """One court with its recordings: the truth, and what was learnt."""
    base = PlayConditions().coefficients()
    middle = np.array([base.e7, base.speed_power, base.grip, base.drag_factor, base.lift, base.bounce.floor])
    truth = np.clip(middle + rng.standard_normal(6) * np.array(PRIOR_SDS), LOW, HIGH)
    how = coefficients_of(base, truth)
    if condition.friction_drawn:
        floor, walls, glass = np.exp(np.clip(rng.normal(0.0, FRICTION_SD, 3), -1.0, 1.0))
        as_told = how.friction
        how = how.but(
            friction=type(as_told)(
                as_told.floor * floor,
                as_told.front * walls,
                as_told.left * walls,
                as_told.right * walls,
                as_told.back * glass,
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


def simulated_hits(
    rng: np.random.Generator, how: object, condition: Condition = CONDITIONS[1]
) -> list[CalibrationHit]:
    from goodlength.ball import Coefficients

    assert isinstance(how, Coefficients)
    spins = np.array([condition.top_rad_s, condition.side_rad_s, condition.side_rad_s])
    contacts, launches, across = [], [], []
    for pace in PACES:
        for _ in range(5):
            contacts.append([3.2, 4.0 if pace < 20 else 6.0, 1.1])
            far = contacts[-1][1]
            up = (0.2 + 4.9 * (far / pace) ** 2) / far + rng.normal(0, 0.02)
            launches.append(
                [pace + rng.normal(0, 1), rng.normal(0, 0.01), up, *rng.normal(0.0, 1.0, 3) * spins]
            )
            across.append(False)
    for _ in range(5):
        contacts.append([4.6, 5.6, 1.2])
        launches.append(
            [
                20 + rng.normal(0, 1),
                -0.36 + rng.normal(0, 0.015),
                0.52 + rng.normal(0, 0.015),
                *rng.normal(0.0, 1.0, 3) * spins,
            ]
        )
        across.append(True)
    seen = observations(how, np.array(contacts), np.array(launches), np.array(ASSUMED_PHONE_M))
    noise = np.array([ASSUMED_TIME_S] * 3 + [ASSUMED_MARK_M] * 2 + [ASSUMED_LANDING_M] * 4)
    seen = seen + rng.standard_normal(seen.shape) * noise
    seen[:, 3] = np.clip(seen[:, 3], 0.02, 6.38)
    seen[:, 7:] = np.clip(seen[:, 7:], 0.02, [6.38, 9.73])
    found = []
    for place, row, cross in zip(contacts, seen, across, strict=True):
        side = (
            (float(row[5]), float(row[6]))
            if cross and np.isfinite(row[5:7]).all() and 0 <= row[6] <= 5
            else None
        )
        found.append(
            CalibrationHit(
                (place[0], place[1], place[2]),
                float(row[0]),
                float(row[1]),
                None,
                (float(row[3]), float(row[4])),
                side,
                (float(row[7]), float(row[8])),
            )
        )
    return found
