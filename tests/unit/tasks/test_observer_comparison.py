"""Two observers of one match through the library: kept apart, compared, and what it does to findings."""

from __future__ import annotations

import json
import random
import shutil

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound, UnclearError
from goodlength.findings.result_types import Grade
from goodlength.forms.findings.observer_agreement_json import agree_form, agree_lines
from goodlength.record import EntryKind
from goodlength.tasks.findings.season_search import matches_of
from goodlength.tasks.match.blank_match_for_second_observer import SECOND, second_observer_file
from goodlength.tasks.match.observer_comparison import add_layer, layers_of

IMOGEN = "demo-imogen-vale"


@pytest.fixture
def library(tmp_path, demo_library):
    shutil.copytree(demo_library, tmp_path / "lib", dirs_exist_ok=True)
    with tasks.open_library(tmp_path / "lib") as opened:
        yield opened


def helper_file(library, folder, match="demo", *, drop=1, wrong_left=0.5, name="helper.json"):
    """The match as another person wrote it down: one rally missed, what the return left seen differently."""
    file = folder / name
    tasks.export_match(library, match, file)
    plain = json.loads(file.read_text(encoding="utf-8"))
    rng = random.Random(3)
    rallies = list(dict.fromkeys(entry["rally"] for entry in plain["entries"] if entry["rally"]))
    gone = set(rallies[10 : 10 + drop])
    other = {"loose": "tight", "tight": "loose"}
    entries = [entry for entry in plain["entries"] if entry["rally"] not in gone]
    for entry in entries:
        if entry["what"] == "return.left" and rng.random() < wrong_left:
            entry["value"] = other.get(entry["value"], entry["value"])
    plain["entries"] = entries
    file.write_text(json.dumps(plain), encoding="utf-8")
    return file


def test_with_a_file_nothing_is_kept(library, tmp_path):
    file = helper_file(library, tmp_path)
    before = len(library.entries("demo"))
    found = tasks.compare_observers(tasks.open_match(library, "demo"), with_file=file)
    assert len(library.entries("demo")) == before
    told = found.layers.reliability
    assert told.by == "who served and won, in order"  # without the film not every rally has a time
    assert told.matched == 77
    assert len(told.only_first) == 1
    assert found.greyed == {"left"}
    kind = next(row for row in told.rows if row.variable == "kind")
    assert kind.agreed == 1.0
    assert tasks.open_match(library, "demo").doubted_columns == frozenset()


def test_kept_beside_it_the_record_stays_and_the_same_file_adds_nothing(library, tmp_path):
    file = helper_file(library, tmp_path)
    before = tasks.show_match(library, "demo")
    new = add_layer(library, "demo", file, "helper")
    assert new > 400
    assert add_layer(library, "demo", file, "helper") == 0
    after = tasks.show_match(library, "demo")
    assert after.rallies == before.rallies
    assert after.games == before.games
    assert [layer.observer for layer in layers_of(tasks.open_match(library, "demo"))] == ["coach", "helper"]
    assert [len(layer.rallies) for layer in layers_of(tasks.open_match(library, "demo"))] == [78, 77]


def test_findings_grey_what_the_two_did_not_agree_on(library, tmp_path):
    graded = {f.question: f.grade for f in tasks.find(library, "demo").all}
    assert graded["weak"] is Grade.LEANING
    add_layer(library, "demo", helper_file(library, tmp_path), "helper")
    assert tasks.open_match(library, "demo").doubted_columns == {"left"}
    found = {f.question: f for f in tasks.find(library, "demo").all}
    assert found["weak"].grade is Grade.TOO_FEW
    assert "left" in found["weak"].doubted
    assert found["repeat"].grade is graded["repeat"]
    sheet = tasks.between_games(tasks.open_match(library, "demo"))
    assert not any(line.grade and "lob" in line.words for line in sheet.lines)


def test_over_matches_such_answers_of_that_match_stay_out_and_it_is_said(library, tmp_path):
    before = tasks.over_matches(library, "imogen")
    add_layer(library, "demo", helper_file(library, tmp_path), "helper")
    played = matches_of(library, IMOGEN)
    by_name = {match.table.match: match.table for match in played.matches}
    assert (by_name["demo"].left == -1).all()
    assert (by_name["demo-earlier"].left >= 0).any()
    assert played.notes == (
        "Match demo: left out what two observers did not agree on (the quality of the return).",
    )
    after = tasks.over_matches(library, "imogen")
    assert after.notes == played.notes
    weak = [{row.measure: row for row in item.rows}["weak-drawn"].middle.of for item in (before, after)]
    assert weak[1] <= weak[0]
    assert tasks.brief_about(library, "imogen").notes == played.notes


def test_a_second_look_that_agrees_changes_nothing(library, tmp_path):
    before = tasks.find(library, "demo")
    add_layer(library, "demo", helper_file(library, tmp_path, drop=0, wrong_left=0), "coach again")
    assert tasks.open_match(library, "demo").doubted_columns == frozenset()
    assert tasks.find(library, "demo") == before


