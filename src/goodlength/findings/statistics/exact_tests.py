"""Exact tests of two proportions, and of two proportions within strata."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
Stratum = tuple[int, int, int, int]  # wins in the first group, its size, wins in the second, its size
_SAME = 1e-9  # two probabilities closer than this share of each other count as equal


@dataclass(frozen=True)
class ExactTest:
    """An exact conditional test: the total seen, what luck gives, and how far out it is.

    `p` counts every total no likelier than the one seen (`summed`), or twice the smaller tail (`both_tails`);
    `mid_p` counts half of the one seen. `stated_p` is the one to put into words: where the other tail is
    empty, `mid_p` by likelihood is below the chance of the very tail that was seen, which no reader of the
    counts can follow; twice the smaller tail, with half of the one seen, never is.
    """

    seen: int
    expected: float
    variance: float
    p: float
    mid_p: float
    upper: float
    mid_upper: float
    lower: float

    @property
    def stated_p(self) -> float:
        """`mid_p`, or twice the smaller tail with half of the one seen where that is larger."""
        mid_lower = self.lower - (self.upper - self.mid_upper)
        return min(1.0, max(self.mid_p, 2 * min(self.mid_upper, mid_lower)))


@lru_cache(maxsize=8192)
def hypergeometric(wins: int, size: int, others: int) -> tuple[int, Floats]:
    """Return the lowest possible wins of the first group, and the chances of that and each higher number."""
    low, high = max(0, wins - others), min(wins, size)
    first, second, all_ways = (
        math.comb(size, low),
        math.comb(others, wins - low),
        math.comb(size + others, wins),
    )
    chances = np.empty(high - low + 1)
    for k in range(low, high + 1):
        chances[k - low] = first * second / all_ways
        # whole numbers, so exact: each coefficient follows from the one before
        first = first * (size - k) // (k + 1)
        second = second * (wins - k) // (others - wins + k + 1)
    chances.setflags(write=False)
    return low, chances


def summed(low: int, chances: Floats, seen: int) -> ExactTest:
    """Read a test off the chances of each total, the lowest total being `low`.

    Only for chances with one peak, such as sums of hypergeometric numbers; see `both_tails` for others.
    """
    here = chances[seen - low]
    totals = low + np.arange(chances.size)
    expected = float(totals @ chances)
    variance = float((totals - expected) ** 2 @ chances)
    two_sided = min(1.0, float(chances[chances <= here * (1 + _SAME)].sum()))
    upper = min(1.0, float(chances[seen - low :].sum()))
    lower = min(1.0, float(chances[: seen - low + 1].sum()))
    half = float(here) / 2
    return ExactTest(
        seen, expected, variance, two_sided, max(0.0, two_sided - half), upper, upper - half, lower
    )


def both_tails(low: int, chances: Floats, seen: int) -> ExactTest:
    """Return the same test with p as twice the smaller tail, for chances that may have more than one peak.

    Totals of one parity can be likelier than those between them, and the ends likelier than the middle: by
    likelihood a total beside the expected one would then look rare.

    Examples
    --------
    >>> uneven = np.array([0.3, 0.05, 0.3, 0.05, 0.3])  # 3 is beside the expected 2
    >>> round(summed(0, uneven, 3).p, 2), round(both_tails(0, uneven, 3).p, 2)
    (0.1, 0.7)
    """
    test = summed(low, chances, seen)
    mid_lower = test.lower - (test.upper - test.mid_upper)
    return replace(
        test,
        p=min(1.0, 2 * min(test.upper, test.lower)),
        mid_p=min(1.0, 2 * min(test.mid_upper, mid_lower)),
    )


def stratified_exact(strata: Sequence[Stratum]) -> ExactTest:
    """Test whether the first group wins more or less than the second, comparing only within strata.

    One stratum gives Fisher's exact test. Strata with an empty group say nothing and drop out.

    Parameters
    ----------
    strata : sequence of (wins, size, wins, size)
        First group, then second group, one entry a stratum.

    Returns
    -------
    ExactTest
        Of the total wins in the first group. With nothing to compare every p is 1.

    Raises
    ------
    OutOfRange
        If wins are below zero or above the size of their group.

    Source
    ------
    STATS-REF 3.4: the total is a sum of independent hypergeometric numbers, convolved exactly; the
    two-sided p adds every total no likelier than the one seen.

    Examples
    --------
    >>> round(stratified_exact([(3, 4, 1, 4)]).p, 4)  # tea tasting: 17/35
    0.4857
    """
    low, seen, chances = 0, 0, np.ones(1)
    for first_wins, first, second_wins, second in strata:
        if not (0 <= first_wins <= first and 0 <= second_wins <= second):
            raise OutOfRange(
                f"Wins must lie between 0 and the size of their group; got {first_wins} of {first} and "
                f"{second_wins} of {second}. Give (wins, size, wins, size) for each stratum."
            )
        if not first or not second:
            continue
        begin, part = hypergeometric(first_wins + second_wins, first, second)
        low, seen, chances = low + begin, seen + first_wins, np.convolve(chances, part)
    return summed(low, chances, seen)


@lru_cache(maxsize=8192, typed=True)  # sentences ask for the same few counts again and again
def fisher(wins_1: int, size_1: int, wins_2: int, size_2: int) -> ExactTest:
    """Return Fisher's exact test of two shares; read `mid_p` for small counts.

    Source
    ------
    STATS-REF 2.5.

    Examples
    --------
    >>> round(fisher(11, 17, 1, 12).p, 4)
    0.0032
    >>> table = fisher(43, 43, 5, 7)
    >>> round(table.mid_p, 4), round(table.lower, 4), round(table.stated_p, 4)
    (0.0086, 1.0, 0.0171)
    """
    return stratified_exact([(wins_1, size_1, wins_2, size_2)])


def risk_difference(strata: Sequence[Stratum]) -> float | None:
    """Return difference of shares (first minus second) pooled over strata; None where none can be compared.

    Source
    ------
    STATS-REF 3.4: Mantel and Haenszel's weights.

    Examples
    --------
    >>> round(risk_difference([(4, 6, 3, 8), (3, 4, 2, 6), (2, 3, 1, 4), (1, 2, 0, 3)]), 7)
    0.379085
    """
    weight = top = 0.0
    for wins_1, size_1, wins_2, size_2 in strata:
        if size_1 and size_2:
            top += (wins_1 * size_2 - wins_2 * size_1) / (size_1 + size_2)
            weight += size_1 * size_2 / (size_1 + size_2)
    return top / weight if weight else None


def odds_ratio(strata: Sequence[Stratum]) -> float | None:
    """Return the odds ratio pooled over strata (Mantel and Haenszel); None where it is not defined.

    Source
    ------
    STATS-REF 3.4 and 2.5.

    Examples
    --------
    >>> round(odds_ratio([(4, 6, 3, 8), (3, 4, 2, 6), (2, 3, 1, 4), (1, 2, 0, 3)]), 6)
    5.296296
    """
    used = [s for s in strata if s[1] and s[3]]
    top = sum(w1 * (n2 - w2) / (n1 + n2) for w1, n1, w2, n2 in used)
    bottom = sum(w2 * (n1 - w1) / (n1 + n2) for w1, n1, w2, n2 in used)
    return top / bottom if bottom else None


def chance_first_is_higher(wins_1: int, size_1: int, wins_2: int, size_2: int) -> float:
    """Return chance that the first true share is above the second, every share being as likely beforehand.

    Source
    ------
    STATS-REF 2.3: P(p1 > p2) with uniform priors, a finite sum of Beta functions.

    Examples
    --------
    >>> round(chance_first_is_higher(7, 10, 3, 10), 6)
    0.956946
    """
    a, b = wins_1 + 1, size_1 - wins_1 + 1
    c, d = wins_2 + 1, size_2 - wins_2 + 1
    i = np.arange(a)
    # sum over i < a of B(c+i, b+d) / ((b+i) B(1+i, b) B(c, d)); first ~ Beta(a, b), second ~ Beta(c, d)
    terms = betaln(c + i, b + d) - np.log(b + i) - betaln(1 + i, b) - betaln(c, d)
    return float(min(1.0, max(0.0, np.exp(terms).sum())))
