"""The season book: what stands on which day, for whom, and what is due."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.forms.practice.season_calendar_json import calendar_form
from goodlength.practice.planning.practice_plan import Time, plan_form
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat
from goodlength.tasks.practice.planned_sessions import sessions_in

IMOGEN, PETRA = "demo-imogen-vale", "demo-petra-lindqvist-ode"
TODAY = date(2025, 10, 15)


@pytest.fixture
def library(tmp_path: Path, demo_library: Path):
    shutil.copytree(demo_library, tmp_path, dirs_exist_ok=True)
    with tasks.open_library(tmp_path) as opened:
        yield opened


def test_matches_and_sets_stand_on_their_days(library: Any) -> None:
    for k in range(2):
        tasks.log_set(library, IMOGEN, "lob-to-the-box", 9, 15, on=date(2025, 10, 13), set_id=f"s{k}")
    book = tasks.calendar_month(library, date(2025, 10, 1), today=TODAY)
    assert sorted(book.days) == [date(2025, 10, 2), date(2025, 10, 11), date(2025, 10, 13)]
    assert book.days[date(2025, 10, 13)][0].words == "Imogen Vale: 2 sets, 30 attempts"
    assert book.weeks[0] == (None, None, *(date(2025, 10, d) for d in range(1, 6)))
    assert tasks.calendar_month(library, date(2025, 9, 1), today=TODAY).days.keys() == {date(2025, 9, 20)}
    later = tasks.calendar_month(library, date(2026, 1, 1), today=TODAY)
    assert (later.days, later.latest) == ({}, date(2025, 10, 13))


def test_a_planned_session_stands_on_its_day_and_is_coming_up(library: Any) -> None:
    day = date(2025, 10, 20)
    session = tasks.plan_session(library, IMOGEN, day, " Lobs  first ", today=TODAY)
    tasks.plan_session(library, PETRA, date(2025, 12, 1), today=TODAY)
    book = tasks.calendar_month(library, date(2025, 10, 1), today=TODAY)
    (event,) = book.days[day]
    assert (event.kind, event.words, event.session) == ("session", "Imogen Vale: Lobs first", session.id)
    assert [(due.on, due.words) for due in book.due if due.kind == "session"] == [(day, event.words)]
    tasks.remove_session(library, IMOGEN, session.id)
    assert day not in tasks.calendar_month(library, date(2025, 10, 1), today=TODAY).days
    with pytest.raises(NotFound, match="not planned any more"):
        tasks.remove_session(library, IMOGEN, session.id)
    assert tasks.sets_of(library, IMOGEN) == {}


def test_practice_of_the_demo_is_left_out_beside_matches_of_ones_own(library: Any) -> None:
    day = date(2025, 10, 13)
    tasks.log_set(library, IMOGEN, "lob-to-the-box", 9, 15, on=day)
    for name in ("ann", "bea"):
        tasks.add_player(library, name.title(), player_id=name)
    tasks.log_set(library, "ann", "lob-to-the-box", 8, 15, on=day)
    tasks.new_match(library, ("ann", "bea"), match_id="own", played_on=day)
    events = tasks.calendar_month(library, date(2025, 10, 1), today=TODAY).days[day]
    assert [event.player for event in events if event.kind == "practice"] == ["ann"]


def test_a_group_shows_its_own_and_erasing_it_puts_the_player_back(library: Any) -> None:
    tasks.set_group(library, IMOGEN, "  Tuesday   squad ")
    assert tasks.groups_of(library) == {IMOGEN: "Tuesday squad"}
    mine = tasks.calendar_month(library, date(2025, 10, 1), "Tuesday squad", TODAY)
    assert len(mine.days) == 2
    assert not tasks.calendar_month(library, date(2025, 10, 1), "nobody's", TODAY).days
    tasks.set_group(library, IMOGEN, "")
    assert tasks.groups_of(library) == {}
    with pytest.raises(InputError, match="40 letters"):
        tasks.set_group(library, IMOGEN, "x" * 41)


def test_plans_and_consents_fall_due(library: Any) -> None:
    plan = plan_form(
        tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60, 1), begins=date(2025, 10, 12))
    )
    tasks.save_plan(library, IMOGEN, plan)
    tasks.consent(library, IMOGEN, given_by="Imogen Vale", when=date(2025, 1, 1), until=date(2025, 10, 10))
    due = tasks.calendar_month(library, TODAY, today=TODAY).due
    told = {item.words: item.days_left for item in due}
    assert told["Imogen Vale: review the plan"] == 4
    assert told["Imogen Vale: consent has run out"] == -5


def test_a_month_is_read_or_refused() -> None:
    assert tasks.month_of("", TODAY) == date(2025, 10, 1)
    for wrong in ("2026-13", "May", "2026"):
        with pytest.raises(InputError, match="2026-11"):
            tasks.month_of(wrong)


def test_the_form_is_plain(library: Any) -> None:
    form = calendar_form(tasks.calendar_month(library, date(2025, 10, 1), today=TODAY))
    assert form["days"]["2025-10-11"][0]["kind"] == "match"


def test_the_practice_log_goes_out_and_away_with_the_player(library: Any, tmp_path: Path) -> None:
    tasks.set_group(library, IMOGEN, "Tuesday squad")
    tasks.log_set(library, IMOGEN, "lob-to-the-box", 9, 15, on=date(2025, 10, 13), set_id="s1")
    held = json.loads(tasks.export_player(library, IMOGEN, tmp_path / "imogen.json").read_text("utf-8"))
    assert [item["what"] for item in held["practice"]] == ["group", "set"]
    tasks.erase_player(library, IMOGEN)
    with pytest.raises(NotFound):
        library.practice(IMOGEN)


@pytest.mark.parametrize(
    ("what", "value"),
    [
        (PracticeWhat.SESSION, None),
        (PracticeWhat.SESSION, "a word"),
        (PracticeWhat.SESSION, {"on": "not a day", "words": "x"}),
        (PracticeWhat.SESSION, {"on": 5, "words": "x"}),
        (PracticeWhat.SESSION, {"on": "2025-10-16"}),
        (PracticeWhat.SET, None),
        (PracticeWhat.SET, []),
        (PracticeWhat.SET, {"drill": "d", "hits": 1, "attempts": 2, "order": "blocked", "on": "not a day"}),
        (
            PracticeWhat.SET,
            {"drill": "d", "hits": 1, "attempts": "2", "order": "blocked", "on": "2025-10-13"},
        ),
        (
            PracticeWhat.SET,
            {"drill": ["d"], "hits": 1, "attempts": 2, "order": "blocked", "on": "2025-10-13"},
        ),
        (PracticeWhat.SET, {"drill": "d", "hits": 1, "attempts": 2, "order": "x", "on": "2025-10-13"}),
        (
            PracticeWhat.SET,
            {"drill": "d", "hits": 1, "attempts": 2, "order": "blocked", "on": "2025-10-13", "aim": 3},
        ),
        (PracticeWhat.PLAN, None),
        (PracticeWhat.PLAN, {"check_on": "not a day"}),
    ],
)
def test_a_stored_line_that_cannot_be_read_is_left_out(library: Any, what: PracticeWhat, value: Any) -> None:
    """A library may come from somebody else: one line that no page wrote must not cost the whole calendar."""
    tasks.log_set(library, IMOGEN, "lob-to-the-box", 9, 15, on=date(2025, 10, 13), set_id="s1")
    before = tasks.calendar_month(library, date(2025, 10, 1), today=TODAY)
    library.append_practice([PracticeEntry("x1", IMOGEN, datetime(2025, 10, 1, tzinfo=UTC), what, value)])
    after = tasks.calendar_month(library, date(2025, 10, 1), today=TODAY)
    assert (after.days, after.due) == (before.days, before.due)
    log = library.practice(IMOGEN)
    assert (len(tasks.sets_of(library, IMOGEN)["lob-to-the-box"]), sessions_in(log)) == (1, ())
