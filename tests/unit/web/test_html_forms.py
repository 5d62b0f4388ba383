"""HTML forms: one model a form, read once at the route; every fault at once, each by its field."""

from __future__ import annotations

import inspect
import re
from datetime import date
from pathlib import Path

import pytest

from goodlength.errors import InputError
from goodlength.scoring.scoring_types import Side, System
from goodlength.web import submitted_forms as package
from goodlength.web.submitted_forms.aim_form import USUAL_AIM, AimedForm, AimForm, aim_texts
from goodlength.web.submitted_forms.clip_handout_and_passcode_forms import ClipsForm, HandoutForm, TalkForm
from goodlength.web.submitted_forms.form_reading_and_faults import read_form
from goodlength.web.submitted_forms.match_import_and_search_forms import (
    NEW_MATCH,
    ImportForm,
    MatchForm,
    SearchForm,
)
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import (
    NEW_DRILL,
    DrillForm,
    PlanForm,
    PlanTimeForm,
    time_texts,
)
from goodlength.web.submitted_forms.player_consent_and_settings_forms import (
    ConsentForm,
    PlayerForm,
    ServeKindsForm,
    SettingsForm,
)
from goodlength.web.submitted_forms.video_file_track_and_split_forms import FootageForm, PlaceForm, TrackForm

WEB = Path(inspect.getfile(package)).parents[1]
NAMES = {**NEW_MATCH, "a": "Imogen", "b": "Nadia"}
PRIVATE = re.compile(
    r"\b(form|said)\.get\(|\.texts(\.get\(|\[)|\basked\[|parse_qsl|multi_items|query_params\.get\("
)


def test_no_route_or_view_reads_a_form_by_itself() -> None:
    found = [
        f"{path.name}: {line.strip()}"
        for folder in ("routes", "views")
        for path in sorted((WEB / folder).rglob("*.py"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if PRIVATE.search(line)
    ]
    assert found == []


def test_a_form_ignores_names_it_does_not_have_and_takes_the_last_value() -> None:
    read = read_form(PlayerForm, {"name": "Imogen", "stranger": "x"}, {"name": ["Nadia", "Imogen"]})
    assert read.value.name == "Imogen"


def test_every_fault_is_told_by_its_field() -> None:
    read = read_form(
        MatchForm, {**NAMES, "a": " ", "played_on": "soon", "games": "three", "best_of": "3.5", "tin": "low"}
    )
    assert read.model is None
    assert read.faults == {
        "a": "A player needs a name; initials will do.",
        "played_on": "'soon' is not a date. Use year-month-day, such as 2026-03-07.",
        "best_of": "'3.5' is not a whole number. Type digits only, such as 12.",
        "games": "'three' is not a score. Enter two numbers, such as 3-2, player 1 first.",
        "tin": "'low' is not a number. Type one such as 0.48.",
    }
    with pytest.raises(InputError, match="A player needs a name"):
        _ = read.value


def test_a_match_is_read_into_its_parts() -> None:
    typed = {
        **NAMES,
        "system": "hand-out-9",
        "best_of": "3",
        "games": "1-0",
        "points": "3–2",
        "handicap": "−2-4",
        "server": "b",
        "tin": "0,43",
        "played_on": "2026-03-07",
        "clothes_b": " dark blue  shirt ",
    }
    details = read_form(MatchForm, typed).value.details()
    assert (details["format"].system, details["format"].target, details["format"].best_of) == (
        System.HAND_OUT,
        9,
        3,
    )
    start = details["start"]
    assert (start.games, start.points, start.handicap, start.server) == ((1, 0), (3, 2), (-2, 4), Side.B)
    assert (details["tin_height_m"], details["played_on"]) == (0.43, date(2026, 3, 7))
    assert (details["clothes_a"], details["clothes_b"]) == ("", "dark blue shirt")


def test_a_field_left_empty_takes_what_usually_holds() -> None:
    form = read_form(MatchForm, {"a": "Imogen", "b": "Nadia", "ball_warmth": " ", "points": ""}).value
    assert (form.ball_warmth, form.points, form.best_of) == ("unknown", None, 5)
    consent = read_form(ConsentForm, {"when": "", "until": " "}, {"purposes": ["clips"]}).value
    assert (consent.when, consent.until) == (date.today(), date.max)


@pytest.mark.parametrize("second", ["imogen", " IMOGEN "])
def test_the_two_players_differ(second: str) -> None:
    assert read_form(MatchForm, {**NAMES, "b": second}).faults == {"b": "The two players must differ."}


def test_a_consent_is_for_something() -> None:
    faults = read_form(ConsentForm, {"until": "never"}).faults
    assert list(faults) == ["until", "purposes"]
    assert faults["purposes"].startswith("Choose at least one purpose.")


@pytest.mark.parametrize(
    ("part", "names"),
    [
        ("recording", {"observer", "lead_s", "extras"}),
        ("consent", {"consent_months", "consent_purposes"}),
        ("handout", {"club", "handout_language"}),
        ("page", {"room"}),
        ("language", {"page_language"}),
        ("other", set()),
    ],
)
def test_settings_change_one_part_alone(part: str, names: set[str]) -> None:
    assert set(read_form(SettingsForm, {"part": part, "room": "dim"}).value.changes()) == names


def test_kinds_come_row_by_row() -> None:
    form = read_form(ServeKindsForm, {}, {"id": ["lob", ""], "words": ["Lob  high", "new"]}).value
    assert (form.id, form.words, form.used) == (["lob", ""], ["Lob high", "new"], [])


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Enter the path of the file on this computer."),
        ({"path": ' "" '}, "Enter the path of the file on this computer."),
        ({"path": "match.mp4", "rate": "fast"}, "The path 'match.mp4' is not complete."),
        ({"path": "/match.h264", "rate": "fast"}, "'fast' is not a frame rate."),
    ],
)
def test_a_path_or_rate_that_cannot_be(typed: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=re.escape(words)):
        _ = read_form(FootageForm, typed).value


