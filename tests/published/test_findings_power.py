"""Power of the grades, and STATS-REF 2.5: why a difference just seen is not enough."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from goodlength.bench.findings.statistical_power import power
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.statistics.exact_tests import fisher
from goodlength.record.model import Left, ReturnKind
from goodlength.record.tables.rally_table import HOW_TAKEN, LEFT
from goodlength.synthetic.simulated_matches import null_match


@pytest.mark.parametrize(
    ("serves", "better", "tie", "worse"),
    [
        (10, 0.5914, 0.1593, 0.2493),
        (20, 0.6844, 0.1025, 0.2130),
        (40, 0.7846, 0.0595, 0.1559),
        (80, 0.8832, 0.0282, 0.0886),
    ],
)
def test_the_better_kind_does_not_always_look_better(serves, better, tie, worse):
    """STATS-REF 2.5, .55 against .45, computed there."""
    found = power(serves, 0.55, 0.45)
    assert (found.looks_better, found.tie, found.looks_worse) == pytest.approx(
        (better, tie, worse), abs=5.1e-5
    )


@pytest.mark.parametrize(("serves", "size"), [(20, 0.020), (40, 0.033)])
def test_plain_fisher_is_very_conservative(serves, size):
    """STATS-REF 2.5: share of p <= .05 at p = .5; the reason for mid-p."""
    chance = np.outer(*(binom.pmf(np.arange(serves + 1), serves, 0.5) for _ in (0, 1)))
    plain = mid = 0.0
    for a in range(serves + 1):
        for b in range(serves + 1):
            test = fisher(a, serves, b, serves)
            plain += chance[a, b] * (test.p <= 0.05)
            mid += chance[a, b] * (test.mid_p <= 0.05)
    assert plain == pytest.approx(size, abs=5.1e-4)
    assert plain < mid < 0.056


@pytest.mark.parametrize(("serves", "plain"), [(20, 0.1632), (40, 0.3683)])
def test_power_of_fisher(serves, plain):
    """STATS-REF 5.2: .50 against .70, exact power of Fisher's test."""
    chance = np.outer(
        binom.pmf(np.arange(serves + 1), serves, 0.5), binom.pmf(np.arange(serves + 1), serves, 0.7)
    )
    found = sum(
        chance[a, b]
        for a in range(serves + 1)
        for b in range(serves + 1)
        if fisher(a, serves, b, serves).p <= 0.05
    )
    assert found == pytest.approx(plain, abs=5.1e-5)


def test_power_grows_with_serves_and_with_the_gap():
    few, many, wide = power(10, 0.7, 0.25), power(40, 0.7, 0.25), power(10, 0.9, 0.1)
    assert few.leaning < many.leaning < 1
    assert few.clear < wide.clear
    assert few.clear <= few.leaning
    assert few.wrong < 1e-3
    assert few.exaggerated > many.exaggerated > 1


def test_a_narrow_true_gap_hardly_ever_shows_in_one_match():
    assert power(20, 0.55, 0.45).leaning < 0.04


@pytest.mark.slow
def test_a_planted_gap_is_found_in_whole_matches():
    """Whole invented matches with a weak-return share of .8 on one kind and .15 on another."""
    rng = np.random.default_rng(17)
    found = 0
    for _ in range(40):
        table = null_match(rng, 0.5)
        strong = (table.server == 0) & (table.kind % 2 == 0)
        plain = (table.server == 0) & (table.kind % 2 == 1)
        weak = np.where(rng.random(len(table.key)) < np.where(strong, 0.8, 0.15), 1, 2)
        table.left[strong | plain] = weak[strong | plain]
        table.how_taken[(strong | plain)] = HOW_TAKEN.index(ReturnKind.VOLLEYED)
        assert LEFT[1] is Left.LOOSE
        graded = {(item.ask, item.side): item.grade for item in judge_all(RallyMasks(table))}
        found += graded[("weak", "a")] in ("clear", "leaning")
    assert found >= 24
