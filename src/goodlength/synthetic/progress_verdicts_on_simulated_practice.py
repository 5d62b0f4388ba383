"""Simulated practice sessions of players whose form and aim vary from day to day."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.practice.statistics.change_evidence_with_day_effects import (
    distance_evidence_over_days,
    evidence_over_days,
)
from goodlength.practice.statistics.drill_progress import ENOUGH

LATER_DAYS, BALLS, CHECK_EVERY = 5, 45, 5
SPREAD_M = 0.35  # of a club player's lob on the front wall, each way; ASSUMED for the simulation


def verdict_on_hits(rng: np.random.Generator, rate: float, day_form: float = 0.0, change: float = 0.0) -> int:
    """Return 1 if "better" was ever said of a player's hits, -1 if "worse", 0 if neither.

    Looked at after every five balls of five later days; the first verdict counts.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    rate, change : float
        The usual rate on the first day, and what it gains afterwards; shares.
    day_form : float
        Standard deviation of a day's true rate.
    """
    first = [_hits(rng, rate, day_form)]
    later: list[tuple[int, int]] = []
    for _ in range(LATER_DAYS):
        p = _rate(rng, rate + change, day_form)
        hits = 0
        for balls in range(CHECK_EVERY, BALLS + 1, CHECK_EVERY):
            hits += int(rng.binomial(CHECK_EVERY, p))
            days = [*later, (hits, balls)]
            if evidence_over_days(first, days) >= ENOUGH:
                share = sum(y for y, _ in days) / sum(n for _, n in days)
                return 1 if share > first[0][0] / BALLS else -1
        later.append((hits, BALLS))
    return 0


def verdict_on_distances(rng: np.random.Generator, moved_m: float = 0.0, factor: float = 1.0) -> int:
    """Return 1 if "better" was ever said of distances from the aim, -1 if "worse", 0 if neither.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    moved_m : float
        Standard deviation of the middle of a day, each way, metres.
    factor : float
        What the spread is multiplied by after the first day.
    """
    first = [_distances(rng, moved_m, 1.0)]
    later: list[NDArray[np.float64]] = []
    for _ in range(LATER_DAYS):
        day = _distances(rng, moved_m, factor)
        for balls in range(CHECK_EVERY, BALLS + 1, CHECK_EVERY):
            days = [*later, day[:balls]]
            if distance_evidence_over_days(first, days) >= ENOUGH:
                return 1 if np.concatenate(days).mean() < first[0].mean() else -1
        later.append(day)
    return 0


def _rate(rng: np.random.Generator, rate: float, day_form: float) -> float:
    return float(np.clip(rate + rng.normal(0.0, day_form), 0.01, 0.99))


def _hits(rng: np.random.Generator, rate: float, day_form: float) -> tuple[int, int]:
    return int(rng.binomial(BALLS, _rate(rng, rate, day_form))), BALLS


def _distances(rng: np.random.Generator, moved_m: float, factor: float) -> NDArray[np.float64]:
    middle = rng.normal(0.0, moved_m, (2, 1))
    return np.asarray(np.hypot(*(rng.normal(0.0, SPREAD_M * factor, (2, BALLS)) + middle)))
