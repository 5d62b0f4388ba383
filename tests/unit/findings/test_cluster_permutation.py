"""The permutation test of shares in clusters: beside the exact test, and under the null."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.findings.statistics.cluster_permutation import ORDERS, cluster_permutation_p
from goodlength.findings.statistics.exact_tests import fisher


@pytest.mark.parametrize(("a", "n", "c", "m"), [(3, 12, 9, 14), (10, 30, 14, 28), (6, 20, 5, 18)])
def test_with_clusters_of_one_it_is_fishers_test(a: int, n: int, c: int, m: int) -> None:
    """Twice the smaller tail of the hypergeometric law, up to the error of drawn orders (0.7 points)."""
    hits = [1] * a + [0] * (n - a) + [1] * c + [0] * (m - c)
    p = cluster_permutation_p(hits, [1] * (n + m), [True] * n + [False] * m)
    test = fisher(a, n, c, m)
    assert p == pytest.approx(min(1.0, 2 * min(test.upper, test.lower)), abs=0.025)


def test_rallies_that_are_alike_are_no_evidence_by_their_shots() -> None:
    """Six rallies of ten shots each, all or nothing: as sixty independent shots it would be beyond doubt."""
    p = cluster_permutation_p([10, 10, 0, 0, 0, 10], [10] * 6, [True, True, True, False, False, False])
    assert p > 0.5
    assert fisher(20, 30, 10, 30).mid_p < 0.02


def test_under_the_null_small_p_are_as_rare_as_they_say() -> None:
    rng = np.random.default_rng(20261130)
    small = 0
    for _ in range(300):
        tries = rng.integers(1, 8, 24)
        hits = rng.binomial(tries, rng.beta(2, 2, 24))
        small += cluster_permutation_p(hits.tolist(), tries.tolist(), [True] * 9 + [False] * 15) <= 0.1
    assert small <= 30 + 3 * (300 * 0.1 * 0.9) ** 0.5


def test_strata_are_never_mixed() -> None:
    """All the gap is between matches; within each there is none."""
    hits, tries = [4] * 6 + [0] * 6, [4] * 12
    first = [True] * 5 + [False] + [True] + [False] * 5
    assert cluster_permutation_p(hits, tries, first) < 0.1
    assert cluster_permutation_p(hits, tries, first, [0] * 6 + [1] * 6) == 1.0


def test_the_least_p_and_an_empty_group() -> None:
    p = cluster_permutation_p([5] * 20 + [0] * 20, [5] * 40, [True] * 20 + [False] * 20)
    assert p == pytest.approx(2 / (ORDERS + 1))
    assert cluster_permutation_p([], [], []) == 1.0
