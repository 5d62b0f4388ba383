"""The sheet between games from a library: the right games, scores by replay, nothing lost."""

from __future__ import annotations

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, InputError, NotFound, OutOfRange
from goodlength.files.library_layout import between_notes_file, match_files
from goodlength.forms.findings.between_games_sheet_json import between_form
from goodlength.record import EntryKind
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.scoring import Side, Start


@pytest.fixture
def library(tmp_path):
    with tasks.open_library(tmp_path / "lib") as opened:
        tasks.add_player(opened, "Imogen Vale", player_id="iv")
        tasks.add_player(opened, "Petra Lindqvist-Ode", player_id="pl")
        tasks.new_match(opened, ("iv", "pl"), match_id="m1", start=Start(server=Side.A))
        yield opened


def write(library, winners: str) -> None:
    pen = EntryWriter("m1", mark=f"w{len(library.entries('m1'))}-")
    for n, winner in enumerate(winners):
        key = f"r{len(library.entries('m1'))}-{n}"
        pen.write(key, EntryKind.KIND, "lob")
        pen.write(key, EntryKind.LEFT, "loose")
        pen.write(key, EntryKind.WINNER, winner)
    tasks.record_answers(library, "m1", pen.entries)


def test_before_the_first_rally_it_says_so(library):
    sheet = tasks.between_games(tasks.open_match(library, "m1"))
    assert (sheet.title, sheet.lines) == ("No rallies are logged yet.", ())


def test_after_a_game_it_looks_back_on_it_and_during_the_next_still(library):
    write(library, "a" * 11)
    first = tasks.between_games(tasks.open_match(library, "m1"))
    assert first.title == "After game 1: Imogen 11–0"
    write(library, "bb")
    assert tasks.between_games(tasks.open_match(library, "m1")).title == "After game 1: Imogen 11–0"
    second = tasks.between_games(tasks.open_match(library, "m1"), game=2)
    assert second.title == "Game 2 so far: Imogen 11–0, 0–2"
    assert (
        tasks.between_games(tasks.open_match(library, "m1"), "opponent").title == "After game 1: Petra 0–11"
    )


def test_the_form_says_counts_and_grades_and_opens_rallies(library):
    write(library, "a" * 11)
    form = between_form(tasks.between_games(tasks.open_match(library, "m1")))
    assert {"match", "game", "finished", "title", "lines"} <= form.keys()
    serves = form["lines"][0]
    assert "lob 11 of 11" in serves["words"]
    assert len(serves["rallies"]) == 11
    assert serves["grade"] is None


def test_no_such_match_and_no_such_game_are_said_in_a_sentence(library):
    with pytest.raises(NotFound, match="'nope'"):
        tasks.between_games(tasks.open_match(library, "nope"))
    write(library, "a")
    with pytest.raises(OutOfRange, match="Game 4"):
        tasks.between_games(tasks.open_match(library, "m1"), game=4)


def test_notes_stand_by_game_an_empty_one_goes_and_a_damaged_file_is_left(library):
    write(library, "a" * 11 + "b")
    opened = tasks.open_match(library, "m1")
    assert tasks.between_notes(opened) == {}
    tasks.save_between_note(opened, 2, " Lob.\r\nThen volley. ")
    tasks.save_between_note(opened, 1, "Higher.")
    assert tasks.between_notes(opened) == {1: "Higher.", 2: "Lob.\nThen volley."}
    tasks.save_between_note(opened, 1, "  ")
    assert tasks.between_notes(opened) == {2: "Lob.\nThen volley."}
    with pytest.raises(NotFound, match=r"no game 3 in this match \(games: 1, 2\)"):
        tasks.save_between_note(opened, 3, "Lob.")
    with pytest.raises(InputError, match="at most 600 letters; this one has 601"):
        tasks.save_between_note(opened, 1, "x" * 601)
    file = between_notes_file(library.folder, "m1")
    assert file in match_files(library.folder, "m1")  # it goes with the match, and when a player is erased
    file.write_bytes(file.read_bytes().replace(b"Lob", b"Lab"))
    assert tasks.between_notes(opened) == {}
    with pytest.raises(DamagedFile):
        tasks.save_between_note(opened, 1, "Higher.")


@pytest.mark.parametrize("notes", [[], {"x": "a", "1": 7, "9999": "b", "²": "c"}, None])
def test_strange_notes_are_none(library, notes):
    from goodlength.files.locked_json_file import JsonFile

    JsonFile(between_notes_file(library.folder, "m1")).write({"notes": notes})
    assert tasks.between_notes(tasks.open_match(library, "m1")) == {}
