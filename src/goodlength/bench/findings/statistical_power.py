"""Power of the findings: how often a true difference is detected, by serves of each kind and by its size."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.evidence_grades import (
    LISTED_FACTOR,
    MOST_LISTED,
    GradeEvidence,
    grade,
)
from goodlength.findings.statistics.exact_tests import chance_first_is_higher, fisher
from goodlength.findings.statistics.proportion_intervals import newcombe

SIZES = (10, 15, 20, 40, 80)
GAPS = ((0.55, 0.45), (0.6, 0.4), (0.65, 0.35), (0.7, 0.25), (0.8, 0.2))


@dataclass(frozen=True)
class Power:
    """Chances over all that `serves` of each kind could give, with true shares `first` and `second`.

    `exaggerated` is how many times too wide the gap looks when it is graded Leaning or better (None where
    it never is).
    """

    serves: int
    first: float
    second: float
    looks_better: float
    tie: float
    looks_worse: float
    clear: float
    leaning: float  # Leaning or Clear
    wrong: float  # Leaning or Clear, the wrong way round
    exaggerated: float | None


def _chances(serves: int, first: float, second: float) -> NDArray[np.float64]:
    k = np.arange(serves + 1)
    return np.outer(binom.pmf(k, serves, first), binom.pmf(k, serves, second))


def power(serves: int, first: float, second: float, asked: int = MOST_LISTED) -> Power:
    """Return how often a question of the list gets a grade when one of `asked` questions has a true
    difference.

    Exact: every result is judged by the real grades, its p adjusted as the smallest of `asked`.

    Parameters
    ----------
    serves : int
        Serves of each kind.
    first, second : float
        True shares of the two kinds, first the higher.
    asked : int
        Questions asked of the match.

    Examples
    --------
    >>> round(power(20, 0.55, 0.45).looks_better, 4)
    0.6844
    """
    chance = _chances(serves, first, second)
    better = np.tril(np.ones_like(chance), -1)
    graded: dict[Grade, float] = dict.fromkeys(Grade, 0.0)
    wrong = seen = 0.0
    for a in range(serves + 1):
        for b in range(serves + 1):
            given = _grade(a, b, serves, asked)
            graded[given] += float(chance[a, b])
            if given in (Grade.CLEAR, Grade.LEANING):
                wrong += float(chance[a, b]) * (a < b)
                seen += float(chance[a, b]) * abs(a - b) / serves
    leaning = graded[Grade.CLEAR] + graded[Grade.LEANING]
    return Power(
        serves,
        first,
        second,
        float((chance * better).sum()),
        float(np.trace(chance)),
        float((chance * better.T).sum()),
        graded[Grade.CLEAR],
        leaning,
        wrong,
        seen / leaning / (first - second) if leaning > 0 and first != second else None,
    )


@cache  # the same counts come back for every gap
def _grade(a: int, b: int, serves: int, asked: int) -> Grade:
    if a == b:
        return Grade.TOO_FEW
    p = fisher(a, serves, b, serves).mid_p
    above = chance_first_is_higher(a, serves, b, serves)
    _, low, high = newcombe(a, serves, b, serves, 0.90)
    q = min(1.0, LISTED_FACTOR * asked * p)
    return grade(GradeEvidence(q, serves, max(above, 1 - above), True, (low, high)))


def power_table(asked: int = MOST_LISTED) -> tuple[Power, ...]:
    """Return the power of one match, and of what several matches would add, for the bench to print."""
    return tuple(power(n, first, second, asked) for first, second in GAPS for n in SIZES)
