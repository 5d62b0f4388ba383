"""Phases, strokes and places: what belongs where."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.findings import find
from goodlength.findings.analyses.rallies_by_phase_stroke_place import (
    by_place,
    by_stroke,
    long_rallies,
    phases,
)
from goodlength.findings.rally_masks import RallyMasks
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES


def rows_of(winners, game=1, **more):
    return [
        {"game": game, "server": "a", "winner": w, "length_s": 5.0 + i, **more} for i, w in enumerate(winners)
    ]


def by_words(rows):
    return {row.words: row for row in rows}


def test_games_and_phases_hold_every_rally_once(make):
    view = RallyMasks(make([*rows_of("ab" * 10), *rows_of("aab", game=2)]))
    found = by_words(phases(view, 0))
    assert (found["Game 1"].decided.count, found["Game 1"].decided.of) == (10, 20)
    assert (found["Game 2"].decided.count, found["Game 2"].decided.of) == (2, 3)
    parts = [found[w].decided.of for w in ("First four points of a game", "In between", "Both on 8 or more")]
    assert parts == [7, 12, 4]
    assert sum(parts) == 23


def test_straight_after_a_let_and_after_a_long_rally_stays_in_the_game(make):
    rows = rows_of("abababab")
    rows[3] = {"game": 1, "server": "a", "let": True, "ending": "let"}
    rows.append({"game": 2, "server": "a", "winner": "b"})
    view = RallyMasks(make(rows))
    assert not long_rallies(view).any()  # seven known lengths are too few to call any long
    found = by_words(phases(view, 1))
    assert (found["After a let"].decided.count, found["After a let"].decided.of) == (0, 1)
    assert found["After a let"].decided.rallies == ()
    longer = RallyMasks(make([*rows_of("ab" * 6), {"game": 2, "server": "a", "winner": "b"}]))
    assert long_rallies(longer).sum() == 3
    assert (
        by_words(phases(longer, 0))["After a very long rally (over 13 s)"].decided.of == 2
    )  # the last one ends its game


def test_phases_that_never_came_are_left_out(make):
    found = by_words(phases(RallyMasks(make(rows_of("ab"))), 0))
    assert set(found) == {"Game 1", "First four points of a game"}
    assert phases(RallyMasks(make([])), 0) == ()


@pytest.fixture
def ended(make):
    table = make(
        [
            {"server": "a", "winner": "a", "ending": "winner"},
            {"server": "a", "winner": "a", "ending": "winner"},
            {"server": "a", "winner": "b", "ending": "unforced-error"},
            {"server": "b", "winner": "b", "ending": "stroke"},
            {"server": "b", "winner": "a", "ending": "forced-error"},
        ]
    )
    strokes = [ShotType.DROP, ShotType.DRIVE, ShotType.DROP, ShotType.DROP, ShotType.LOB]
    places = ("front-left", "back-right", "front-left", None, None)
    codes = np.array([STROKES.index(s) for s in strokes], dtype=np.int16)
    return RallyMasks(type(table)(**{**vars(table), "ending_stroke": codes, "placed": places}))


def test_winners_and_errors_by_stroke(ended):
    a, b = by_words(by_stroke(ended, 0)), by_words(by_stroke(ended, 1))
    assert (a["Drop"].winners.count, a["Drop"].winners.of) == (1, 2)
    assert (a["Drop"].errors.count, a["Drop"].errors.of) == (1, 1)
    assert (b["Lob"].errors.count, b["Lob"].errors.of) == (1, 1)
    assert b["Drop"].winners.of == 0  # a stroke award is no winner


def test_winners_and_errors_by_place(ended):
    rows = by_words(by_place(ended, 0))
    assert (rows["Front left"].winners.count, rows["Front left"].winners.of) == (1, 2)
    assert rows["Front left"].errors.count == 1
    assert by_place(RallyMasks(type(ended.table)(**{**vars(ended.table), "placed": ()})), 0) == ()


def test_findings_carry_them(tale, names):
    tables = find(tale, "a", names).tables
    assert sum(row.decided.of for row in tables.phases if row.words.startswith("Game")) == 74
    assert tables.strokes == ()
