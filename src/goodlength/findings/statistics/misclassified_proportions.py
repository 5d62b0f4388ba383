"""Ranges of a share in which some answers were proposed and never checked, and may be wrong.

```
 counts as they stand ──> so many answers wrong? (beta posterior of the error rate) ──> counts as they may be
                                                                                         └─> mixture of ranges
```
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaincinv
from scipy.stats import binom

from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
POINTS = 32  # equally likely error rates that stand for a posterior
LEAST_WEIGHT = 1e-5  # counts less likely than this are passed over
STEPS = 40  # halvings of 0 to 1: ends to 1e-12


@dataclass(frozen=True)
class UncheckedCounts:
    """How many rallies of a share rest on an answer that nobody checked, and how often these are wrong.

    Parameters
    ----------
    hits, misses : int
        Rallies counted, and not counted, whose own answer (won or lost) nobody checked.
    placed : int
        Rallies whose place among those counted at all (the kind of serve) nobody checked.
    wrong, wrong_place : (float, float)
        Beta posterior of the error rate of these answers, and of these places.
    gained : float
        Of the misses that are wrong, the share that are hits in truth, 0 to 1: 1 where there are two answers,
        less where a wrong answer may stand for any of several others.
    """

    hits: int
    misses: int
    placed: int
    wrong: tuple[float, float]
    wrong_place: tuple[float, float]
    gained: float = 1.0


def unchecked_range(
    count: int, of: int, unchecked: UncheckedCounts, level: float = 0.95
) -> tuple[float, float]:
    """Return the Jeffreys range of a share, widened by what unchecked answers may have got wrong.

    Wrong answers turn a hit into a miss and the other way. A rally at the wrong place is taken out; how many
    of those were hits is not known, so each number is held equally likely. The range is of the mixture of all
    counts that may be true. What belongs here and was placed elsewhere is not known and not added.

    Parameters
    ----------
    count, of : int
        Rallies counted, out of those asked about; of at least 1.
    level : float
        How often the range should hold the true share, 0 to 1.

    Returns
    -------
    low, high : float
        0 to 1; never inside the Jeffreys range of the same counts.

    Raises
    ------
    OutOfRange
        For counts that cannot be.

    Source
    ------
    MARSHALL-1990: counts corrected by the rates at which answers that stand are right, from a sample checked
    (predictive values). That the rates are a beta posterior, and places wrong at random, is ours.

    Examples
    --------
    >>> every = UncheckedCounts(7, 8, 15, (0.5, 10.5), (0.3, 9.7))
    >>> [round(end, 3) for end in unchecked_range(10, 20, every)]
    [0.277, 0.728]
    """
    from goodlength.findings.statistics.proportion_intervals import jeffreys

    if unchecked.hits > count or unchecked.misses > of - count or unchecked.placed > of:
        raise OutOfRange(f"More unchecked answers than rallies: {unchecked} of {count} of {of}.")
    if not min(*unchecked.wrong, *unchecked.wrong_place) > 0.0 or not 0.0 <= unchecked.gained <= 1.0:
        raise OutOfRange(f"Error rates need parameters above 0, and a share gained from 0 to 1: {unchecked}.")
    low, high = (float(end) for end in jeffreys(count, of, level))
    weights, hits, rest = _mixture(count, of, unchecked)
    tail = (1.0 - level) / 2.0
    below, above = (_quantile(weights, hits, rest, share) for share in (tail, 1.0 - tail))
    return min(low, below), max(high, above)


def _mixture(count: int, of: int, unchecked: UncheckedCounts) -> tuple[Floats, Floats, Floats]:
    """Return weights and the parameters of the beta distributions of all counts that may be true."""
    table: dict[tuple[int, int], float] = {}
    flips = _true_counts(count, unchecked)
    for out, chance in _often(unchecked.placed, unchecked.wrong_place):
        for hits, likely in flips.items():
            taken = range(max(0, out - (of - hits)), min(out, hits) + 1)
            for gone in taken:
                key = (hits - gone, of - out - (hits - gone))
                table[key] = table.get(key, 0.0) + chance * likely / len(taken)
    weights = np.array(list(table.values()))
    pairs = np.array(list(table), dtype=float)
    return weights / weights.sum(), pairs[:, 0] + 0.5, pairs[:, 1] + 0.5


def _true_counts(count: int, unchecked: UncheckedCounts) -> dict[int, float]:
    """Return how likely each true count is; both kinds of error share one rate."""
    found: dict[int, float] = {}
    both = (
        _shares(unchecked.hits, unchecked.wrong),
        _shares(unchecked.misses, unchecked.wrong, unchecked.gained),
    )
    for lost, gained in zip(*both, strict=True):
        for change, likely in enumerate(np.convolve(gained, lost[::-1])):
            if likely / POINTS > LEAST_WEIGHT:
                hits = count + change - unchecked.hits
                found[hits] = found.get(hits, 0.0) + float(likely) / POINTS
    return found


def _often(many: int, wrong: tuple[float, float]) -> Iterator[tuple[int, float]]:
    shares = _shares(many, wrong).mean(axis=0)
    return ((n, float(share)) for n, share in enumerate(shares) if share > LEAST_WEIGHT)


@lru_cache(maxsize=512)
def _shares(many: int, wrong: tuple[float, float], gained: float = 1.0) -> Floats:
    """Return shape (POINTS, many + 1): how likely each number of wrong ones is at each error rate."""
    rates = gained * betaincinv(wrong[0], wrong[1], (np.arange(POINTS) + 0.5) / POINTS)
    return np.asarray(binom.pmf(np.arange(many + 1), many, rates[:, None]), dtype=np.float64)


def _quantile(weights: Floats, a: Floats, b: Floats, share: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(STEPS):
        middle = (low + high) / 2.0
        if float(weights @ betainc(a, b, middle)) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
