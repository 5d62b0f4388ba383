"""The brief from a library: found by name, dated, rallies that exist, refused when there is nothing."""

from __future__ import annotations

import json
import shutil
from datetime import date

import pytest

from goodlength import tasks
from goodlength.errors import NotFound
from goodlength.forms.findings.opponent_report_json import brief_form, brief_lines


@pytest.fixture(scope="module")
def library(tmp_path_factory, demo_library):
    folder = tmp_path_factory.mktemp("brief")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    with tasks.open_library(folder) as opened:
        yield opened


def test_rallies_of_the_brief_are_those_of_the_matches(library):
    form = json.loads(json.dumps(brief_form(tasks.brief_about(library, "petra"))))
    assert form["title"].startswith("Petra Lindqvist-Ode: from two matches, the last on 11 October 2025")
    assert (form["matches"], form["last_played"]) == (2, "2025-10-11")
    numbers = {
        (row.id, rally.key): (rally.n, rally.game)
        for row in tasks.list_matches(library)
        for rally in tasks.show_match(library, row.id).rallies
    }
    seen = 0
    for rallies in (*(habit["rallies"] for habit in form["habits"]), form["serve"]["rallies"]):
        for item in rallies:
            seen += 1
            assert numbers[item["match"], item["key"]] == (item["n"], item["game"])
    assert seen


def test_each_habit_has_count_grade_range_rallies_and_day(library):
    form = brief_form(tasks.brief_about(library, "demo-imogen-vale"))
    assert len(form["habits"]) <= 3
    wanted = {"words", "grade", "count", "of", "interval", "q", "scope", "last_seen", "rallies"}
    for habit in form["habits"]:
        assert wanted <= habit.keys()
        assert len(habit["rallies"]) == habit["count"]
        assert date.fromisoformat(habit["last_seen"])


def test_lines_fit_a_page_and_hold_no_percentage(library):
    lines = list(brief_lines(tasks.brief_about(library, "petra")))
    assert len(lines) <= 30
    assert not any("%" in line for line in lines)
    assert any(line.startswith("What to serve. ") for line in lines)
    assert any(line.startswith("Serves that were attacked. ") for line in lines)
    assert any("Last seen 11 October 2025. Rallies by match and number: demo " in line for line in lines)


def test_a_day_to_begin_at(library):
    page = tasks.brief_about(library, "petra", since=date(2025, 10, 1))
    assert page.matches == 1
    with pytest.raises(NotFound, match="since 1 January 2030"):
        tasks.brief_about(library, "petra", since=date(2030, 1, 1))


def test_somebody_without_a_match(library):
    tasks.add_player(library, "Nell New", player_id="nell")
    with pytest.raises(NotFound, match="Nell New"):
        tasks.brief_about(library, "nell")
    with pytest.raises(NotFound, match="No player in this library"):
        tasks.brief_about(library, "nobody at all")
