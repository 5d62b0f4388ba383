"""Ranges of medians (STATS-REF 2.2), and why "stable after n matches" is not used."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from goodlength.errors import OutOfRange
from goodlength.findings.statistics.median_intervals import coverage, median_range


@pytest.mark.parametrize(
    ("of", "rank", "held"), [(5, 1, 0.9375), (6, 1, 0.96875), (9, 2, 0.9609375), (12, 3, 0.96142578125)]
)
def test_exact_coverage(of, rank, held):
    """STATS-REF 2.2, exact; scipy's binomial as second opinion."""
    assert coverage(rank, of) == pytest.approx(held, rel=1e-12)
    assert coverage(rank, of) == pytest.approx(1 - 2 * binom.cdf(rank - 1, of, 0.5), rel=1e-12)


def test_five_matches_give_no_range_at_95_in_100_and_six_do():
    assert median_range([1, 2, 3, 4, 5]).low is None
    assert median_range([1, 2, 3, 4, 5], 0.9).low == 1
    six = median_range([6, 1, 5, 2, 4, 3])
    assert (six.median, six.low, six.high, six.rank) == (3.5, 1, 6, 1)
    nine = median_range(range(1, 10))
    assert (nine.low, nine.high) == (2, 8)
    twelve = median_range(range(1, 13))
    assert (twelve.low, twelve.high) == (3, 10)


@pytest.mark.parametrize("of", [6, 12, 25])
def test_ranges_hold_the_median_of_skewed_lengths(of):
    """Rally lengths are skewed: 3000 samples, four standard errors."""
    rng = np.random.default_rng(of)
    held = 0
    for values in rng.lognormal(2.5, 0.7, size=(3000, of)):
        found = median_range(values)
        held += found.low <= np.exp(2.5) <= found.high
    expected = median_range(np.arange(of)).coverage
    assert held / 3000 == pytest.approx(expected, abs=4 * 0.004)


def test_the_cumulative_mean_rule_misleads():
    """STATS-REF 2.2, simulated there: CV .4, 10 matches: median N for +/- 10 % is 6, true half-width 32 %."""
    rng = np.random.default_rng(40)
    shape = 1 / 0.4**2
    firsts = []
    for values in rng.gamma(shape, 1 / shape, size=(1500, 10)):
        means = np.cumsum(values) / np.arange(1, 11)
        inside = np.abs(means / means[-1] - 1) <= 0.1
        firsts.append(next(n for n in range(1, 11) if inside[n - 1 :].all()))
    stable = np.median(firsts)
    assert stable == pytest.approx(6, abs=1)
    assert 1.96 * 0.4 / stable**0.5 == pytest.approx(0.32, abs=0.04)


def test_nothing_and_gaps():
    assert median_range([]).median is None
    assert median_range([float("nan"), 3.0]).of == 1
    with pytest.raises(OutOfRange):
        coverage(0, 5)
