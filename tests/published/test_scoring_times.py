"""Warm-up and intervals by edition (sources: RULES-2001, RULES-2014, RULES-2019, RULES-2025-SUMMARY)."""

from __future__ import annotations

import pytest

from goodlength.errors import RulesError
from goodlength.scoring import EDITIONS, times_for


@pytest.mark.parametrize(
    ("edition", "warm_up", "before_play", "between_games", "equipment"),
    [
        ("2001", 300, 90, 90, 90),
        ("2014", 300, 90, 90, 90),
        ("2019", 240, 90, 90, 90),
        ("2024", 240, 90, 90, 90),
        ("2025", 240, 60, 120, 120),
    ],
)
def test_times(edition, warm_up, before_play, between_games, equipment):
    times = times_for(edition)
    assert (times.warm_up_s, times.before_play_s) == (warm_up, before_play)
    assert (times.between_games_s, times.equipment_s, times.warning_s) == (between_games, equipment, 15)


def test_what_was_not_read_says_so():
    assert [edition for edition in EDITIONS if not times_for(edition).caveat] == ["2001"]
    assert "not read" in times_for("2025").caveat


def test_an_unknown_edition_is_refused_with_those_known():
    with pytest.raises(RulesError, match="2001, 2010, 2014"):
        times_for("1996")
