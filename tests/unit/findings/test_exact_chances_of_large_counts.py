"""Chances of large counts: the same numbers as from each binomial coefficient, and in a few multiplications."""

from __future__ import annotations

import math

import pytest
from scipy.stats import fisher_exact

from goodlength.findings.statistics import exact_tests

TABLES = [(11, 17, 1, 12), (0, 5, 5, 5), (3, 4, 1, 4), (260, 700, 300, 650), (1, 1, 0, 900)]


@pytest.mark.parametrize("table", TABLES)
def test_every_chance_is_that_of_its_binomial_coefficients(table):
    wins_1, size_1, wins_2, size_2 = table
    wins = wins_1 + wins_2
    low, chances = exact_tests.hypergeometric(wins, size_1, size_2)
    ways = [
        math.comb(size_1, k) * math.comb(size_2, wins - k)
        for k in range(max(0, wins - size_2), min(wins, size_1) + 1)
    ]
    assert low == max(0, wins - size_2)
    assert chances.tolist() == [way / math.comb(size_1 + size_2, wins) for way in ways]


def test_a_season_of_serves_takes_three_coefficients_and_agrees_with_scipy(monkeypatch):
    asked = []
    before = math.comb
    monkeypatch.setattr(math, "comb", lambda n, k: asked.append((n, k)) or before(n, k))
    exact_tests.hypergeometric.cache_clear()
    test = exact_tests.fisher(2210, 5000, 2390, 5000)
    assert len(asked) == 3
    monkeypatch.undo()
    expected = fisher_exact([[2210, 2790], [2390, 2610]]).pvalue
    assert test.p == pytest.approx(expected, rel=1e-6)
