"""Variety and order of serves against printed values and full enumeration."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest
from scipy.stats import entropy

from goodlength.findings.statistics.diversity_entropy import (
    dirichlet,
    effective_kinds,
    miller_madow,
    plug_in,
)
from goodlength.findings.statistics.serve_repetition_null import (
    after_kind,
    count_repeats,
    repeat_chances,
    repeat_test,
)

# STATS-REF 3.1, bits, computed there: plug-in, Miller-Madow, Dirichlet 1/2, Dirichlet 1
TABLE = [
    ([5, 3, 2], 1.485475, 1.629745, 1.392489, 1.421433),
    ([9, 4, 1, 0], 1.198117, 1.301167, 1.321401, 1.459174),
    ([10, 10], 1, 1.036067, 0.966467, 0.967956),
    ([4, 2, 3, 0, 2, 4, 0, 0, 2, 1, 1], 2.839776, 3.105535, 2.889237, 3.038457),
]


@pytest.mark.parametrize(("counts", "seen", "corrected", "half", "item"), TABLE)
def test_entropy_of_the_mix(counts, seen, corrected, half, item):
    """STATS-REF 3.1, six decimals printed; scipy for the plug-in."""
    assert plug_in(counts) == pytest.approx(seen, abs=5.1e-7)
    assert plug_in(counts) == pytest.approx(float(entropy(counts, base=2)), rel=1e-12)
    assert miller_madow(counts, clipped=False) == pytest.approx(corrected, abs=5.1e-7)
    assert dirichlet(counts) == pytest.approx(half, abs=5.1e-7)
    assert dirichlet(counts, 1.0) == pytest.approx(item, abs=5.1e-7)


def test_effective_number_lies_in_its_range_and_shrinks_with_serves():
    few, many = effective_kinds([4, 3, 1]), effective_kinds([400, 300, 100])
    for kinds, low, high in (few, many):
        assert 1 <= low < kinds <= high <= 3
    assert many[2] - many[1] < (few[2] - few[1]) / 5


def test_worked_sequence():
    """STATS-REF 3.2: 11 L, 9 S, 16 runs, so 3 repeats; P(R >= 16) = 125/8398, P(R <= 16) = .9965467968."""
    serves = "LLSLSLLSLSLSSLSLLSLS"
    assert count_repeats(serves) == len(serves) - 16
    test = repeat_test([serves])
    assert test.lower == pytest.approx(125 / 8398, rel=1e-12)
    assert test.upper == pytest.approx(0.9965467968, rel=1e-9)


@pytest.mark.parametrize("games", [["AABBC"], ["AAAB", "ABC"], ["AABBCC"], ["AAA"], ["A", "BB"]])
def test_repeats_against_every_order_written_out(games):
    """An independent count: all orders of each game, one by one."""
    counted: Counter[int] = Counter({0: 1})
    for game in games:
        item = Counter(count_repeats(order) for order in itertools.permutations(game))
        counted = Counter(
            {
                total: sum(counted[total - k] * ways for k, ways in item.items())
                for total in range(max(counted) + max(item) + 1)
            }
        )
    total = sum(counted.values())
    chances = repeat_chances(games)
    assert chances.sum() == pytest.approx(1.0)
    for k, chance in enumerate(chances):
        assert chance == pytest.approx(counted[k] / total, abs=1e-12)


def test_after_one_kind_against_every_order_written_out():
    games = ["LLSLS", "SSLL"]
    ratios = []
    for orders in itertools.product(*(sorted(set(itertools.permutations(g))) for g in games)):
        again = sum(a == "L" == b for order in orders for a, b in itertools.pairwise(order))
        followed = sum(a == "L" for order in orders for a in order[:-1])
        ratios.append(again / followed)
    result = after_kind(games, "L")
    assert result.mean == pytest.approx(np.mean(ratios), rel=1e-12)
    assert (result.repeated, result.followed) == (2, 4)
    low, high = np.quantile(ratios, [0.025, 0.975], method="inverted_cdf")
    assert (result.low, result.high) == pytest.approx((low, high))
