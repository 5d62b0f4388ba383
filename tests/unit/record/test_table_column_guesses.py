"""Columns of a foreign table: first guesses, the coach's choice, and how its players are written."""

from __future__ import annotations

import pytest

from goodlength.record.import_export.delimited_table_reader import read_sheet
from goodlength.record.import_export.rally_csv_import import from_csv_preview
from goodlength.record.import_export.table_column_guesses import (
    guess_columns,
    player_spellings,
    under_columns,
)

CLUB = """Game;Serving;From;Serve type;Quality;Point;End;Weather
1;SP;R;Lob;loose;SP;winner;dry
1;SP;L;Hard;missed;SP;;dry
1;SP;R;Lob;tight;OD;unforced error;dry
1;OD;R;Lob;;OD;winner;dry
"""
COLUMNS = {
    "game": "game",
    "serving": "server",
    "from": "box",
    "serve_type": "kind",
    "quality": "left",
    "point": "winner",
    "end": "ending",
    "weather": "",
}


def test_headings_of_a_coach_are_guessed_and_an_unknown_one_is_not_used() -> None:
    sheet = read_sheet(CLUB.encode())
    guesses = guess_columns(sheet)
    assert {guess.heading: guess.column for guess in guesses} == COLUMNS
    assert guesses[0].examples == ("1",)
    assert player_spellings(sheet, COLUMNS) == ("SP", "OD")


def test_what_was_chosen_before_comes_before_a_guess_and_no_column_is_given_twice() -> None:
    sheet = read_sheet(CLUB.encode())
    before = {"weather": "note", "point": "server", "serving": "", "quality": "no such column"}
    found = {guess.heading: guess.column for guess in guess_columns(sheet, before)}
    assert (found["weather"], found["point"], found["serving"]) == ("note", "server", "")
    assert found["quality"] == "left"
    used = [column for column in found.values() if column]
    assert len(used) == len(set(used))


def test_cells_decide_where_the_heading_says_nothing() -> None:
    table = "x,y,z\nlob,loose,right\nhard,tight,left\n"
    found = {guess.heading: guess.column for guess in guess_columns(read_sheet(table.encode()))}
    assert found == {"x": "kind", "y": "left", "z": "box"}


def test_a_table_is_read_under_the_chosen_columns_with_the_players_named() -> None:
    preview = from_csv_preview(
        CLUB.encode(), names=("Sam Pell", "Ola Dun"), columns=COLUMNS, written=("SP", "OD")
    )
    assert preview.problems == ()
    assert preview.rallies == 4
    assert preview.match is not None
    assert [rally.winner.value for rally in preview.match.rallies if rally.winner] == ["a", "a", "b", "b"]
    assert preview.rows[1].startswith("Game 1, rally 2: Sam")


def test_a_value_that_is_not_understood_is_told_with_its_line_its_heading_and_what_can_be_read() -> None:
    wrong = CLUB.replace("OD;winner;dry", "XX;winner;dry").replace("missed", "poor")
    preview = from_csv_preview(
        wrong.encode(), names=("Sam Pell", "Ola Dun"), columns=COLUMNS, written=("SP", "OD")
    )
    assert [problem for problem in preview.problems if problem.startswith("line 3")] == [
        "line 3: “quality”: 'poor' is not known; it can be not-made, loose, tight, attacked"
    ]
    assert any(
        "line 5: “point”: the player 'XX' is neither Sam Pell (or SP)" in problem
        for problem in preview.problems
    )


def test_two_headings_for_one_column_and_no_winner_are_told() -> None:
    sheet = read_sheet(CLUB.encode())
    twice = under_columns(sheet, {**COLUMNS, "weather": "box"})
    assert "“from” and “weather” are both chosen as “service box”" in twice.problems[0]
    preview = from_csv_preview(CLUB.encode(), columns={**COLUMNS, "point": ""})
    assert any("no column is chosen for who won the rally" in problem for problem in preview.problems)
    assert any("not named" in problem for problem in preview.problems)


@pytest.mark.parametrize("cell", ["<script>", "=1+1", "a" * 500])
def test_foreign_headings_and_cells_stay_words(cell: str) -> None:
    sheet = read_sheet(f"winner,{cell}\na,{cell}\n".encode())
    assert guess_columns(sheet)[1].column == ""