def test_a_path_comes_without_its_quotation_marks() -> None:
    read = read_form(FootageForm, {"path": ' "/a b.h264" ', "rate": "29,97"})
    assert (read.value.path, read.value.rate, read.shown("path")) == ("/a b.h264", 29.97, "/a b.h264")


def test_places_come_by_file() -> None:
    assert read_form(PlaceForm, {"starts-f1": "1:02", "starts-f2": " ", "x": "1"}).value.starts == {
        "f1": 62_000_000,
        "f2": None,
    }
    assert "'noon' is not a time" in read_form(PlaceForm, {"starts-f1": "noon"}).faults["starts"]


@pytest.mark.parametrize("track", [None, "", "picture", "picture-x", "smell-1"])
def test_a_track_is_one_of_the_file(track: str | None) -> None:
    read = read_form(TrackForm, {} if track is None else {"track": track})
    assert read.faults == {"track": "Choose a video or sound track of the file."}


def test_an_import_takes_the_columns_by_their_place_in_the_file() -> None:
    sent = {
        "column-0": "winner",
        "column-2": "",
        "column-x": "box",
        "column-9999": "box",
        "keep_going": "yes",
    }
    read = read_form(ImportForm, sent).value
    assert read.columns == {0: "winner", 2: ""}
    assert (read.keep_going, read.leave, read.read_again) == (True, False, False)


def test_a_search_asks_only_what_is_filled_in() -> None:
    question = read_form(SearchForm, {"kind": "lob", "box": "", "game": "2", "kept": "1"}).value.question()
    assert (question.kind, question.box, question.game, question.kept) == ("lob", None, 2, True)
    assert (question.with_demo, question.since) == (None, None)
    assert set(read_form(SearchForm, {"game": "two", "since": "soon"}).faults) == {"game", "since"}


