"""A player across matches: counts from the record, claims no surer than all that was asked together."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.player_across_matches import OUT_OF, REGRESSION, across, changes
from goodlength.findings.reports.player_trends import MEASURES
from goodlength.findings.result_types import Grade
from goodlength.synthetic.simulated_matches import null_match

FIRST = date(2026, 1, 1)


def played(n, opponents=("Ada One", "Bo Two"), seed=0, share_a=0.5):
    out = []
    for i in range(n):
        table = replace(null_match(np.random.default_rng(seed + i), share_a), match=f"m{i}")
        out.append(SeasonMatch(table, "a", opponents[i % len(opponents)], FIRST + timedelta(days=i)))
    return out


def test_every_measure_says_what_it_is_out_of():
    assert set(OUT_OF) == set(MEASURES)
    assert all("lets" in words for words in OUT_OF.values())


def test_kinds_and_opponents_add_up_to_the_record():
    matches = played(4)
    found = across(matches, "Imogen Vale")
    own = sum(int(((m.table.server == 0) & (m.table.kind >= 0)).sum()) for m in matches)
    assert sum(kind.served.count for kind in found.kinds) == own
    assert {kind.served.of for kind in found.kinds} == {own}
    decided = sum(int((m.table.winner >= 0).sum()) for m in matches)
    assert sum(item.serving.of + item.receiving.of for item in found.opponents) == decided
    assert sum(item.matches for item in found.opponents) == 4
    assert (found.first_played, found.last_played) == (FIRST, FIRST + timedelta(days=3))
    assert found.serving.decided.of + found.receiving.decided.of == decided
    lets = sum(int(m.table.let.sum()) for m in matches)
    assert found.serving.lets + found.receiving.lets == lets
    assert found.serving.with_lets.of == found.serving.decided.of + found.serving.lets
    for opponent in found.opponents:
        assert opponent.chance.low < opponent.chance.chance < opponent.chance.high
        assert opponent.serving.rallies[0].startswith("m")


def test_one_match_claims_nothing_usual():
    found = across(played(1), "Imogen Vale")
    assert found.stable.startswith("This is one match")
    assert all(row.usual is None and row.trend is None for row in found.rows)
    assert all(kind.usual is None and kind.spread is None for kind in found.kinds)
    assert found.opponents[0].chance is None


@pytest.mark.parametrize(("n", "range_there"), [(5, False), (6, True)])
def test_the_middle_match_has_a_range_from_six_matches_on(n, range_there):
    found = across(played(n), "Imogen Vale")
    assert all((row.middle.low is not None) is range_there for row in found.rows)
    assert ("too few for a 95% range" in found.stable) is not range_there


def test_a_kind_not_served_in_a_match_counts_as_none_of_its_serves():
    matches = played(3)
    first = matches[0].table
    rare = replace(first, kind=np.where(first.kind == 1, 0, first.kind).astype(np.int16))
    found = across([replace(matches[0], table=rare), *matches[1:]], "Imogen Vale")
    hard = next(kind for kind in found.kinds if kind.kind == "hard")
    assert hard.matches == 2
    assert hard.middle.of == 3


def test_a_true_rise_is_seen_at_most_as_leaning_and_said_so():
    def rising(i):
        return SeasonMatch(
            replace(null_match(np.random.default_rng(i), 0.2 + 0.06 * i), match=f"m{i}"), "a", "Ada One"
        )

    found = across([rising(i) for i in range(10)], "Imogen Vale")
    serving = next(row for row in found.rows if row.measure == "serving")
    assert serving.trend.words.startswith("Rallies won when serving: seems to rise by about")
    assert f"from {100 * serving.trend.low:+.1f} to {100 * serving.trend.high:+.1f})" in serving.trend.words
    kinds = [kind.trend.words for kind in found.kinds if kind.trend is not None]
    assert sum("seems to" in words for words in kinds) == 0


def test_null_seasons_seldom_show_a_change():
    """25 times eight null matches: any change claimed in at most 20 of 100, with four standard errors."""
    turned = 0
    for season in range(25):
        matches = played(8, ("Ada One",), seed=1000 * (season + 1))
        found = changes(matches, FIRST + timedelta(days=4))
        turned += any(change.grade is Grade.LEANING for change in found)
    assert turned / 25 <= 0.20 + 4 * 0.08


def test_a_true_change_is_leaning_and_a_null_one_claims_nothing():
    before = played(5, ("Ada One",), share_a=0.3)
    after = [replace(m, played_on=FIRST + timedelta(days=30)) for m in played(5, ("Ada One",), 90, 0.7)]
    found = changes([*before, *after], FIRST + timedelta(days=20))
    serving = next(element for element in found if element.measure == "serving")
    assert serving.grade is Grade.LEANING
    assert "seems to have risen" in serving.words
    assert serving.change.difference > 0
    same = changes(played(6, ("Ada One",)), FIRST + timedelta(days=3))
    for item in same:
        if item.grade is not Grade.LEANING:
            assert "We cannot say" in item.words
        assert item.grade is not Grade.CLEAR
        assert REGRESSION not in item.words


def test_without_an_opponent_met_on_both_sides_nothing_is_held_against_anything():
    matches = [*played(2, ("Ada One",)), *played(2, ("Bo Two",), seed=7)]
    matches = [replace(m, played_on=FIRST + timedelta(days=i)) for i, m in enumerate(matches)]
    for change in changes(matches, FIRST + timedelta(days=2)):
        assert (change.q, change.grade) == (None, Grade.TOO_FEW)
        assert change.words.endswith("so there is no like-for-like comparison.")


@pytest.mark.parametrize("day", [FIRST - timedelta(days=1), FIRST + timedelta(days=99)])
def test_a_day_with_matches_on_one_side_only_is_refused(day):
    with pytest.raises(OutOfRange, match="There is no dated match"):
        changes(played(3), day)


def test_no_match_at_all_is_refused(make):
    with pytest.raises(OutOfRange, match="at least one match"):
        across([], "Imogen Vale")
    bare = across([SeasonMatch(make([]), "a", "Ada One")], "Imogen Vale")
    assert bare.kinds == ()
    assert bare.serving.decided.of == 0
    assert "nan" not in repr(bare)


def test_two_hundred_matches_stay_quick():
    matches = played(200, tuple(f"Opponent {n}" for n in range(30)))
    began = time.process_time()
    across(matches, "Imogen Vale")
    assert time.process_time() - began < 6  # the bench measures it; this catches a return to half a minute
