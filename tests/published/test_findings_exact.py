"""Exact tests and adjusted p against printed values, scipy and statsmodels (independent programs)."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.stats import fisher_exact
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.multitest import multipletests

from goodlength.findings.statistics.evidence_grades import holm, tries_each
from goodlength.findings.statistics.exact_tests import (
    fisher,
    odds_ratio,
    risk_difference,
    stratified_exact,
)

CHANGED = [(4, 6, 3, 8), (3, 4, 2, 6), (2, 3, 1, 4), (1, 2, 0, 3)]  # STATS-REF 3.4, worked check
# Berkeley admissions 1973, six departments: men admitted, men, women admitted, women (STATS-REF 2.5;
# the table is R's UCBAdmissions, from memory)
BERKELEY = [
    (512, 825, 89, 108),
    (353, 560, 17, 25),
    (120, 325, 202, 593),
    (138, 417, 131, 375),
    (53, 191, 94, 393),
    (22, 373, 24, 341),
]


def test_tea_tasting():
    """STATS-REF 2.5 (published, and computed there): 17/70 one-sided, 17/35 two-sided."""
    test = fisher(3, 4, 1, 4)
    assert test.upper == pytest.approx(float(Fraction(17, 70)), rel=1e-12)
    assert test.p == pytest.approx(float(Fraction(17, 35)), rel=1e-12)


def test_fisher_matches_scipy():
    for a, n, c, m in [(11, 17, 1, 12), (5, 9, 3, 10), (0, 6, 4, 5), (20, 40, 10, 40), (3, 3, 0, 1)]:
        assert fisher(a, n, c, m).p == pytest.approx(fisher_exact([[a, n - a], [c, m - c]])[1], rel=1e-9)


def test_stratified_exact_worked_check():
    """STATS-REF 3.4, every figure computed there."""
    test = stratified_exact(CHANGED)
    assert test.seen == 10
    assert test.expected == pytest.approx(float(Fraction(234, 35)), rel=1e-12)
    assert test.variance == pytest.approx(float(Fraction(110816, 47775)), rel=1e-12)
    assert test.upper == pytest.approx(float(Fraction(9539, 315315)), rel=1e-12)
    assert test.p == pytest.approx(0.0459029860, rel=1e-8)
    assert test.mid_upper == pytest.approx(0.0177138734, rel=1e-8)


def test_mantel_haenszel_worked_check():
    """STATS-REF 3.4; statsmodels agrees on the odds ratio."""
    assert odds_ratio(CHANGED) == pytest.approx(143 / 27, rel=1e-12)
    assert risk_difference(CHANGED) == pytest.approx(58 / 153, rel=1e-12)
    tables = [np.array([[a, n - a], [c, m - c]]) for a, n, c, m in CHANGED]
    theirs = StratifiedTable(tables)
    assert odds_ratio(CHANGED) == pytest.approx(theirs.oddsratio_pooled, rel=1e-9)


def test_berkeley_admissions():
    """STATS-REF 2.5: common odds ratio."""
    assert odds_ratio(BERKELEY) == pytest.approx(0.9046968283, rel=1e-9)


BH_1995 = [
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344),
    *(0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1),
]


def test_many_questions_example():
    """STATS-REF 2.5: the p values of Benjamini and Hochberg's example; Holm's 3 is theirs (from memory)."""
    adjusted = holm(BH_1995)
    assert (adjusted <= 0.05).sum() == 3
    np.testing.assert_allclose(adjusted, multipletests(BH_1995, method="holm")[1], rtol=1e-12)


@pytest.mark.parametrize(
    ("shares", "tries"),
    [
        ((0.5, 0.6), 387.34),
        ((0.5, 0.65), 169.31),
        ((0.5, 0.7), 93.00),
        ((0.6, 0.75), 151.87),
        ((0.4, 0.6), 96.92),
        ((0.5, 0.8), 38.48),
    ],
)
def test_tries_to_see_a_difference(shares, tries):
    """STATS-REF 5.2: two-sided 5 in 100, seen four times in five, normal formula."""
    assert tries_each(*shares) == pytest.approx(tries, abs=0.006)
