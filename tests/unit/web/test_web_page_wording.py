"""No command, id or raw date on a page; what the pages say agrees with what is done."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import ConsentMissing
from goodlength.record.model import Player
from goodlength.web.page_rendering import day_words
from goodlength.web.routes.match.findings import rallies_behind


def test_an_empty_library_offers_the_demo_by_a_button(client: TestClient, library: Any) -> None:
    page = client.get("/matches").text
    assert 'action="/matches/demo"' in page
    assert "goodlength demo" not in page
    said = client.post("/matches/demo", follow_redirects=True).text
    assert "The demo was added." in said
    assert len(tasks.list_matches(library)) == 3


def test_a_refusal_without_consent_shows_no_command_and_no_id(library: Any, match_id: str) -> None:
    info = library.match_info(match_id)
    with pytest.raises(ConsentMissing) as told:
        tasks.require_consent(tasks.players_of(library, info), "clips", "The clip")
    said = str(told.value)
    assert "goodlength player" not in said
    assert "--" not in said
    assert not [player for player in info.players if player in said]
    assert "--given-by NAME --for clips" in told.value.command


def test_an_import_of_a_name_that_two_share_shows_no_option_and_no_id(
    client: TestClient, library: Any
) -> None:
    for player_id in ("p1", "p2"):
        library.save_player(Player(player_id, "Rosa Kell"))
    table = "game,server,winner\n1,Rosa Kell,Rosa Kell\n1,Rosa Kell,Dana Wood\n"
    looked = client.post("/matches/import", files={"file": ("own.csv", table)}, follow_redirects=True)
    assert "--" not in looked.text.split("<main", 1)[1].replace("<!--", "").replace("-->", "")


@pytest.mark.parametrize("day", [date(2026, 11, 28), "2026-11-28"])
def test_one_form_of_dates(day: Any) -> None:
    assert day_words(day) == "28 November 2026"
    assert day_words(None) == day_words("") == ""


def test_one_rally_is_not_counted() -> None:
    finding: Any = SimpleNamespace(rallies=("r1",), against=None)
    assert rallies_behind(finding, (), frozenset(["r1"]))[1] == "Show the rally"
    finding = SimpleNamespace(rallies=("r1", "r2"), against=None)
    assert rallies_behind(finding, (), frozenset(["r1"]))[1] == "Show the 2 rallies (1 with video)"


def test_the_players_page_says_one_thing_after_consent_is_taken_back(
    client: TestClient, library: Any
) -> None:
    library.save_player(Player("p1", "Rosa Kell"))
    given = {"given_by": "Rosa Kell", "when": "2026-11-01", "until": "", "purposes": ["clips", "handout"]}
    client.post("/players/p1/consent", data=given)
    page = client.post("/players/p1/consent/withdraw", follow_redirects=True).text
    assert "Withdrawn on" in page
    assert page.count("no clip unless all faces are hidden") == 2
    assert "no clip and no handout" not in page.casefold()


def test_begun_is_said_only_while_it_is_made(client: TestClient, match_id: str) -> None:
    assert "Begun" not in client.get(f"/matches/{match_id}/show?made=1").text