def test_disagreements_name_rally_time_and_both_answers(library, tmp_path):
    form = agree_form(
        tasks.compare_observers(tasks.open_match(library, "demo"), with_file=helper_file(library, tmp_path))
    )
    form = json.loads(json.dumps(form))
    left = next(row for row in form["variables"] if row["variable"] == "left")
    assert left["greyed"]
    assert left["value"] < 0.667
    assert left["interval"][0] < left["value"] < left["interval"][1]
    assert len(left["disagreements"]) == left["compared"] - round(left["agreed"] * left["compared"])
    item = left["disagreements"][0]
    assert item["first"] != item["second"]
    rallies = {rally.key: rally for rally in tasks.show_match(library, "demo").rallies}
    rally = rallies[item["rally"]["key"]]
    assert item["rally"]["n"] == rally.n
    assert item["rally"]["start_s"] == (None if rally.start_us is None else rally.start_us / 1e6)
    lines = list(
        agree_lines(
            tasks.compare_observers(
                tasks.open_match(library, "demo"), with_file=helper_file(library, tmp_path)
            )
        )
    )
    assert any(line.startswith("Not used in findings. Return quality") for line in lines)
    assert any(line.startswith("  rally ") and " / " in line for line in lines)


def test_nobody_to_compare_with(library, tmp_path):
    with pytest.raises(InputError, match="Only 'coach'"):
        tasks.compare_observers(tasks.open_match(library, "demo"))
    with pytest.raises(NotFound, match="coach"):
        tasks.compare_observers(tasks.open_match(library, "demo"), second="nobody")
    with pytest.raises(NotFound, match="'nope'"):
        tasks.compare_observers(tasks.open_match(library, "nope"))
    file = helper_file(library, tmp_path)
    add_layer(library, "demo", file, "helper")
    with pytest.raises(InputError, match="Name two"):
        tasks.compare_observers(tasks.open_match(library, "demo"), "helper", "helper")
    add_layer(library, "demo", file, "another")
    with pytest.raises(UnclearError, match="helper, another"):
        tasks.compare_observers(tasks.open_match(library, "demo"))
    assert (
        tasks.compare_observers(tasks.open_match(library, "demo"), second="another").second.observer
        == "another"
    )
    assert (
        tasks.compare_observers(
            tasks.open_match(library, "demo"), "helper", "another"
        ).layers.reliability.matched
        == 77
    )


@pytest.mark.parametrize("name", ["", "  ", "a/b", "x" * 61, "coach"])
def test_a_name_that_cannot_be_an_observers(library, tmp_path, name):
    with pytest.raises(InputError, match="observer"):
        add_layer(library, "demo", helper_file(library, tmp_path), name)


def test_a_file_that_cannot_be_compared(library, tmp_path):
    other = helper_file(library, tmp_path, "demo-left", name="left.json")
    with pytest.raises(InputError, match="Oona"):
        tasks.compare_observers(tasks.open_match(library, "demo"), with_file=other)
    with pytest.raises(InputError, match=r"not a \.json"):
        tasks.compare_observers(tasks.open_match(library, "demo"), with_file=tmp_path / "sheet.csv")
    with pytest.raises(NotFound, match="Cannot find"):
        tasks.compare_observers(tasks.open_match(library, "demo"), with_file=tmp_path / "gone.json")
    broken = tmp_path / "broken.json"
    broken.write_text("{", encoding="utf-8")
    with pytest.raises(InputError):
        tasks.compare_observers(tasks.open_match(library, "demo"), with_file=broken)


def test_a_second_observer_gets_the_match_without_answers_and_sends_it_back(library, tmp_path):
    tasks.add_player(library, "Ruth Nairn", player_id="rn", notes="bad knee")
    tasks.add_player(library, "Petra Lindqvist-Ode", player_id="po", hand="left")
    tasks.consent(library, "rn", given_by="Ruth Nairn")
    tasks.new_match(library, ("rn", "po"), match_id="m9")
    for n in range(12):
        span = {"start_us": n * 20_000_000, "end_us": n * 20_000_000 + 9_000_000, "how": "marked"}
        tasks.answer(library, "m9", f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, "m9", f"r{n}", EntryKind.WINNER, "ab"[n % 2])
        tasks.answer(library, "m9", f"r{n}", EntryKind.NOTE, "private words")
    sent = tmp_path / "for them.json"
    sent.write_text(second_observer_file(tasks.open_match(library, "m9")), encoding="utf-8")
    assert not any(word in sent.read_text("utf-8") for word in ("private", "knee", "given_by", '"winner"'))
    back = tmp_path / "back.json"
    with tasks.open_library(tmp_path / "theirs") as theirs:
        imported = tasks.import_match(theirs, sent)
        rallies = tasks.show_match(theirs, imported.match).rallies
        assert [rally.start_us for rally in rallies][:2] == [0, 20_000_000]
        for rally in rallies:
            tasks.answer(theirs, imported.match, rally.key, EntryKind.WINNER, "a", observer=SECOND)
        tasks.export_match(theirs, imported.match, back)
    assert add_layer(library, "m9", back, "Jo Field") == 24
    found = tasks.compare_observers(tasks.open_match(library, "m9"), second="Jo Field")
    assert found.layers.reliability.by == "time"
    winner = next(row for row in found.layers.reliability.rows if row.variable == "winner")
    assert (winner.compared, winner.agreed) == (12, 0.5)
    # in the same library it is a match of its own
    assert tasks.import_match(library, sent).match != "m9"
