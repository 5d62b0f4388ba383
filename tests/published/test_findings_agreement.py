"""Agreement of observers against STATS-REF 2.1; scikit-learn and statsmodels as second opinions."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa

from goodlength.errors import OutOfRange
from goodlength.findings.statistics.observer_agreement_measures import (
    ac1,
    agreed,
    alpha,
    confusion,
    kappa,
    match_times,
    percentage_error,
)

FOUR = [[22, 3, 1, 0], [2, 18, 4, 0], [0, 3, 15, 2], [0, 1, 2, 17]]
# Brown and O'Donoghue 2008, tennis point types: published totals, read in a textbook chapter
ROWS, COLUMNS = [79, 42, 237, 19, 169, 92, 718], [80, 41, 243, 19, 151, 78, 744]


def test_tennis_point_types():
    """STATS-REF 2.1: p0 .926 published; pe and kappa computed there; % error by type published."""
    n, same = 1356, 1256
    p0 = same / n
    pe = sum(r * c for r, c in zip(ROWS, COLUMNS, strict=True)) / n**2
    assert p0 == pytest.approx(0.9262536873, rel=1e-9)
    assert pe == pytest.approx(0.3441935112, rel=1e-9)
    assert (p0 - pe) / (1 - pe) == pytest.approx(0.8875486688, rel=1e-9)
    printed = [1.3, 2.4, 2.5, 0.0, 11.3, 16.5, 3.6]
    for first, second, error in zip(ROWS, COLUMNS, printed, strict=True):
        assert 100 * percentage_error([first], [second]) == pytest.approx(error, abs=0.051)
    assert 100 * percentage_error(ROWS, COLUMNS) == pytest.approx(4.8672566372, rel=1e-9)


def test_a_table_with_those_margins_gives_that_kappa():
    """Our kappa on a table built to have the published margins and agreement."""
    table = np.diag(np.minimum(ROWS, COLUMNS)).astype(float)
    excess, lack = np.array(ROWS) - np.diag(table), np.array(COLUMNS) - np.diag(table)
    moved = np.outer(excess, lack) / max(excess.sum(), 1)
    table = table + moved
    assert table.sum(axis=1) == pytest.approx(ROWS)
    assert table.sum(axis=0) == pytest.approx(COLUMNS)
    p0, pe = agreed(table), 0.3441935112
    assert kappa(table) == pytest.approx((p0 - pe) / (1 - pe), rel=1e-8)


def test_rugby_operator():
    """STATS-REF 2.1, computed on published data (printed: all coders 5 % or less)."""
    counts = [(51, 53), (102, 108), (39, 40), (49, 49), (6, 6), (14, 15)]
    first, second = zip(*counts, strict=True)
    assert 100 * percentage_error(first, second) == pytest.approx(3.7593984962, rel=1e-9)


def test_two_labels():
    """STATS-REF 2.1."""
    assert kappa([[20, 5], [10, 15]]) == pytest.approx(2 / 5, rel=1e-12)
    assert kappa([[85, 5], [5, 5]]) == pytest.approx(4 / 9, rel=1e-12)
    assert ac1([[85, 5], [5, 5]]) == pytest.approx(36 / 41, rel=1e-12)


def test_four_labels_and_weights():
    """STATS-REF 2.1; scikit-learn and statsmodels agree."""
    assert kappa(FOUR) == pytest.approx(float(Fraction(1109, 1514)), rel=1e-12)
    assert kappa(FOUR, "linear") == pytest.approx(0.8202157411, rel=1e-9)
    assert kappa(FOUR, "quadratic") == pytest.approx(0.8913043478, rel=1e-9)
    assert kappa(FOUR) == pytest.approx(cohens_kappa(np.array(FOUR)).kappa, rel=1e-12)
    first = [i for i, row in enumerate(FOUR) for count in row for _ in range(count)]
    second = [j for row in FOUR for j, count in enumerate(row) for _ in range(count)]
    for weights in (None, "linear", "quadratic"):
        assert kappa(FOUR, weights) == pytest.approx(
            cohen_kappa_score(first, second, weights=weights), rel=1e-10
        )
    assert (confusion(first, second, 4) == np.array(FOUR)).all()


FOUR_CODERS = [
    "1 2 3 3 2 1 4 1 2 * * *",
    "1 2 3 3 2 2 4 1 2 5 * 3",
    "* 3 3 3 2 3 4 2 2 5 1 *",
    "1 2 3 3 2 4 4 1 2 5 1 *",
]


@pytest.mark.parametrize(
    ("level", "value"),
    [("nominal", 113 / 152), ("ordinal", 0.815388), ("interval", 0.849107), ("ratio", 0.797403)],
)
def test_alpha_with_gaps(level, value):
    """STATS-REF 2.1 (published .743 .815 .849 .797, from memory there)."""
    ratings = [[None if v == "*" else float(v) for v in row.split()] for row in FOUR_CODERS]
    assert alpha(ratings, level) == pytest.approx(value, abs=5.1e-7)


def test_alpha_of_two_coders():
    """STATS-REF 2.1: alpha 2/21, kappa 1/11."""
    first, second = [int(c) for c in "0100000010"], [int(c) for c in "1110010000"]
    assert alpha([first, second]) == pytest.approx(2 / 21, rel=1e-12)
    assert kappa(confusion(first, second, 2)) == pytest.approx(1 / 11, rel=1e-12)


def test_detection():
    """STATS-REF 2.1: 50 and 48 events, 45 matched: F1 = 45/49."""
    first = np.arange(50) * 10.0
    second = np.r_[first[:45] + 0.3, [1000.0, 1010.0, 1020.0]]
    found = match_times(first, second)
    assert len(found.pairs) == 45
    assert found.f1 == pytest.approx(45 / 49, rel=1e-12)
    assert found.only_first == (45, 46, 47, 48, 49)
    assert found.only_second == (45, 46, 47)


def test_one_event_matches_one_event_only():
    assert match_times([1.0, 1.1], [1.05]).only_second == ()
    assert len(match_times([1.0, 1.1], [1.05]).pairs) == 1
    # matching as many as can be goes before matching closest
    assert match_times([0.0, 0.4], [0.35, 0.8]).pairs == ((0, 0), (1, 1))
    assert match_times([], []).f1 is None
    assert match_times([np.nan], [1.0]).pairs == ()


def test_nothing_to_compare():
    assert kappa([[5, 0], [0, 0]]) is None
    assert ac1([[4.0]]) is None
    assert alpha([[1, 1], [1, 1]]) is None
    assert alpha([[None, 1], [1, None]]) is None
    assert alpha([]) is None


@pytest.mark.parametrize(
    "bad",
    [
        lambda: kappa([[0, 0], [0, 0]]),
        lambda: kappa([[1, 2, 3]]),
        lambda: kappa([[1, 0], [0, 1]], "cubic"),
        lambda: percentage_error([0], [0]),
        lambda: alpha([[1], [2]], "other"),
    ],
)
def test_bad_input_is_refused(bad):
    with pytest.raises(OutOfRange):
        bad()
