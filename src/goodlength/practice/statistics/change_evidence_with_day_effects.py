"""Evidence of a change when days differ, for hits and for distances.

The first day is a single draw of form however many balls it holds, so that evidence grows with days and not
with balls alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from goodlength.practice.statistics.miss_distance_change import SPREAD, t_evidence

Floats = NDArray[np.float64]
Counts = tuple[int, int]

# Standard deviations of a day's true rate around the usual one, equally likely; no published record says it.
ASSUMED_DAY_FORMS = (0.04, 0.11)
# Of a day's mean distance (square roots), in standard deviations of single balls: an aim 20 cm off.
ASSUMED_DAY_DISTANCE = 0.2
RATES: Floats = np.linspace(0.0125, 0.9875, 40)
_ACROSS = np.array([[p * (1 - p) / sd**2 - 1 for p in RATES] for sd in ASSUMED_DAY_FORMS])
KAPPAS: Floats = np.maximum(_ACROSS, 0.5)  # near none and all a rate cannot differ by so much


def evidence_over_days(first: Sequence[Counts], later: Sequence[Counts]) -> float:
    """Return how many times likelier the hits are under two usual rates than under one, days differing.

    Parameters
    ----------
    first, later : sequence of (hits, attempts)
        One entry a day.

    Source
    ------
    Ratio of beta-binomial chances over uniform usual rates, the form of days as `ASSUMED_DAY_FORMS`.

    Examples
    --------
    >>> evidence_over_days([(10, 45)], [(35, 45)] * 5) > 20
    True
    >>> evidence_over_days([(18, 45)], [(27, 45)] * 5) < 3
    True
    """
    a, b = _log_chance(first), _log_chance(later)
    together = _mean(a + b)
    return math.exp(min(_mean(_row_means(a) + _row_means(b)) - together, 700.0))


def _log_chance(days: Sequence[Counts]) -> Floats:
    """Log chance of the hits of some days at each form and usual rate, shape (forms, rates)."""
    out = np.zeros_like(KAPPAS)
    for hits, of in days:
        out = out + _log_chance_of_day(hits, of)
    return np.asarray(out)


@lru_cache(maxsize=1024)  # days alike recur: up to a hundred each time `more` is worked out
def _log_chance_of_day(hits: int, of: int) -> Floats:
    alpha, beta = KAPPAS * RATES, KAPPAS * (1 - RATES)
    constant = gammaln(KAPPAS) - gammaln(alpha) - gammaln(beta)
    out = np.asarray(constant + gammaln(alpha + hits) + gammaln(beta + of - hits) - gammaln(KAPPAS + of))
    out.flags.writeable = False
    return out


def _row_means(log: Floats) -> Floats:
    """Log of the mean over usual rates, form by form, shape (forms, 1)."""
    top = log.max(axis=1, keepdims=True)
    return np.asarray(top + np.log(np.exp(log - top).mean(axis=1, keepdims=True)))


def _mean(log: Floats) -> float:
    """Log of the mean over everything."""
    top = float(log.max())
    return top + math.log(float(np.exp(log - top).mean()))


def distance_evidence_over_days(first: Sequence[Floats], later: Sequence[Floats]) -> float:
    """Return how many times likelier distances are under a change than under none, days differing.

    Parameters
    ----------
    first, later : sequence of ndarray
        Distances from the aim, metres, one array a day.

    Source
    ------
    As `distance.distance_evidence`, on means of days weighted by what each is worth when days differ by
    `ASSUMED_DAY_DISTANCE`.
    """
    every = [np.sqrt(day) for day in (*first, *later) if day.size]
    freedom = sum(day.size for day in every) - len(every)
    if freedom < 1:
        return 1.0
    pooled = sum(float(day.var()) * day.size for day in every) / freedom
    if pooled <= 0:
        return 1.0
    (a, worth_a), (b, worth_b) = _weighted(first), _weighted(later)
    worth = 1 / (1 / worth_a + 1 / worth_b)
    return t_evidence((b - a) ** 2 * worth / pooled, worth, freedom, SPREAD)


def _weighted(days: Sequence[Floats]) -> tuple[float, float]:
    """Return mean of the days, and how many single balls without form it is worth."""
    worth = np.array([1 / (ASSUMED_DAY_DISTANCE**2 + 1 / day.size) for day in days if day.size])
    means = np.array([float(np.sqrt(day).mean()) for day in days if day.size])
    return float(worth @ means / worth.sum()), float(worth.sum())
