"""Simulated recordings of drops and hits on a court whose coefficients are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.ball.ball_and_court_coefficient_fit import (
    ASSUMED_LANDING_M,
    ASSUMED_MARK_M,
    ASSUMED_PHONE_M,
    ASSUMED_TIME_S,
    CalibrationHit,
    observations,
)

LOW = np.array([0.25, 0.0, -0.3, 0.7, -0.3, 0.75])


HIGH = np.array([0.75, 0.3, 0.55, 1.3, 1.6, 1.15])


PACES = (12.0, 25.0, 35.0)


@dataclass(frozen=True)
class Condition:
    """How the hits really were: spin about the axis across the court, about the other two, friction."""

    name: str
    top_rad_s: float = 40.0
    side_rad_s: float = 0.0
    friction_random: bool = False


CONDITIONS = (
    Condition("spin of 40 rad/s about all axes, friction drawn", 40.0, 40.0, True),
    Condition("spin of 40 rad/s across only, friction as assumed"),
    Condition("spin of 40 rad/s across only, friction drawn", friction_random=True),
    Condition("spin of 200 rad/s about all axes, friction drawn", 200.0, 200.0, True),
)


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
