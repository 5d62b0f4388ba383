"""Profiles over matches: counts from the record, opponents apart, warnings said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.player_trends import MEASURES, before_after, profile, trend
from goodlength.synthetic.simulated_matches import null_match


def matches(n, opponents=("Ada One", "Bo Two"), seed=0):
    out = []
    for i in range(n):
        table = replace(null_match(np.random.default_rng(seed + i)), match=f"m{i}")
        out.append(SeasonMatch(table, "ab"[i % 2], opponents[i % len(opponents)]))
    return out


def test_every_measure_counts_what_the_record_holds():
    played = matches(6)
    rows = {row.measure: row for row in profile(played)}
    assert set(rows) == set(MEASURES)
    for row in rows.values():
        assert len(row.figures) == 6
        total = sum(f.share.of for f in row.figures)
        assert sum(share.of for _, share in row.by_opponent) == total
        assert row.middle.of == 6
        assert row.usual.low < row.usual.mean < row.usual.high
        assert row.trend.matches == 6
    first = played[0].table
    serving = rows["serving"].figures[0].share
    assert serving.of == int(((first.server == 0) & (first.winner >= 0)).sum())
    assert serving.rallies[0].startswith("m0/")


def test_one_match_has_no_usual_and_no_trend():
    for row in profile(matches(1)):
        assert (row.usual, row.spread, row.trend) == (None, None, None)
        assert row.middle.low is None


def test_no_matches():
    for row in profile([]):
        assert row.middle.median is None
        assert row.figures == ()


def test_before_and_after_compare_the_same_opponents_only():
    before, after = matches(4), matches(4, ("Ada One", "Cy Three"), seed=50)
    found = before_after(before, after, "serving")
    assert found.opponents == ("Ada One",)
    assert found.left_out == ("Bo Two", "Cy Three")
    assert found.low < found.difference < found.high
    assert "usually followed by a better one" in found.words
    assert "Two met only before or only after are left out." in found.words


def test_without_a_common_opponent_nothing_is_compared():
    found = before_after(matches(2, ("Ada One",)), matches(2, ("Bo Two",), seed=9), "serving")
    assert found.difference is None
    assert found.words.endswith("so there is no like-for-like comparison.")


@pytest.mark.parametrize(
    ("count", "of"), [([30] * 6, [30] * 6), ([0] * 5, [20] * 5), ([0, 0, 20, 20], [20] * 4)]
)
def test_a_trend_of_all_or_none_stays_finite(count, of):
    found = trend(count, of)
    assert all(np.isfinite([found.per_match, found.low, found.high]))
    assert "nan" not in found.words


@pytest.mark.parametrize(
    ("count", "of"),
    [
        ([1] + [0] * 12, [34] + [38] * 12),  # one serve, in the first match
        ([0] * 6 + [1] + [0] * 6, [38] * 13),  # one serve, in the middle
        ([0] * 6 + [20] * 6, [20] * 12),  # separated
        ([0, 0, 0, 7, 20, 20], [20] * 6),  # separated but for one match
        ([4, 0, 0, 0, 0, 0], [30] * 6),
        ([30] * 6, [30] * 6),
        ([0] * 6, [30] * 6),
    ],
)
def test_tiny_counts_and_separated_matches_yield_no_trend(count, of):
    """Before: 1 of 562 serves "seems to fall by about 1.7 points in 100 a match"."""
    found = trend(count, of, "Lob: share of serves")
    assert not found.estimable
    assert "seems" not in found.words
    assert f"({sum(count)} of {sum(of)} in all)" in found.words
    assert all(np.isfinite([found.per_match, found.low, found.high]))


def test_a_trend_of_enough_serves_is_estimable():
    found = trend([5, 9, 14, 18, 22, 26], [30] * 6)
    assert found.estimable
    assert found.smaller_side == 86
    assert found.low > 0
