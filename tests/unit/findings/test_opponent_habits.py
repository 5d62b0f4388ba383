"""The page about an opponent: habits, what to serve, what not to give."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.opponent_habits import brief
from goodlength.findings.result_types import Grade, Pronoun
from goodlength.synthetic.simulated_matches import null_match


def of_petra(table, day=date(2026, 3, 7), name="m"):
    """Petra is B in the tale; the matches are about her."""
    return SeasonMatch(replace(table, match=name), "b", "Imogen Vale", day)


def test_what_to_serve_comes_from_how_she_returned(tale):
    page = brief([of_petra(tale)], "Petra Lindqvist-Ode", Pronoun.SHE)
    assert page.title == "Petra Lindqvist-Ode: from one match, the last on 7 March 2026."
    assert page.serve.kind == "lob"
    assert page.serve.weak.of == sum(
        serve.weak.of for serve in page.serves if serve.kind == "lob" and serve.box == page.serve.box
    )
    assert sum(serve.weak.of for serve in page.serves) == 37
    assert page.avoid is None  # nothing was attacked
    assert page.lines[0] == "No habit of Petra’s stands out yet."
    assert page.lines[1].startswith("Try first: the lob from the ")


def test_what_is_attacked_is_named(make):
    rows = [
        {
            "server": "a",
            "kind": "hard",
            "box": "left",
            "left": "attacked" if i < 6 else "tight",
            "winner": "b",
        }
        for i in range(9)
    ]
    rows += [{"server": "a", "kind": "lob", "box": "left", "left": "loose", "winner": "a"} for _ in range(9)]
    page = brief([of_petra(make(rows), None)], "Petra Lindqvist-Ode")
    assert page.avoid.kind == "hard"
    assert "Use with care: the hard serve from the left box; Petra attacked 6 of 9." in page.lines
    assert page.title == "Petra Lindqvist-Ode: from one match."


def test_a_serve_that_draws_the_weak_returns_is_not_warned_against(make):
    """Eight of eleven came back weak: two attacked ones make no serve to keep away from."""

    def serves(kind, box, **returns):
        return [
            {"server": "a", "kind": kind, "box": box, "left": left, "winner": "a"}
            for left, count in returns.items()
            for _ in range(count)
        ]

    rows = [
        *serves("lob", "right", loose=14, tight=6),
        *serves("lob", "left", loose=8, attacked=2, tight=1),
        *serves("hard", "right", loose=10, attacked=3, tight=25),
    ]
    page = brief([of_petra(make(rows))], "Petra Lindqvist-Ode")
    assert page.avoid is not None
    assert (page.avoid.kind, page.avoid.box) == ("hard", "right")
    only_lobs_attacked = [row for row in rows if row["kind"] == "lob" or row["left"] != "attacked"]
    assert brief([of_petra(make(only_lobs_attacked))], "Petra Lindqvist-Ode").avoid is None


def test_a_habit_over_matches_keeps_its_grade_and_its_rallies(make):
    rows = []
    for game in (1, 2, 3):
        for kind in ["lob"] * 6 + ["hard"] * 6:
            rows.append({"game": game, "server": "b", "kind": kind, "box": "right", "winner": "b"})
    page = brief([of_petra(make(rows), name=f"m{i}") for i in range(2)], "Petra Lindqvist-Ode", Pronoun.SHE)
    habit = page.habits[0]
    assert habit.question == "repeat"
    assert habit.grade is Grade.CLEAR
    assert habit.scope == "over 2 matches"
    assert habit.headline == "She repeats the same serve more often than chance would explain."
    assert habit.rallies[0].startswith("m0/")
    assert page.lines[0] == "What to serve to Petra? Not enough data."


def test_at_most_three_habits_from_random_matches():
    played = [of_petra(null_match(np.random.default_rng(i)), name=f"m{i}") for i in range(4)]
    page = brief(played, "Petra Lindqvist-Ode")
    assert len(page.habits) <= 3
    assert page.matches == 4
    for serve in page.serves:
        assert serve.weak_shrunk.low <= serve.weak_shrunk.mean <= serve.weak_shrunk.high


def test_nothing_on_record(make):
    with pytest.raises(OutOfRange, match="no match of Petra"):
        brief([], "Petra")
    page = brief([of_petra(make([]))], "Petra Lindqvist-Ode")
    assert page.serves == ()
    assert page.habits == ()
    assert len(page.lines) == 2
