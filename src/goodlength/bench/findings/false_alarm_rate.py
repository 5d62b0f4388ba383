"""False alarm rate of the findings: simulated matches without any difference, graded as real ones."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.proportion_intervals import jeffreys, wilson
from goodlength.synthetic.simulated_matches import null_match


@dataclass(frozen=True)
class NullRates:
    """Shares of null matches with any Clear and any Leaning finding, with their Monte Carlo errors."""

    matches: int
    null_any_clear: float
    null_any_clear_error: float
    null_any_leaning: float
    null_any_leaning_error: float
    questions_a_match: float


def null_rates(rng: np.random.Generator, matches: int = 400) -> NullRates:
    """Judge invented matches without any difference and count false Clear and false Leaning findings.

    Counted over all questions looked at, of both players, listed or not.

    Parameters
    ----------
    rng : numpy Generator
        Draws the matches: even and uneven pairs, games to 11 and to 15, four mixes of serves.
    matches : int
        How many; 400 take a few seconds and give a Monte Carlo error of about a point.

    Returns
    -------
    NullRates
        `null_any_leaning` counts matches with any finding graded Leaning or Clear.
    """
    clear = leaning = asked = 0
    for _ in range(matches):
        share_a = float(rng.uniform(0.4, 0.6))
        table = null_match(rng, share_a, int(rng.choice((11, 11, 15))), 3)
        found = judge_all(RallyMasks(table))
        grades = {result.grade for result in found}
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
        asked += sum(result.p is not None for result in found)
    p, q = clear / matches, leaning / matches
    return NullRates(
        matches,
        p,
        math.sqrt(max(p, 1 / matches) * (1 - p) / matches),
        q,
        math.sqrt(max(q, 1 / matches) * (1 - q) / matches),
        asked / matches,
    )


@dataclass(frozen=True)
class Coverage:
    """How often a range holds the true share, averaged over shares .05 to .95, and the worst one."""

    method: str
    tries: int
    level: float
    mean: float
    worst: float
    worst_share: float


def coverage(tries: int, level: float, method: str = "jeffreys", shares: int = 181) -> Coverage:
    """Exact coverage of a range of one share, averaged over evenly spaced shares from .05 to .95.

    Parameters
    ----------
    tries : int
        Tries behind each share.
    level : float
        The level promised.
    method : str
        "jeffreys" or "wilson".
    shares : int
        How many true shares to average over.

    Examples
    --------
    >>> round(coverage(20, 0.90).mean, 3)
    0.897
    """
    count = np.arange(tries + 1)
    low, high = (wilson if method == "wilson" else jeffreys)(count, np.full(tries + 1, tries), level)
    true = np.linspace(0.05, 0.95, shares)
    ways = np.array([math.comb(tries, int(k)) for k in count], dtype=float)
    chance: NDArray[np.float64] = ways * true[:, None] ** count * (1 - true[:, None]) ** (tries - count)
    covered = (chance * ((low <= true[:, None]) & (true[:, None] <= high))).sum(axis=1)
    worst = int(covered.argmin())
    return Coverage(method, tries, level, float(covered.mean()), float(covered[worst]), float(true[worst]))
