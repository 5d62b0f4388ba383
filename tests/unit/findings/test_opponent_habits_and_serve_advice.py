"""The brief in full: habits with their rallies, serves held against all others, winners by count."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.reports import opponent_habits_and_serve_advice as reports
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.opponent_habits_and_serve_advice import opponent_report
from goodlength.findings.result_types import Grade, Pronoun
from goodlength.synthetic.simulated_matches import null_match

PETRA = "Petra Lindqvist-Ode"


def about_petra(table, name="m", day=date(2026, 3, 7)):
    """Petra is B; the opponents are A."""
    return SeasonMatch(replace(table, match=name), "b", "Imogen Vale", day)


def served(kind, box, left, n):
    return [{"server": "a", "kind": kind, "box": box, "left": left, "winner": "a"} for _ in range(n)]


def troubled(make, weak=28, of=30):
    """Lobs from the right box trouble Petra, hard serves from the left are attacked, the rest is even."""
    rows = served("lob", "right", "loose", weak) + served("lob", "right", "tight", of - weak)
    rows += served("hard", "left", "attacked", weak) + served("hard", "left", "tight", of - weak)
    for kind, box in (("mid-height", "right"), ("mid-height", "left"), ("hard", "right")):
        rows += (
            served(kind, box, "loose", 6) + served(kind, box, "tight", 19) + served(kind, box, "attacked", 5)
        )
    return make(rows)


def test_a_serve_that_truly_troubles_is_leaning_with_its_counts_and_rallies(make):
    page = opponent_report([about_petra(troubled(make))], PETRA, Pronoun.SHE)
    assert (page.serve.serve.kind, page.serve.serve.box) == ("lob", "right")
    assert page.serve.grade is Grade.LEANING
    assert page.serve.words == (
        "The lob from the right box seems to trouble Petra: the return was loose or missed on 28 of 30, "
        "against 18 of 120 other serves. In the long run the gap is likely smaller, nearer 27 of 30 against 19 of 120."
    )
    assert page.serve.likely is not None
    assert len(page.serve.rallies) == 28
    assert (page.avoid.serve.kind, page.avoid.grade) == ("hard", Grade.LEANING)
    assert page.avoid.words.startswith("The hard serve from the left box seems to be what Petra attacks: ")


def test_what_findings_are_sure_of_is_said_in_the_brief_too(make):
    """The lob clearly draws weak returns, whatever single boxes are too few to show."""
    rows = []
    for box in ("right", "left"):
        rows += served("lob", box, "loose", 9) + served("lob", box, "tight", 2)
        rows += served("hard", box, "loose", 2) + served("hard", box, "tight", 9)
    page = opponent_report([about_petra(make(rows))], PETRA, Pronoun.SHE)
    assert page.serve.words.startswith(
        "Clear, in this match: Imogen’s lob draws weak returns more often than the hard serve. "
    )
    assert "18 of 22 lobs, against 4 of 22 hard serves" in page.serve.words
    assert "Box by box: " in page.serve.words
    others = [replace(about_petra(make(rows), n), opponent=who) for n, who in (("m", "Ann"), ("n", "Oona"))]
    assert "Box by box" not in opponent_report(others, PETRA).serve.words


def test_few_serves_are_said_to_be_few(make):
    rows = (
        served("lob", "right", "loose", 6)
        + served("lob", "right", "tight", 2)
        + served("hard", "left", "tight", 6)
        + served("hard", "left", "loose", 3)
    )
    page = opponent_report([about_petra(make(rows))], PETRA)
    assert page.serve.grade is Grade.TOO_FEW
    assert page.serve.words.startswith("Not enough data to be sure. Try first: the lob from the right box. ")
    assert "6 of 8" in page.serve.words
    assert page.avoid.serve is None
    assert page.avoid.words == "No serve stands out as one Petra attacks."


def test_habits_that_are_not_clear_are_counted():
    """Before: "Nothing here is certain yet. Watch Petra for it", above a serve called Clear."""
    matches = [about_petra(null_match(np.random.default_rng(n)), f"m{n}") for n in range(3)]
    page = opponent_report(matches, PETRA)
    assert page.habits and all(habit.finding.grade is Grade.TOO_FEW for habit in page.habits)
    number = {1: "This habit", 2: "Neither of these two habits", 3: "None of these three habits"}
    assert page.habits_words.startswith(number[len(page.habits)])


def test_which_habits_are_meant_is_said():
    """Before: "Only the first two are clear or possible", after three lines of advice that are neither."""
    grades = (Grade.CLEAR, Grade.LEANING, Grade.TOO_FEW)
    words = reports.habits_sentence([SimpleNamespace(grade=grade) for grade in grades], "Petra")  # type: ignore
    assert words == "Of the three habits listed, only the first two are clear or possible."


def test_nothing_to_go_by(make):
    page = opponent_report([about_petra(make([{"server": "a"}]), day=None)], PETRA)
    assert (page.serve.serve, page.avoid.serve, page.last_played) == (None, None, None)
    assert page.serve.words == "What to serve to Petra? Not enough data."
    assert page.avoid.words == "What not to serve to Petra? Not enough data."
    assert page.habits_words.startswith("Nothing to say about Petra yet")
    assert page.winners == ()
    assert "How Petra wins rallies?" in page.winners_words
    with pytest.raises(OutOfRange, match="no match of Petra"):
        opponent_report([], PETRA)


def test_habits_name_match_number_game_and_last_day(make):
    rows = [
        {"game": game, "server": "b", "kind": kind, "box": "right", "winner": "b"}
        for game in (1, 2, 3)
        for kind in ["lob"] * 6 + ["hard"] * 6
    ]
    days = [date(2026, 1, 5), date(2026, 2, 9)]
    page = opponent_report(
        [about_petra(make(rows), f"m{i}", day) for i, day in enumerate(days)], PETRA, Pronoun.SHE
    )
    habit = page.habits[0]
    assert habit.finding.grade is Grade.CLEAR
    assert habit.last_seen == days[1]
    assert len(habit.rallies) == habit.finding.count
    first = habit.rallies[0]
    assert (first.match, first.n, first.game, first.day, first.key) == ("m0", 2, 1, days[0], "k1")
    many = {2: "two", 3: "three"}.get(len(page.habits), "")
    assert page.habits_words in (  # named, as three lines of advice stand before it
        "",
        f"Of the {many} habits listed, only the first is clear or possible.",
        f"Of the {many} habits listed, only the first two are clear or possible.",
    )
    assert page.counts[0] == "Serves by Petra (72 logged with their kind): 36 lobs, 36 hard serves."


def test_winners_are_named_by_stroke_and_place_only_with_enough_of_them(make):
    table = make([{"server": "a", "winner": "b", "ending": "winner"} for _ in range(8)])
    strokes = np.array([3] * 6 + [0] * 2, dtype=np.int16)  # drops, drives
    few = replace(table, ending_stroke=strokes, placed=("front-left",) * 4 + (None,) * 4)
    page = opponent_report([about_petra(few)], PETRA)
    assert [(winner.what, winner.words, winner.share.count, winner.share.of) for winner in page.winners] == [
        ("stroke", "Drop", 6, 8)
    ]
    assert page.winners_words == "Winners by Petra: 6 of the 8 with a shot logged were hit with the drop."
    enough = replace(few, placed=("front-left",) * 5 + ("middle",) * 2 + (None,))
    assert (
        "5 of the 7 with a place logged were hit front left"
        in opponent_report([about_petra(enough)], PETRA).winners_words
    )


def test_matches_are_not_thrown_together(make):
    """Against the weak server all returns are loose, and only she lobs: within matches nothing differs."""
    easy = make(served("lob", "right", "loose", 20))
    tough = make(served("hard", "right", "tight", 20))
    page = opponent_report([about_petra(easy, "e"), about_petra(tough, "t")], PETRA)
    assert page.serve.grade is Grade.TOO_FEW
    assert page.serve.q == 1.0


def test_null_seasons_seldom_name_a_serve():
    """60 seasons without differences: a serve named with a grade in at most 5 of 100, four errors on top."""
    rng = np.random.default_rng(3)
    named = 0
    for _ in range(60):
        played = [about_petra(null_match(rng), f"m{i}") for i in range(int(rng.integers(1, 4)))]
        page = opponent_report(played, PETRA)
        assert len(page.habits) <= 3
        named += Grade.LEANING in (page.serve.grade, page.avoid.grade)
        assert Grade.CLEAR not in (page.serve.grade, page.avoid.grade)
    assert named / 60 <= 0.05 + 4 * 0.028
