"""Two layers put together rally by rally, with times and without, and weighed by how far apart they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from goodlength.findings.reports.observer_agreement import ReliabilityGrade
from goodlength.findings.reports.observer_alignment import compare_layers, merge_layers
from goodlength.record.tables.rally_table import LEFT
from goodlength.synthetic.simulated_matches import null_match

NAN = float("nan")


def without(table, gone):
    """The same match with some rallies missing."""
    keep = np.array([n not in gone for n in range(len(table.key))])
    columns = {}
    for name, value in vars(table).items():
        if isinstance(value, np.ndarray):
            columns[name] = value[keep]
        elif name in ("key", "placed") and value:
            columns[name] = tuple(item for item, kept in zip(value, keep, strict=True) if kept)
    return replace(table, **columns)


@pytest.fixture(scope="module")
def match():
    return null_match(np.random.default_rng(6))


def test_by_time_each_rally_meets_its_own(match):
    times = np.arange(len(match.key)) * 20.0
    second = without(match, {3, 30})
    late = np.delete(times, [3, 30]) + 1.5
    pairs, by = merge_layers(match, second, times, late)
    assert by == "time"
    kept = [n for n in range(len(match.key)) if n not in (3, 30)]
    assert pairs == tuple(zip(kept, range(len(kept)), strict=True))


def test_without_times_the_place_in_the_game_will_do(match):
    nothing = np.full(len(match.key), NAN)
    pairs, by = merge_layers(match, match, nothing, nothing)
    assert by == "place in the game"
    assert pairs == tuple((n, n) for n in range(len(match.key)))


def test_a_rally_missing_in_one_layer_does_not_shift_the_rest(match):
    second = without(match, {5})
    pairs, by = merge_layers(match, second, np.full(len(match.key), NAN), np.full(len(second.key), NAN))
    assert by == "who served and won, in order"
    right = sum(match.key[i] == second.key[j] for i, j in pairs)
    assert right >= len(second.key) - 4  # a neighbour that was played alike may stand for it
    found = compare_layers(match, second, [NAN] * len(match.key), [NAN] * len(second.key))
    kind = next(row for row in found.reliability.rows if row.variable == "kind")
    assert kind.agreed > 0.9


def test_the_same_record_twice_agrees_on_everything(match):
    times = [20.0 * n for n in range(len(match.key))]
    found = compare_layers(match, match, times, times)
    assert found.reliability.matched == len(match.key)
    assert found.reliability.only_first == found.reliability.only_second == ()
    assert found.reliability.f1 == 1.0
    assert found.reliability.unreliable == frozenset()
    for row in found.reliability.rows:
        assert row.trust is ReliabilityGrade.GOOD
        assert row.disagreements == ()
    left = next(row for row in found.weighed if row.variable == "left")
    assert (left.kappa, left.agreed.count) == (1.0, left.agreed.of)


def test_weighed_kappa_is_that_of_an_independent_implementation(match):
    rng = np.random.default_rng(2)
    order = [LEFT.index(word) for word in ("not-made", "loose", "tight", "attacked")]
    noisy = match.left.copy()
    for n in rng.choice(len(noisy), 25, replace=False):
        noisy[n] = order[min(3, order.index(int(noisy[n])) + 1)]
    second = replace(match, left=noisy, how_taken=np.full(len(noisy), -1, dtype=np.int16))
    times = [20.0 * n for n in range(len(match.key))]
    left = next(row for row in compare_layers(match, second, times, times).weighed if row.variable == "left")
    ranks = [[order.index(int(code)) for code in column] for column in (match.left, noisy)]
    theirs = cohen_kappa_score(*ranks, labels=[0, 1, 2, 3], weights="linear")
    assert left.kappa == pytest.approx(theirs, rel=1e-12)
    assert left.low < left.kappa < left.high
    assert len(left.disagreements) == sum(a != b for a, b in zip(*ranks, strict=True))


def test_a_neighbouring_place_weighs_less_than_the_far_corner(match):
    n = len(match.key)
    rng = np.random.default_rng(9)
    spots = ("front-left", "mid-left", "back-right")
    first = tuple(spots[k] for k in rng.integers(0, 3, n))
    near = tuple("mid-left" if spot == "front-left" and k % 3 == 0 else spot for k, spot in enumerate(first))
    far = tuple("back-right" if spot == "front-left" and k % 3 == 0 else spot for k, spot in enumerate(first))
    times = [20.0 * k for k in range(n)]

    def kappa_of(placed):
        found = compare_layers(replace(match, placed=first), replace(match, placed=placed), times, times)
        return next(row for row in found.weighed if row.variable == "placed").kappa

    assert kappa_of(first) == 1.0
    assert 1.0 > kappa_of(near) > kappa_of(far)


def test_a_variable_answered_at_random_is_not_reliable(match):
    rng = np.random.default_rng(1)
    second = replace(match, kind=rng.permutation(match.kind))
    times = [20.0 * n for n in range(len(match.key))]
    found = compare_layers(match, second, times, times)
    assert found.reliability.unreliable == {"kind"}


def test_nothing_in_common(match):
    empty = without(match, set(range(len(match.key))))
    found = compare_layers(match, empty, [0.0] * len(match.key), [])
    assert (found.reliability.matched, found.weighed) == (0, ())
    assert all(row.trust is ReliabilityGrade.TOO_FEW for row in found.reliability.rows)
    both = compare_layers(empty, empty, [], [])
    assert both.reliability.f1 is None
    assert "nan" not in repr(both)
