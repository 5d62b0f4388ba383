"""Practice figures against the check values of the statistics notes, section 5.

Status of every value: computed there by two independent routes; Newcombe's rows are the textbook
cases of 1998 (printed values from memory, computed values agree).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.stats.proportion import confint_proportions_2indep

from goodlength.practice import (
    carried_over,
    hit_rate,
    scatter_of,
)
from goodlength.practice.statistics.miss_distance_change import t_evidence, welch_range
from goodlength.practice.statistics.practice_transfer import newcombe

PLACES = [
    (0.10, 0.42),
    (0.25, 0.30),
    (-0.05, 0.55),
    (0.18, 0.61),
    (0.32, 0.12),
    (0.02, 0.38),
    (0.21, 0.47),
    (0.15, 0.25),
    (-0.10, 0.33),
    (0.28, 0.50),
]


def test_rate_after_twelve_of_twenty_from_two_and_two() -> None:
    rate = hit_rate(12, 20, before=(2, 2))
    assert rate.rate == pytest.approx(7 / 12, rel=1e-12)
    assert (rate.low, rate.high) == pytest.approx((0.38542, 0.76809), abs=5e-6)


@pytest.mark.parametrize(
    ("n", "next_ball", "middle"),
    [
        (5, 5.528717, 2.257089),
        (8, 3.674376, 1.224792),
        (10, 3.322040, 1.001633),
        (20, 2.807003, 0.612538),
        (50, 2.577730, 0.360954),
    ],
)
def test_ellipse_factors_for_few_attempts(n: int, next_ball: float, middle: float) -> None:
    """Radii in sample standard deviations, from any places: the usual ellipse has that of 95 in 100 known."""
    seen = scatter_of([tuple(place) for place in np.random.default_rng(n).normal(size=(n, 2))])
    sd = seen.usual.major_m / math.sqrt(-2.0 * math.log(0.05))
    assert seen.next_ball.major_m / sd == pytest.approx(next_ball, abs=1e-5)
    assert seen.middle.major_m / sd == pytest.approx(middle, abs=1e-5)


def test_scatter_of_the_ten_places() -> None:
    seen = scatter_of(PLACES)
    assert seen.bias_m is None
    assert seen.middle_m == pytest.approx((0.136, 0.393), abs=1e-12)
    expected = [[0.02002667, -0.00510889], [-0.00510889, 0.02195667]]
    assert np.allclose(seen.covariance_m2, expected, atol=5e-9)
    # sd of the axes in the notes: .16183601, .12566797; each ellipse is that times its factor
    assert (seen.usual.major_m, seen.usual.minor_m) == pytest.approx((0.39613358, 0.30760338), abs=5e-8)
    assert (seen.next_ball.major_m, seen.next_ball.minor_m) == pytest.approx(
        (0.53762573, 0.41747405), abs=5e-8
    )
    assert (seen.middle.major_m, seen.middle.minor_m) == pytest.approx((0.16210026, 0.12587316), abs=5e-8)
    assert seen.usual.angle_deg == pytest.approx(129.65181, abs=5e-5)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ((48, 80), (56, 70), 0.0524, 0.3339),
        ((3, 10), (9, 10), 0.1705, 0.8090),
        ((2, 7), (6, 7), 0.0582, 0.8062),
        ((0, 29), (5, 56), -0.0381, 0.1926),
        ((3, 10), (7, 10), -0.0288, 0.6718),
        ((8, 20), (14, 20), -0.0058, 0.5381),
    ],
)
def test_newcombe_difference(
    first: tuple[int, int], second: tuple[int, int], low: float, high: float
) -> None:
    change, below, above = newcombe(first, second)
    assert change == pytest.approx(second[0] / second[1] - first[0] / first[1])
    assert (below, above) == pytest.approx((low, high), abs=6e-5)
    other = confint_proportions_2indep(*second, *first, method="newcomb", compare="diff")
    assert (below, above) == pytest.approx(tuple(other), abs=1e-9)


def test_mantel_haenszel_change_over_strata() -> None:
    """The strata of 3.4 there: the risk difference is 58/153."""
    changed = {1: (4, 6), 2: (3, 4), 3: (2, 3), 4: (1, 2)}
    repeated = {1: (3, 8), 2: (2, 6), 3: (1, 4), 4: (0, 3)}
    told = carried_over(repeated, changed)
    assert told.change == pytest.approx(58 / 153, rel=1e-12)
    assert told.low is not None
    assert told.high is not None
    assert told.low < 58 / 153 < told.high


@pytest.mark.parametrize(("t", "n", "m"), [(0.0, 10, 10), (1.5, 8, 20), (-3.0, 15, 45), (6.0, 30, 30)])
def test_evidence_of_a_t_is_the_integral_over_the_prior(t: float, n: int, m: int) -> None:
    """GOENEN-2005, against another route: the noncentral t density integrated over the prior by quadrature."""
    worth, freedom, spread = n * m / (n + m), n + m - 2, 0.5

    def under_a_change(delta: float) -> float:
        return float(
            stats.nct.pdf(t, freedom, delta * math.sqrt(worth)) * stats.norm.pdf(delta, scale=spread)
        )

    top, _ = integrate.quad(under_a_change, -6 * spread, 6 * spread, limit=200)
    assert t_evidence(t * t, worth, freedom, spread) == pytest.approx(
        top / float(stats.t.pdf(t, freedom)), rel=2e-4
    )


def test_range_of_a_change_of_distance_is_welchs() -> None:
    """Against scipy's own, a separate routine."""
    first, since = np.array([0.4, 0.6, 0.5, 0.7, 0.3]), np.array([0.2, 0.3, 0.1, 0.25, 0.2, 0.15])
    span = stats.ttest_ind(since, first, equal_var=False).confidence_interval(0.95)
    assert welch_range(first, since) == pytest.approx((span.low, span.high), rel=1e-12)
