"""Matches out to files and in again through the public functions."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import Conflict, InputError, NoSpace, NotFound, UnclearError
from goodlength.forms.match_rally_and_probe_json import imported_form, imported_lines, match_form
from goodlength.record import Depth, EntryKind, Footage, KindOfServe
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.scoring import Side, Start


@pytest.fixture
def library(tmp_path):
    with tasks.open_library(tmp_path / "lib") as opened:
        tasks.add_player(opened, "Imogen Vale", player_id="iv")
        tasks.add_player(opened, "Petra Lindqvist-Ode", hand="left", player_id="pl")
        tasks.consent(opened, "iv", given_by="Imogen Vale")
        opened.save_kinds([*opened.kinds(), KindOfServe("skid", "Skid")])
        tasks.new_match(opened, ("iv", "pl"), match_id="m1", start=Start(server=Side.A), depth=Depth.SHOTS)
        opened.save_footage(
            Footage("f1", "m1", "/film.mp4", look={"duration_s": 1.0}, first_us=0, end_us=10**9)
        )
        pen = EntryWriter("m1")
        pen.rally(
            "r1",
            span=(0, 5),
            box="left",
            kind="skid",
            how="volleyed",
            left="tight",
            shots=["drop"],
            winner="a",
        )
        pen.rally("r2", kind="lob", how="not-made", note="Größe „Ä“")
        pen.rally("r3", kind=None, ending="let")
        pen.undo(pen.write("r3", EntryKind.KEEP, True))
        tasks.record_answers(opened, "m1", pen.entries)
        yield opened


@pytest.fixture
def other(tmp_path):
    with tasks.open_library(tmp_path / "other") as opened:
        yield opened


def test_a_match_goes_out_and_in_without_a_difference(library, other, tmp_path):
    first, second = tmp_path / "a.json", tmp_path / "b.json"
    tasks.export_match(library, "m1", first)
    brought = tasks.import_match(other, first)
    assert (brought.written, brought.rallies, brought.players_added) == (
        True,
        3,
        ("Imogen Vale", "Petra Lindqvist-Ode"),
    )
    assert any("“Skid”" in note for note in brought.notes)
    tasks.export_match(other, "m1", second)
    whole, again = json.loads(first.read_text("utf-8")), json.loads(second.read_text("utf-8"))
    for file in whole["footage"]:  # of another machine only the name is known
        file.update(path=Path(file["path"]).name, copied=False, look=None)
    assert again == whole
    assert match_form(tasks.show_match(other, "m1")) == match_form(tasks.show_match(library, "m1"))


def test_bringing_it_in_twice_writes_it_once(library, other, tmp_path):
    path = tmp_path / "a.json"
    tasks.export_match(library, "m1", path)
    tasks.import_match(other, path)
    again = tasks.import_match(other, path)
    assert again.new_entries == 0
    assert any("is here already" in note for note in again.notes)
    tasks.answer(library, "m1", "r4", EntryKind.WINNER, "a")
    tasks.export_match(library, "m1", path)
    assert tasks.import_match(other, path).new_entries == 1
    assert len(tasks.show_match(other, "m1").rallies) == 4


def test_a_dry_run_changes_nothing_and_says_what_would_be_done(library, other, tmp_path):
    path = tmp_path / "a.csv"
    tasks.export_match(library, "m1", path)
    brought = tasks.import_match(other, path, dry_run=True)
    assert (brought.written, brought.rallies) == (False, 2)
    assert any(
        "line 2" in problem and "'Skid' is not in this library" in problem for problem in brought.problems
    )
    assert (other.players(), other.matches()) == ((), ())
    lines = "\n".join(imported_lines(brought))
    assert "Would import: Imogen Vale v Petra Lindqvist-Ode" in lines
    assert json.loads(json.dumps(imported_form(brought)))["columns"][0]["heading"] == "event_kind"


def test_a_table_comes_back_as_the_same_rallies_with_its_shots(library, other, tmp_path):
    other.save_kinds([*other.kinds(), KindOfServe("skid", "Skid")])
    written = tasks.export_match(library, "m1", tmp_path / "t.csv")
    assert [path.name for path in written] == ["t.csv", "t-shots.csv"]
    brought = tasks.import_match(other, tmp_path / "t.csv")
    assert (brought.problems, brought.written) == ((), True)
    assert "1 shots from t-shots.csv beside it" in brought.notes
    before = match_form(tasks.show_match(library, "m1"))["rallies"]
    after = match_form(tasks.show_match(other, brought.match))["rallies"]
    ids = dict(zip([p.id for p in other.players()], ["iv", "pl"], strict=True))
    named = json.loads(json.dumps(after))
    for rally in named:
        for key in ("server", "winner"):
            rally[key] = ids.get(rally[key], rally[key])
        for shot in rally["shots"]:
            shot["by"] = ids[shot["by"]]
    assert named == before
    assert tasks.import_match(other, tmp_path / "t.csv").new_entries == 0
    assert len(other.matches()) == 1


def test_a_table_with_a_problem_writes_nothing_unless_told_to(other, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("player_a,player_b,winner\nA A,B B,A A\nA A,B B,C C\nA A,B B,B B\n")
    with pytest.raises(InputError, match=r"Nothing was written: line 3"):
        tasks.import_match(other, path)
    assert other.matches() == ()
    brought = tasks.import_match(other, path, keep_going=True)
    assert (brought.rallies, brought.problems[0][:7]) == (2, "line 3:")


def test_a_table_that_names_nobody_takes_the_players_given(library, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("winner\na\nb\n")
    assert any(
        "does not name the players" in problem for problem in tasks.preview_import(library, path).problems
    )
    brought = tasks.import_match(library, path, players=("pl", "iv"))
    assert library.match_info(brought.match).players == ("pl", "iv")


def test_two_players_of_one_name_are_asked_about(library, tmp_path):
    tasks.add_player(library, "Imogen Vale")
    path = tmp_path / "t.csv"
    path.write_text("player_a,player_b,winner\nImogen Vale,B B,a\n")
    with pytest.raises(UnclearError, match="another name on the player's page, or choose who played"):
        tasks.import_match(library, path)


def test_a_match_between_others_under_the_same_id_is_refused(library, other, tmp_path):
    path = tmp_path / "a.json"
    tasks.export_match(library, "m1", path)
    tasks.add_player(other, "X", player_id="x")
    tasks.add_player(other, "Y", player_id="y")
    tasks.new_match(other, ("x", "y"), match_id="m1")
    with pytest.raises(Conflict, match="between other players"):
        tasks.import_match(other, path)


def test_an_import_that_fails_half_way_writes_nothing(library, other, tmp_path):
    path = tmp_path / "a.json"
    tasks.export_match(library, "m1", path)
    plain = json.loads(path.read_text())
    clash = plain["entries"][-1]["id"]
    for name in ("x", "y"):
        tasks.add_player(other, name, player_id=name)
    tasks.new_match(other, ("x", "y"), match_id="m9")
    taken = EntryWriter("m9").write("r1", EntryKind.WINNER, "a")
    other.append([replace(taken, id=clash)])
    with pytest.raises(Conflict):
        tasks.import_match(other, path)
    assert [info.id for info in other.matches()] == ["m9"]
    assert [player.id for player in other.players()] == ["x", "y"]


@pytest.mark.parametrize("name", ["m.txt", "m", "m.docx"])
def test_an_unknown_ending_is_told(library, tmp_path, name):
    with pytest.raises(InputError, match="should end in"):
        tasks.export_match(library, "m1", tmp_path / name)


def test_files_that_are_not_there_or_cannot_be_written_are_told(library, tmp_path):
    with pytest.raises(NotFound, match="Cannot find"):
        tasks.import_match(library, tmp_path / "none.json")
    (tmp_path / "folder.json").mkdir()
    with pytest.raises(InputError, match="folder"):
        tasks.import_match(library, tmp_path / "folder.json")
    with pytest.raises(NoSpace, match="cannot be written"):
        tasks.export_match(library, "m1", tmp_path / "folder.json")
    (tmp_path / "plain").write_text("x")
    with pytest.raises(NoSpace):
        tasks.export_match(library, "m1", tmp_path / "plain" / "m.json")
    assert not list(tmp_path.glob("*.part"))


def test_everything_held_on_a_person_is_written_down(library, tmp_path):
    path = tasks.export_player(library, "iv", tmp_path / "iv.json")
    held = json.loads(path.read_text(encoding="utf-8"))
    assert held["player"]["name"] == "Imogen Vale"
    assert held["consents"][0]["given_by"] == "Imogen Vale"
    assert len(held["matches"][0]["entries"]) == len(library.entries("m1"))
    assert held["matches"][0]["footage"][0]["path"] == "/film.mp4"


def test_chapters_are_written(library, tmp_path):
    tasks.export_match(library, "m1", tmp_path / "m.vtt")
    assert (tmp_path / "m.vtt").read_text(encoding="utf-8").startswith("WEBVTT\n")
