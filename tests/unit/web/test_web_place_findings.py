"""Length and tightness on the page: facts, maps and links to rallies; the next step where there is nothing."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.files.library_layout import followed_ball_file
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.record.model import EntryKind, Footage
from goodlength.record.store import Library
from goodlength.tasks.ball import ball_following_inputs
from tests.oracles.followed_shots import SECOND, made_match, unchanged_inputs
from tests.unit.tasks.test_place_findings_task import rally

PAGE = "/matches/p1/findings/places"


@pytest.fixture
def followed(library: Library, monkeypatch: pytest.MonkeyPatch) -> Library:
    for player, name in (("iv1", "Imogen Vale"), ("plo1", "Petra <Ode>")):
        tasks.add_player(library, name, player_id=player)
    tasks.new_match(library, ("iv1", "plo1"), match_id="p1")
    library.save_footage(Footage("fp", "p1", "/films/x.mp4", 0, first_us=0, end_us=100 * SECOND))
    for n in range(2):
        tasks.answer(library, "p1", f"r{n}", EntryKind.SERVER, "a")
        tasks.answer(library, "p1", f"r{n}", EntryKind.WINNER, "b")
    rallies: list[Any] = [rally("r:r0"), rally("r:r1", 20 * SECOND)]
    rallies = [type(each)(**{**vars(each), "footage": "fp"}) for each in rallies]
    write_followed(followed_ball_file(library.folder, "p1"), made_match("p1", *rallies))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    return library


def test_the_page_has_facts_maps_and_links(client: TestClient, followed: Library) -> None:
    page = client.get(f"{PAGE}?side=b").text
    assert "<b>2 of 4</b> drives, cross-courts and lobs bounced past the service box" in page
    assert 'aria-label="Drives of Petra: 4 first bounces on the floor."' in page
    assert "Petra’s shots: 4; counted 4, not sure 0, no path 0." in page
    assert "<Ode>" not in page
    assert "s between contacts" in page and not re.search(r"(’s|between) strikes?\b", page)
    assert {tuple(keys.split("%2C")) for keys in re.findall(r"rallies=([^\"]+)\"", page)} == {("r0", "r1")}
    assert "Clear" not in page.split("Why this grade")[0].split("Four questions")[1]


def test_how_many_questions_the_grades_allow_for_is_said_only_where_there_are_some(
    client: TestClient, followed: Library
) -> None:
    """Before: "0 questions about both players could be asked; the grades allow for this number"."""
    page = client.get(f"{PAGE}?side=b").text
    assert page.count("Too few shots to compare.") + page.count("No shots to compare.") >= 1
    assert "0 questions" not in page and "the grades allow" not in page


def test_findings_show_the_short_form_and_lead_there(client: TestClient, followed: Library) -> None:
    page = client.get("/matches/p1/findings?side=b").text
    assert 'id="places"' in page and f"{PAGE}?side=b" in page
    assert "<b>2 of 4</b> drives" in page


def test_with_nothing_followed_the_next_step_is_named(client: TestClient, followed: Library) -> None:
    followed_ball_file(followed.folder, "p1").unlink()
    page = client.get(PAGE).text
    assert "Follow the ball on Footage" in page
    assert 'id="places"' not in client.get("/matches/p1/findings").text


def test_a_changed_path_is_read_again(client: TestClient, followed: Library) -> None:
    assert "2 of 4" in client.get(f"{PAGE}?side=b").text
    write_followed(followed_ball_file(followed.folder, "p1"), made_match("p1"))
    assert "Nothing to count yet" in client.get(f"{PAGE}?side=b").text


def test_no_such_match(client: TestClient) -> None:
    assert client.get("/matches/nobody/findings/places").status_code == 404


def test_the_players_page_and_the_brief_have_them_over_all_matches(
    client: TestClient, followed: Library
) -> None:
    page = client.get("/players/plo1").text
    assert "From the followed ball in 2 of 2 rallies, 1 match." in page
    assert "2 of 4 drives" in page
    assert "volleyed by the other player" not in page
    brief = client.get("/players/plo1/brief").text
    assert "<dt>Length and tightness</dt>" in brief and "<b>2 of 4</b> drives" in brief
    write_followed(followed_ball_file(followed.folder, "p1"), made_match("p1"))
    assert "From the followed ball" not in client.get("/players/plo1").text
    assert "Length and tightness" not in client.get("/players/plo1/brief").text
