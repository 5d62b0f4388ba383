"""Null distribution of how often a serve repeats the last one, by the player's own mix.

Every order of the serves of one game counts as equally likely (the mix of the game is kept). The chances
are counted exactly, not sampled: no random numbers are needed and the answer is the same each time.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.statistics.exact_tests import ExactTest, both_tails

Floats = NDArray[np.float64]
Stretch = Sequence[Hashable]  # serves of one player in one game, in order, with no gap between


@lru_cache(maxsize=4096)
def _repeat_chances(mix: tuple[int, ...]) -> Floats:
    """Return chance of 0, 1, 2, ... repeats over all orders of a mix such as (5, 3, 1); exact integers
    inside.
    """
    n = sum(mix)
    # blocks[e]: orders with e neighbours tied together beforehand, summed over all ways of tying.
    series = [1]  # coefficient of x^b / b!, over blocks b, as integers scaled by b!
    for size in mix:
        new = [0] * (len(series) + size)
        for b_old, ways in enumerate(series):
            if ways:
                for b in range(1, size + 1):
                    new[b_old + b] += ways * math.comb(b_old + b, b) * math.comb(size - 1, b - 1)
        series = new
    tied = [series[n - e] for e in range(n - len(mix) + 1)]
    counts = [
        sum((-1) ** (e - j) * math.comb(e, j) * tied[e] for e in range(j, len(tied)))
        for j in range(len(tied))
    ]
    total = sum(counts)
    chances = np.array([count / total for count in counts])
    chances.setflags(write=False)
    return chances


def _mix(stretch: Stretch) -> tuple[int, ...]:
    return tuple(sorted(Counter(stretch).values(), reverse=True))


def count_repeats(stretch: Stretch) -> int:
    """Return the number of serves of the same kind as the one before.

    Examples
    --------
    >>> count_repeats("LLSL")
    1
    """
    return sum(first == second for first, second in itertools.pairwise(stretch))


def repeat_chances(stretches: Sequence[Stretch]) -> Floats:
    """Return chance of 0, 1, 2, ... repeats in all if the order of the serves in each game were luck.

    Parameters
    ----------
    stretches : sequence of sequences
        Kinds served in order, one stretch a game (or a part of it without a gap).

    Returns
    -------
    ndarray, shape (n,)
        Sums to 1; ends at the most repeats the mixes allow.

    Source
    ------
    STATS-REF 3.2, exact in place of sampled permutations: orders with given ties by inclusion and
    exclusion (computed here).

    Examples
    --------
    >>> repeat_chances(["LLS"]).round(4).tolist()  # LSL: none; LLS and SLL: one
    [0.3333, 0.6667]
    """
    chances = np.ones(1)
    for stretch in stretches:
        if len(stretch) > 1:
            chances = np.convolve(chances, _repeat_chances(_mix(stretch)))
    return chances


def repeat_test(stretches: Sequence[Stretch]) -> ExactTest:
    """Test whether serves repeat the last one more, or less, often than the mix of each game gives.

    Returns
    -------
    ExactTest
        Of the number of repeats; every p is 1 where there is nothing to order.

    Examples
    --------
    >>> round(repeat_test(["LLSLSLLSLSLSSLSLLSLS"]).lower, 7)  # 16 runs: 125/8398
    0.0148845
    """
    return both_tails(0, repeat_chances(stretches), sum(count_repeats(stretch) for stretch in stretches))


@dataclass(frozen=True)
class AfterKindNull:
    """Repeats straight after one kind, and the band luck gives for their share (95 in 100)."""

    repeated: int
    followed: int
    mean: float
    low: float
    high: float
    p: float


@lru_cache(maxsize=4096)
def _after_chances(size: int, others: int) -> Floats:
    """Return chances by [repeats of the kind, serves of the kind that are followed by another], one game."""
    table = np.zeros((max(size, 1), size + 1))
    if size == 0:
        table[0, 0] = 1.0
        return table
    total = math.comb(size + others, size)
    for runs in range(1, size + 1):
        ways = math.comb(size - 1, runs - 1)
        # runs of the kind sit in gaps between the others: `others` gaps before or between, one at the end
        table[size - runs, size - 1] += ways * math.comb(others, runs - 1) / total  # last serve is one
        table[size - runs, size] += ways * math.comb(others, runs) / total
    table.setflags(write=False)
    return table


def _joined(array: Floats, two: Floats) -> Floats:
    """Return chances of sums of two independent pairs of numbers."""
    out = np.zeros((array.shape[0] + two.shape[0] - 1, array.shape[1] + two.shape[1] - 1))
    for i, j in np.argwhere(array > 0):
        out[i : i + two.shape[0], j : j + two.shape[1]] += array[i, j] * two
    return out


def after_kind(stretches: Sequence[Stretch], kind: Hashable) -> AfterKindNull:
    """Return how often one kind was followed by itself, beside what its share of each game gives.

    Returns
    -------
    AfterLuck
        `p` is two-sided: twice the smaller tail of the repeats among orders, at most 1. The band is 0 to 1
        where the kind was never followed by another serve.

    Examples
    --------
    >>> after_kind(["LLSL"], "L").followed
    2
    """
    chances = np.ones((1, 1))
    repeated = followed = 0
    for stretch in stretches:
        size = sum(hashable == kind for hashable in stretch)
        if len(stretch) < 2 or not size:
            continue
        repeated += sum(a == kind == b for a, b in itertools.pairwise(stretch))
        followed += size - (stretch[-1] == kind)
        chances = _joined(chances, _after_chances(size, len(stretch) - size))
    if not followed:
        return AfterKindNull(0, 0, math.nan, 0.0, 1.0, 1.0)
    index = np.argwhere(chances > 0)
    index = index[index[:, 1] > 0]
    weight = chances[index[:, 0], index[:, 1]]
    weight = weight / weight.sum()
    ratio = index[:, 0] / index[:, 1]
    low, high = band(ratio, weight)
    seen = repeated / followed
    tail = min(weight[ratio <= seen + 1e-12].sum(), weight[ratio >= seen - 1e-12].sum())
    return AfterKindNull(repeated, followed, float(ratio @ weight), low, high, float(min(1.0, 2 * tail)))


def band(values: Floats, weights: Floats, level: float = 0.95) -> tuple[float, float]:
    """Return the lowest and highest value left after cutting off at most half of the rest at each end.

    Examples
    --------
    >>> band(np.array([0.0, 0.5, 1.0]), np.array([0.01, 0.98, 0.01]))
    (0.5, 0.5)
    """
    order = np.argsort(values)
    values, summed_up = values[order], np.cumsum(weights[order])
    tail = (1 - level) / 2
    last = len(values) - 1
    low = min(int(np.searchsorted(summed_up, tail, side="right")), last)
    high = min(int(np.searchsorted(summed_up, 1 - tail - 1e-12, side="left")), last)
    return float(values[low]), float(values[high])
