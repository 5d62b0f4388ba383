"""Plan and Practice pages in process: proposed, kept, logged, refused in words."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.media_time import day_words
from goodlength.practice.planning.drill_library import DRILLS
from goodlength.practice.statistics.drill_progress import PracticeSet, progress_of
from goodlength.web.views.practice_progress_view import drill_progress_view

PLAYER = "demo-imogen-vale"
PLAN_OF_LOBS = {
    "sessions": "2",
    "minutes": "60",
    "weeks": "3",
    "begins": "2026-11-25",
    "drill": "",
    "company": "pair",
    "level": "club",
    "keep": "lob-to-the-box",
    "sets:lob-to-the-box": "2",
    "attempts:lob-to-the-box": "12",
    "target:lob-to-the-box": "",
}


@pytest.fixture(scope="module")
def page(
    tmp_path_factory: pytest.TempPathFactory, demo_library: Path, open_client: Callable[..., TestClient]
) -> Iterator[TestClient]:
    folder: Path = tmp_path_factory.mktemp("library")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    with open_client(folder) as client:
        client.headers["origin"] = "http://127.0.0.1"
        yield client


def test_the_plan_step_proposes_with_grades_and_cautions(page: TestClient) -> None:
    shown = page.get("/matches/demo/plan?weeks=3").text
    assert "Save the plan" in shown
    assert "Clear" in shown
    assert "Eye protection." in shown


def test_a_time_that_cannot_be_is_said_in_words(page: TestClient) -> None:
    assert "1 to 7 sessions per week" in page.get("/matches/demo/plan?sessions=9").text
    assert "whole number" in page.get("/matches/demo/plan?minutes=soon").text
    assert "is not a date" in page.get("/matches/demo/plan?begins=Tuesday").text
    assert "from the lists" in page.get("/matches/demo/plan?company=crowd").text


def test_an_edited_plan_is_kept_and_shown_with_the_player(page: TestClient) -> None:
    form = PLAN_OF_LOBS
    done = page.post("/matches/demo/plan", data=form, follow_redirects=False)
    assert done.status_code == 303
    shown = page.get(done.headers["location"]).text
    assert "2 × 12" in shown
    assert "Plan saved." in shown
    step = re.search(
        r'<li class="(\w+)"><a href="/matches/demo/plan"', page.get("/matches/demo/findings").text
    )
    assert step is not None and step[1] == "done"
    assert page.post("/matches/demo/plan", data={**form, "keep": ""}).status_code == 422


def test_the_plan_saved_is_shown_first_and_a_new_one_says_that_it_is_new(page: TestClient) -> None:
    form = {**PLAN_OF_LOBS, "target:lob-to-the-box": "7"}
    assert page.post("/matches/demo/plan", data=form, follow_redirects=False).status_code == 303
    library = page.app.state.library  # type: ignore[attr-defined]
    plan = tasks.current_plan(library, PLAYER)
    assert plan is not None and plan.get("match") == "demo"
    shown = page.get("/matches/demo/plan").text
    assert "Lobs to the taped box" in shown and "2 × 12." in shown and "7 of 12, last set" in shown
    for day in (plan["begins"], plan["check_on"]):
        assert day_words(date.fromisoformat(day)) in shown
    assert "<h1>Saved plan</h1>" in shown and "Save the plan" not in shown
    new = re.search(r'href="([^"]+)">Make a new plan', shown)
    assert new is not None
    suggested = page.get(new[1]).text
    assert "<h1>New plan</h1>" in suggested and "This is a new plan" in suggested
    assert "Save the plan" in suggested and 'href="/matches/demo/plan">Show the saved plan' in suggested


def test_sets_from_the_court_are_stored_once(page: TestClient) -> None:
    item = {
        "id": "s1",
        "drill": "lob-to-the-box",
        "hits": 9,
        "attempts": 15,
        "order": "blocked",
        "on": "2026-11-01",
    }
    for _ in range(2):
        told = page.post(f"/api/practice/{PLAYER}/sets", json={"sets": [item]})
        assert told.status_code == 200
        assert told.json()["stored"] == ["s1"]
    assert "9 of 15" in told.json()["words"]["lob-to-the-box"]
    refused = page.post(f"/api/practice/{PLAYER}/sets", json={"sets": [{**item, "id": "s2", "hits": 16}]})
    assert refused.status_code == 422
    assert "16 hits in 15" in refused.text


def test_a_plan_made_before_the_first_set_shows_the_target_once_there_are_sets(page: TestClient) -> None:
    form = {
        "sessions": "2",
        "minutes": "60",
        "weeks": "3",
        "begins": "2026-11-25",
        "drill": "",
        "company": "pair",
        "level": "club",
        "keep": "same-swing-two-serves",
        "sets:same-swing-two-serves": "2",
        "attempts:same-swing-two-serves": "15",
        "target:same-swing-two-serves": "",
    }
    assert page.post("/matches/demo/plan", data=form, follow_redirects=False).status_code == 303
    assert "none yet: log a first set" in page.get(f"/practice/{PLAYER}").text
    counted = {"id": "s9", "drill": "same-swing-two-serves", "hits": 22, "attempts": 45, "order": "blocked"}
    posted = page.post(f"/api/practice/{PLAYER}/sets", json={"sets": [{**counted, "on": "2026-11-01"}]})
    assert posted.status_code == 200
    shown = page.get(f"/practice/{PLAYER}").text
    assert "none yet: log a first set" not in shown
    assert "9 of 15, last set" in shown


def test_the_log_page_and_the_list_of_players_open(page: TestClient) -> None:
    assert "Hit" in page.get(f"/practice/{PLAYER}/log").text
    assert "Imogen Vale" in page.get("/practice").text
    assert page.get("/practice/nobody").status_code == 404


def test_a_drill_of_ones_own_is_kept_drawn_planned_and_taken_out_again(page: TestClient) -> None:
    mine = {
        "name": "Nick hunter",
        "theme": "serve",
        "company": "pair",
        "do": "Serve for the nick.",
        "counts": "The ball dies.",
        "changes": "More nicks.",
        "sets": "3",
        "attempts": "10",
        "rest_s": "45",
        "minutes": "12",
        "place": "",
        "left_m": "6.3",
        "low_m": "2.6",
        "wide_m": "0.3",
        "tall_m": "0.5",
        "spot1": "server",
        "x1": "5.6",
        "y1": "6.3",
    }
    refused = page.post("/practice/drills", data=mine)
    assert refused.status_code == 422
    assert "outside the wall" in refused.text
    assert 'value="Nick hunter"' in refused.text  # nothing typed is lost
    assert page.post("/practice/drills", data={**mine, "left_m": "1"}).status_code == 200
    assert "Nick hunter" in page.get("/practice/drills").text
    planned = page.get("/matches/demo/plan?drill=own-nick-hunter").text
    assert "Your choice" in planned
    assert "Taped box on the front wall, 0.30 m wide" in planned
    page.post("/practice/drills/retire", data={"drill": "own-nick-hunter"})
    assert "Nick hunter" not in page.get("/practice/drills").text
    assert page.post("/practice/drills/retire", data={"drill": "lob-to-the-box"}).status_code == 404


def test_no_practice_page_holds_an_inline_style(page: TestClient) -> None:
    for path in ("/practice", "/practice/drills", f"/practice/{PLAYER}", f"/practice/{PLAYER}/log"):
        assert "style=" not in page.get(path).text


def test_the_season_book_shows_a_month_and_refuses_another(page: TestClient) -> None:
    shown = page.get("/practice/calendar?month=2025-10").text
    assert "October 2025" in shown
    assert "Imogen Vale v Petra" in shown
    assert "style=" not in shown
    refused = page.get("/practice/calendar?month=soon")
    assert refused.status_code == 422
    assert "is not a month" in refused.text
    page.post(f"/practice/{PLAYER}/group", data={"group": "Squad"})
    assert "Squad" in page.get("/practice").text


def test_a_session_is_planned_by_choosing_a_day_and_refused_in_words(page: TestClient) -> None:
    day = date.today() + timedelta(days=1)
    month = page.get(f"/practice/calendar?month={day:%Y-%m}").text
    assert f"&amp;on={day}#plan-session" in month
    yesterday = date.today() - timedelta(days=1)
    assert f"on={yesterday}#" not in page.get(f"/practice/calendar?month={yesterday:%Y-%m}").text
    assert f'value="{day}"' in page.get(f"/practice/calendar?month={day:%Y-%m}&on={day}").text
    sent = {"player": PLAYER, "on": day.isoformat(), "words": "Lobs <18:00>"}
    saved = page.post("/practice/calendar/sessions", data=sent, follow_redirects=False)
    assert (saved.status_code, saved.headers["location"]) == (
        303,
        f"/practice/calendar?month={day:%Y-%m}&done=1",
    )
    shown = page.get(saved.headers["location"]).text
    assert "Imogen Vale: Lobs &lt;18:00&gt;" in shown and "The session is planned." in shown
    for field, text, words in (
        ("on", yesterday.isoformat(), "A session can be planned from today"),
        ("on", "2099-12-31", "to two years ahead; got 2099-12-31"),
        ("on", "soon", "is not a date"),
        ("on", "", "Choose the day of the session"),
        ("player", "", "Choose the player of the session"),
        ("words", "x" * 121, "at most 120 letters; got 121"),
    ):
        refused = page.post("/practice/calendar/sessions", data={**sent, field: text})
        assert (refused.status_code, words in refused.text) == (422, True), (field, text)
        assert "Lobs &lt;18:00&gt;" in refused.text  # what was typed stays
    nobody = page.post("/practice/calendar/sessions", data={**sent, "player": "nobody"})
    assert nobody.status_code == 422
    assert page.post("/practice/calendar/sessions/remove", data={"player": PLAYER}).status_code == 404


def test_the_chart_has_no_curve_before_a_change_is_shown() -> None:
    days = [date(2026, 9, 1) + timedelta(days=4 * k) for k in range(8)]
    hits = (6, 9, 10, 11, 12, 12, 13, 14)
    rising = progress_of([PracticeSet(day, hit, 15) for day, hit in zip(days, hits, strict=True)])
    assert rising.curve is not None
    assert rising.curve.shape != "flat"
    for verdict, lines in (("cannot-tell", 0), ("better", 1)):
        chart = drill_progress_view(DRILLS[0], replace(rising, verdict=verdict), (), ())["chart"]
        assert str(chart).count("stroke-dasharray") == lines, verdict


def test_the_overview_names_each_plan_and_those_with_one_come_first(client: TestClient, library) -> None:
    tasks.add_player(library, "Ann Early")
    zoe = tasks.add_player(library, "Zoe Late").id
    item = {"drill": "d", "name": "Lobs to the taped box", "sets": 3, "attempts": 10, "target": None}
    plan = {"items": [item], "sessions": 2, "begins": "2026-11-16", "check_on": "2026-12-16", "cautions": []}
    tasks.save_plan(library, zoe, plan)
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", client.get("/practice").text, re.S)
    assert ["Zoe Late" in rows[0], "Ann Early" in rows[1]] == [True, True]
    assert "Plan: Lobs to the taped box. Review on 16 December 2026" in rows[0]
    assert "No plan yet" in rows[1] and "review on" not in rows[1]


def test_the_log_on_court_says_the_sets_and_the_target_of_the_plan(client: TestClient, library) -> None:
    zoe = tasks.add_player(library, "Zoe Late").id
    item = {"drill": "lob-to-the-box", "name": "Lobs", "sets": 3, "attempts": 15, "target": 9}
    tasks.save_plan(
        library,
        zoe,
        {"items": [item], "sessions": 2, "begins": "2026-11-16", "check_on": "2026-12-16", "cautions": []},
    )
    assert "In the plan: 3 sets of 15, target 9 of 15 in the last." in client.get(f"/practice/{zoe}/log").text