def test_a_plan_takes_whole_numbers_and_known_people() -> None:
    usual = read_form(PlanTimeForm, time_texts({})).value
    assert (usual.time.sessions_a_week, usual.time.minutes, usual.begins) == (2, 60, date.today())
    faults = read_form(PlanTimeForm, {"sessions": "two", "company": "crowd"}).faults
    assert faults["sessions"] == "Sessions per week must be a whole number; got 'two'."
    assert faults["company"] == "Choose the players on court and the level from the lists."
    assert faults["begins"] == "'' is not a date. Choose the first day, such as 2026-11-25."


def test_doses_come_by_drill() -> None:
    form = read_form(PlanForm, {"sets:d": "3", "attempts:d": "10", "target:d": " "}, {"keep": ["d"]}).value
    assert form.dose("d", "Lob") == (3, 10, None)
    with pytest.raises(InputError, match="Sets of Drive must be a whole number; got ''"):
        form.dose("e", "Drive")


def test_a_drill_form_gives_a_drill_with_or_without_a_box() -> None:
    plain = read_form(DrillForm, {**NEW_DRILL, "name": " Mine ", "x1": "1", "mixed": "1"}).value.drill()
    assert (plain["name"], plain["box"], plain["mixed"], plain["id"]) == ("Mine", None, True, None)
    assert plain["spots"] == [{"words": "", "x_m": "1", "y_m": ""}]
    boxed = read_form(DrillForm, {**NEW_DRILL, "wide_m": "1"}).value.drill()
    assert boxed["box"] == {"left_m": "", "low_m": "", "wide_m": "1", "tall_m": ""}


def test_clips_are_of_the_rallies_ticked_else_of_those_shown() -> None:
    shown = {"shown": "a,,b", "covered": "1", "slow": "yes"}
    assert read_form(ClipsForm, shown).value.rallies == ["a", "b"]
    ticked = read_form(ClipsForm, shown, {"rally": ["c"]}).value
    assert (ticked.rallies, ticked.make, ticked.covered, ticked.slow) == (["c"], "clip", True, False)


def test_rows_of_a_talk_without_a_rally_are_left_out() -> None:
    typed = {"rally-0": "", "cue-0": "lost", "rally-2": "r1", "role-2": "good", "show": ""}
    form = read_form(TalkForm, typed).value
    assert form.rows == [{"rally": "r1", "role": "good", "cue": ""}]
    assert (form.look_again, form.show) == (None, True)


def test_a_handout_keeps_what_differs_from_the_programs_words() -> None:
    typed = {
        "headline:k": "New  line",
        "was:headline:k": "Old line",
        "words:k": "Same  words",
        "was:words:k": "Same words",
        "own": "one\r\ntwo",
        "week": "1",
    }
    text = read_form(HandoutForm, typed, {"chosen": ["k"]}).value.text()
    assert {name: (field.said, field.was) for name, field in text.fields.items()} == {
        "headline:k": ("New line", "Old line")
    }
    assert (text.chosen, text.own, text.week, text.stills) == (["k"], "one\ntwo", True, False)


def test_the_address_of_an_aim_is_read_once_into_its_form() -> None:
    form = read_form(AimForm, {"kind": "hard", "scatter": " 12,5 ", "room": "", "speed": "150"}).value
    assert (form.kind, form.box, form.scatter, form.room, form.speed) == ("hard", "right", 12.5, None, 150.0)
    assert aim_texts({"room": "18"}) == {**USUAL_AIM, "room": "18"}


def test_every_fault_of_an_aim_is_told_by_its_field() -> None:
    read = read_form(AimForm, {"scatter": "abc", "dies_within_m": "nan", "altitude": "1e9", "above": "2.5"})
    assert read.faults == {
        "scatter": "The scatter must be a number; got 'abc'.",
        "dies_within_m": "The second bounce, distance from the back wall must be a number; got 'nan'.",
        "altitude": "The altitude must be a number; got '1e9'.",
    }


def test_an_aim_to_be_practised_is_read_by_the_same_form() -> None:
    asked = AimedForm(question="box=left&kind=lob&player=iv").asked.value
    assert (asked.box, asked.kind, asked.player, asked.hand) == ("left", "lob", "iv", "")
