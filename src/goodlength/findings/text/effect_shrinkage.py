"""Likely size of a graded difference, shrunk because it was selected for being large.

A gap that has a grade is on average wider than the true one: only wide ones get through. Drawn in by what
gaps usually are, it is right on average over all gaps that get a grade.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import ndtri

from goodlength.findings.result_types import LikelyGap, Share
from goodlength.findings.statistics.evidence_grades import MATTERS
from goodlength.findings.statistics.exact_tests import Stratum
from goodlength.findings.text.sentence_grammar import plural

# (weight, sd) of true gaps between two shares: a mixture of normals around zero. No published record of
# squash says how wide gaps are; chosen so that graded gaps of simulated matches (bench.seasons, random state
# of its own) come out right on average.
ASSUMED_GAPS = ((0.55, 0.05), (0.45, 0.26))


def shrunk_gap(gap: float, error: float) -> float:
    """Return the posterior mean of a true gap, given the gap seen and its standard error.

    Source
    ------
    Normal likelihood and a mixture of normals as prior (`ASSUMED_GAPS`): conjugate, part by part.

    Examples
    --------
    >>> round(shrunk_gap(0.48, 0.17), 2), round(shrunk_gap(0.48, 0.03), 2)
    (0.29, 0.47)
    """
    weights, means = [], []
    for weight, spread in ASSUMED_GAPS:
        variance = spread**2 + error**2
        weights.append(weight * math.exp(-(gap**2) / (2 * variance)) / math.sqrt(variance))
        means.append(gap * spread**2 / variance)
    total = sum(weights)
    if total <= 0:
        return means[-1]
    return sum(w * m for w, m in zip(weights, means, strict=True)) / total


def likely_gap(
    first: Share, second: Share, gap: float | None = None, error: float | None = None
) -> LikelyGap | None:
    """Return the likely size of the gap between two shares; None where one of them is empty.

    Parameters
    ----------
    first, second : Share
        The two shares compared.
    gap, error : float, optional
        The gap within strata with its standard error, where the shares were compared within strata.
    """
    if not first.of or not second.of:
        return None
    if gap is None or error is None:
        gap = first.count / first.of - second.count / second.of
        error = pooled_error(first.count, first.of, second.count, second.of)
    size = shrunk_gap(gap, error)
    pooled = (first.count + second.count) / (first.of + second.of)
    part = second.of / (first.of + second.of)
    high = min(max(pooled + size * part, 0.0), 1.0)
    low = min(max(pooled - size * (1 - part), 0.0), 1.0)
    return LikelyGap(high, low, size)


def likely_beyond_chance(first: Share, chance: float) -> LikelyGap | None:
    """Return the likely share of repeats, given the share expected from chance; None without serves."""
    if not first.of:
        return None
    size = shrunk_gap(first.count / first.of - chance, standard_error(first.count, first.of))
    return LikelyGap(min(max(chance + size, 0.0), 1.0), chance, size)


def pooled_error(count_1: int, of_1: int, count_2: int, of_2: int) -> float:
    """Return the standard error of a gap, both shares being taken as one.

    Gaps picked for being wide have shares near none and all, whose own errors come out too small.
    """
    p = (count_1 + count_2 + 1) / (of_1 + of_2 + 2)
    return math.sqrt(p * (1 - p) * (1 / of_1 + 1 / of_2))


def standard_error(count: int, of: int) -> float:
    """Return the standard error of a share, half a try added to each side to keep none and all honest."""
    p = (count + 0.5) / (of + 1)
    return math.sqrt(p * (1 - p) / of)


def stratified_error(strata: Sequence[Stratum]) -> float | None:
    """Return the standard error of a difference pooled over strata; None where nothing can be compared.

    Source
    ------
    Mantel and Haenszel's weights with a hit and a miss added in every stratum, which keeps small strata
    honest; its range is checked on known truth.
    """
    top = weight = 0.0
    for a, n, c, m in strata:
        if n and m:
            p, q = (a + 1) / (n + 2), (c + 1) / (m + 2)
            w = n * m / (n + m)
            top += w * w * (p * (1 - p) / n + q * (1 - q) / m)
            weight += w
    return math.sqrt(top) / weight if weight else None


def turned_by_mix(within: float, together: float) -> bool:
    """Return whether counts of all strata together hide, or turn, a difference within them.

    Examples
    --------
    >>> turned_by_mix(0.2, -0.1), turned_by_mix(0.2, 0.15), turned_by_mix(0.2, 0.05)
    (True, False, True)
    """
    return abs(within - together) >= MATTERS and (within * together <= 0 or abs(together) < abs(within) / 2)


def gap_range(gap: float, error: float, level: float) -> tuple[float, float]:
    """Return the normal range of a gap at this level, cut at -1 and 1."""
    half = float(ndtri(0.5 + level / 2)) * error
    return max(-1.0, gap - half), min(1.0, gap + half)


def likely_words(likely: LikelyGap | None, first: Share, second: Share | None, hidden: bool = False) -> str:
    """Return the sentence that stands beside the counts of a graded gap; "" where it would say the same.

    The numbers are of the same totals as the counts. Where whole numbers would hide or turn the gap, the
    gap itself is said; so it is where the counts of all matches hide the gap (`hidden`), which is then
    said as the average within matches.

    Examples
    --------
    >>> one, two = Share(11, 17, 0, 1), Share(1, 12, 0, 1)
    >>> likely_words(likely_gap(one, two), one, two)
    'In the long run the gap is likely smaller, nearer 9 of 17 against 3 of 12.'
    """
    if likely is None:
        return ""
    if hidden:
        return f"In the long run it is likely smaller, nearer {_points(likely.gap)}."
    a, b = round(likely.first * first.of), 0
    if second is None:
        chance = round(likely.second * first.of)
        if a == first.count:
            return ""
        if np.sign(a - chance) == np.sign(likely.gap):
            return f"In the long run the number is likely nearer {a} of {first.of}."
    else:
        b = round(likely.second * second.of)
        together = first.count / first.of - second.count / second.of
        if (
            (a, b) == (first.count, second.count)
            or likely.gap * together <= 0
            or abs(likely.gap) > abs(together)
        ):
            return ""  # the same, or the counts of all matches hide the gap
        if np.sign(a * second.of - b * first.of) == np.sign(likely.gap):
            return f"{_SMALLER} {a} of {first.of} against {b} of {second.of}."
    return f"{_SMALLER} {_points(likely.gap)}."


_SMALLER = "In the long run the gap is likely smaller, nearer"


def _points(gap: float) -> str:
    points = max(1, round(100 * abs(gap)))
    return f"{points} percentage {plural(points, 'point', 'points')}"
