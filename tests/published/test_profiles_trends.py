"""The p behind a trend against statsmodels, and what regression to the mean does to one bad match."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import t as student_t

from goodlength.findings.reports.player_across_matches import trend_p
from goodlength.findings.reports.player_trends import trend
from goodlength.findings.statistics.evidence_grades import holm


@pytest.mark.parametrize("seed", range(4))
def test_the_p_of_a_trend_is_that_of_a_quasi_binomial_model(seed) -> None:
    """statsmodels GLM, binomial; its variance widened by Pearson's chi-square over 10, t with 10 (scipy)."""
    rng = np.random.default_rng(seed)
    n = rng.integers(25, 45, 12)
    shares = np.clip(0.45 + 0.015 * np.arange(12) + rng.normal(0, 0.12, 12), 0.05, 0.95)
    y = rng.binomial(n, shares)
    found = trend(y.tolist(), n.tolist())
    design = sm.add_constant(np.arange(12) - 5.5)
    theirs = sm.GLM(np.c_[y, n - y], design, family=sm.families.Binomial()).fit()
    p = theirs.fittedvalues
    scatter = ((y - n * p) ** 2 / (n * p * (1 - p))).sum() / 10
    wald = theirs.params[1] / (theirs.bse[1] * np.sqrt(max(1.0, scatter)))  # ours never narrows
    assert trend_p(found) == pytest.approx(2 * student_t.sf(abs(wald), 10), rel=1e-3)


def test_ten_trends_asked_together_seldom_claim_one_when_nothing_changes() -> None:
    """300 seasons of eight matches with good and bad days; any claim in at most 20 of 100 seasons."""
    rng = np.random.default_rng(12)
    claimed = 0
    for _ in range(300):
        asked = []
        for _ in range(10):
            n = rng.integers(25, 45, 8)
            y = rng.binomial(n, rng.beta(12, 12, 8))
            asked.append(trend_p(trend(y.tolist(), n.tolist())))
        claimed += bool((holm(asked) <= 0.20).any())
    assert claimed / 300 <= 0.20 + 4 * np.sqrt(0.2 * 0.8 / 300)
    assert claimed  # a test that cannot fail shows nothing


def test_the_match_after_the_worst_of_ten_is_better_by_itself() -> None:
    """Nothing changes: every match has the same chance. The mean of the worst of ten lies 1.54 sd down."""
    rng = np.random.default_rng(4)
    matches = rng.binomial(40, 0.5, size=(4000, 11)) / 40
    worst = matches[:, :10].min(axis=1)
    sd = np.sqrt(0.25 / 40)
    # expected smallest of ten normal values: -1.5388 sd (tables of order statistics; from memory)
    assert (worst.mean() - 0.5) / sd == pytest.approx(-1.5388, abs=0.06)  # binomial, so a little off
    assert matches[:, 10].mean() == pytest.approx(0.5, abs=4 * sd / np.sqrt(4000))
    # ten chances in eleven that one more match is not below the worst of ten, ties on top
    assert (matches[:, 10] >= worst).mean() >= 10 / 11 - 4 * np.sqrt(10 / 121 / 4000)
