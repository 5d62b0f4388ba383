"""Ranges of one share and of a difference, against printed values and statsmodels (an independent program)."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from goodlength.findings.statistics.exact_tests import chance_first_is_higher
from goodlength.findings.statistics.proportion_intervals import jeffreys, newcombe, wilson

# STATS-REF 2.3, computed there; Wilson rows 81/263, 15/148, 0/20 and 1/29 are also Newcombe's textbook
# cases (from memory there). Jeffreys at 0/8: the table keeps .0001, here the end is set to 0 as advised.
TABLE = [
    (0, 8, (0, 0.3244), (0, 0.2622)),
    (0, 20, (0, 0.1611), (0, 0.1166)),
    (1, 29, (0.0061, 0.1718), (0.0037, 0.1501)),
    (3, 8, (0.1368, 0.6943), (0.1190, 0.7052)),
    (5, 9, (0.2667, 0.8112), (0.2541, 0.8270)),
    (6, 11, (0.2801, 0.7873), (0.2699, 0.8003)),
    (7, 10, (0.3968, 0.8922), (0.3942, 0.9073)),
    (14, 20, (0.4810, 0.8545), (0.4828, 0.8639)),
    (15, 148, (0.0624, 0.1605), (0.0604, 0.1576)),
    (81, 263, (0.2553, 0.3662), (0.2545, 0.3656)),
]


@pytest.mark.parametrize(("count", "of", "by_wilson", "by_jeffreys"), TABLE)
def test_ranges_match_the_printed_table(count, of, by_wilson, by_jeffreys):
    """STATS-REF 2.3, four decimals printed."""
    for range_of, printed in ((wilson, by_wilson), (jeffreys, by_jeffreys)):
        assert [float(end) for end in range_of(count, of)] == pytest.approx(printed, abs=5.1e-5)


@pytest.mark.parametrize("level", [0.90, 0.95])
def test_ranges_match_statsmodels_everywhere(level):
    """Every count of 1, 7 and 40 tries; statsmodels' Jeffreys differs at the ends, so it is tested inside."""
    for of in (1, 7, 40):
        count = np.arange(of + 1)
        low, high = wilson(count, np.full(of + 1, of), level)
        their_low, their_high = proportion_confint(count, of, 1 - level, "wilson")
        np.testing.assert_allclose(low, np.clip(their_low, 0, 1), atol=1e-9)
        np.testing.assert_allclose(high, np.clip(their_high, 0, 1), atol=1e-9)


def test_jeffreys_matches_statsmodels_between_none_and_all():
    count = np.arange(1, 40)
    low, high = jeffreys(count, np.full(39, 40))
    their_low, their_high = proportion_confint(count, 40, 0.05, "jeffreys")
    np.testing.assert_allclose(low, their_low, rtol=1e-9)
    np.testing.assert_allclose(high, their_high, rtol=1e-9)


@pytest.mark.parametrize(
    ("counts", "printed"),
    [
        ((56, 70, 48, 80), (0.0524, 0.3339)),  # the first four: Newcombe 1998, from memory in STATS-REF
        ((9, 10, 3, 10), (0.1705, 0.8090)),
        ((6, 7, 2, 7), (0.0582, 0.8062)),
        ((5, 56, 0, 29), (-0.0381, 0.1926)),
        ((7, 10, 3, 10), (-0.0288, 0.6718)),
        ((14, 20, 8, 20), (-0.0058, 0.5381)),
    ],
)
def test_difference_of_two_shares(counts, printed):
    """STATS-REF 2.3, Newcombe's hybrid score range; statsmodels as second opinion."""
    _, low, high = newcombe(*counts)
    assert (low, high) == pytest.approx(printed, abs=5.1e-5)
    theirs = confint_proportions_2indep(*counts, method="newcomb", compare="diff")
    assert (low, high) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize(
    ("counts", "chance"), [((7, 10, 3, 10), 0.9569455312), ((6, 10, 4, 10), 0.8025720410)]
)
def test_chance_that_the_first_share_is_higher(counts, chance):
    """STATS-REF 2.3, uniform priors, computed there as a finite sum."""
    assert chance_first_is_higher(*counts) == pytest.approx(chance, rel=1e-9)


def test_chance_first_is_higher_against_drawn_shares():
    """The finite sum against 400,000 draws of both posteriors; four standard errors."""
    rng = np.random.default_rng(5)
    first, second = rng.beta(12, 7, 400_000), rng.beta(2, 12, 400_000)
    drawn = float((first > second).mean())
    assert chance_first_is_higher(11, 17, 1, 12) == pytest.approx(drawn, abs=4 * 0.5 / 400_000**0.5)


@pytest.mark.parametrize(
    ("of", "half"),
    [(8, 0.279), (11, 0.247), (20, 0.197), (40, 0.145), (80, 0.105), (160, 0.075), (400, 0.048)],
)
def test_half_width_at_six_in_ten(of, half):
    """STATS-REF 2.3: Wilson half-width near a share of 60 in 100 (the nearest whole count)."""
    low, high = wilson(round(0.6 * of), of)
    assert float(high - low) / 2 == pytest.approx(half, abs=5.1e-4)
