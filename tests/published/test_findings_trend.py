"""Trend and before-against-after: statsmodels as second opinion, and known truth."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.special import expit

from goodlength.findings.reports.player_trends import trend
from goodlength.findings.text.effect_shrinkage import gap_range, stratified_error


def test_the_slope_is_that_of_statsmodels():
    """Quasi-binomial model with the scatter of Pearson, t quantile by hand."""
    count, of = [12, 15, 14, 19, 22, 20, 25], [30, 33, 31, 36, 40, 35, 41]
    x = np.arange(7) - 3
    fit = sm.GLM(np.c_[count, np.array(of) - count], sm.add_constant(x), family=sm.families.Binomial()).fit(
        scale="X2"
    )
    found = trend(count, of)
    centre = sum(count) / sum(of)
    assert found.per_match == pytest.approx(fit.params[1] * centre * (1 - centre), rel=1e-4)
    if fit.scale > 1:
        half = 2.570582 * fit.bse[1] * centre * (1 - centre)
        assert (found.high - found.low) / 2 == pytest.approx(half, rel=1e-3)
    else:
        plain = fit.bse[1] / fit.scale**0.5 * 2.570582 * centre * (1 - centre)
        assert (found.high - found.low) / 2 == pytest.approx(plain, rel=1e-3)


def test_the_range_of_a_trend_holds_the_truth():
    """Days differ by .3 in log odds; slope .05 a match over 10 matches: held in at least 92 of 100."""
    rng = np.random.default_rng(14)
    held = 0
    for _ in range(400):
        x = np.arange(10) - 4.5
        p = expit(0.05 * x + rng.normal(0, 0.3, 10))
        of = rng.integers(30, 45, 10)
        found = trend(rng.binomial(of, p), of)
        held += found.low <= 0.05 * 0.25 <= found.high
    assert held / 400 >= 0.92


def test_no_trend_is_not_called_one():
    rng = np.random.default_rng(15)
    called = 0
    for _ in range(400):
        of = rng.integers(30, 45, 8)
        found = trend(rng.binomial(of, expit(rng.normal(0, 0.3, 8))), of)
        called += not found.low <= 0 <= found.high
    assert called / 400 <= 0.05 + 4 * 0.011


def test_the_range_of_a_pooled_difference_holds_the_truth():
    """Two opponents of different strength, a true rise of .1: 2000 samples."""
    rng = np.random.default_rng(16)
    held = 0
    for _ in range(2000):
        strata = []
        for base in (0.35, 0.55):
            strata.append((int(rng.binomial(40, base + 0.1)), 40, int(rng.binomial(30, base)), 30))
        weight = [40 * 30 / 70] * 2
        gap = sum(w * (a / n - c / m) for w, (a, n, c, m) in zip(weight, strata, strict=True)) / sum(weight)
        low, high = gap_range(gap, stratified_error(strata), 0.95)
        held += low <= 0.1 <= high
    assert held / 2000 == pytest.approx(0.95, abs=0.02)
