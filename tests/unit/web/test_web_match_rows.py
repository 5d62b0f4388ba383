"""Rows of the lists: a match's result and next step, orders, players by their last match, consent that runs out."""

from __future__ import annotations

import re
import shutil
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import StoreError
from goodlength.record import MatchInfo

TODAY = date.today()


def test_rows_are_told_how_far_their_match_is(client: TestClient, match_id: str, say: Any) -> None:
    (state,) = client.get(f"/api/match-states?ids={match_id}").json()["states"]
    assert (state["result"], state["next"]["label"]) == ("not logged yet", "Next: Add a video")
    say("r1", "winner", "a")
    (state,) = client.get(f"/api/match-states?ids={match_id},gone").json()["states"]
    assert state["result"].startswith("Game 1, rally")
    assert state["next"]["href"] == f"/matches/{match_id}/record"


def test_a_finished_match_shows_its_result(demo_library: Any, open_client: Any, tmp_path: Path) -> None:
    shutil.copytree(demo_library, tmp_path / "library")
    with open_client(tmp_path / "library") as page:
        (state,) = page.get("/api/match-states?ids=demo").json()["states"]
    assert state["result"] == "Petra Lindqvist-Ode won 3–1"
    assert state["next"]["label"] == "Next: Read the findings"


def test_no_more_than_a_part_of_a_list_is_answered_at_once(client: TestClient, match_id: str) -> None:
    assert len(client.get("/api/match-states?ids=" + ",".join([match_id] * 40)).json()["states"]) == 10


@pytest.mark.parametrize(
    ("order", "first"), [("", "m3"), ("oldest", "m1"), ("names", "m2"), ("event", "m1"), ("nonsense", "m3")]
)
def test_matches_stand_in_the_order_asked_for(
    client: TestClient, library: Any, order: str, first: str
) -> None:
    for player in ("Ada Zell", "Zoe Abel", "Bea Moor"):
        tasks.add_player(library, player, player_id=player[:3].lower())
    pairs = (("zoe", "bea"), ("ada", "bea"), ("bea", "zoe"))
    for n, pair in enumerate(pairs, 1):
        event = "Autumn ladder" if n == 1 else f"Round {n}"
        library.save_match(MatchInfo(f"m{n}", pair, event=event, played_on=date(2026, 1, n)))
    page = client.get("/matches", params={"sort": order}).text
    assert page.index(f"/matches/{first}/record") == min(
        page.index(f"/matches/m{n}/record") for n in (1, 2, 3)
    )


def test_players_show_their_last_match_and_a_consent_that_runs_out(
    client: TestClient, library: Any, match_id: str
) -> None:
    tasks.consent(
        library, "iv", given_by="Parent", when=TODAY - timedelta(days=90), until=TODAY + timedelta(days=9)
    )
    tasks.consent(
        library, "plo", given_by="Petra", when=TODAY - timedelta(days=90), until=TODAY - timedelta(days=1)
    )
    page = client.get("/players").text
    assert "7 March 2026" in page and "ends in 9 days" in page and "ask again" in page
    assert "ends in 9 days" in client.get("/players/iv").text


def test_a_players_page_begins_with_matches_and_plan_and_ends_with_erasing(
    client: TestClient, match_id: str
) -> None:
    page = client.get("/players/iv").text
    order = [page.index(f'id="{part}"') for part in ("matches", "plan", "consent", "about", "out", "erase")]
    assert order == sorted(order)
    assert "Imogen Vale v Petra Lindqvist-Ode" in page and "No plan yet." in page


def test_a_damaged_match_does_not_take_the_others_from_the_list(
    client: TestClient, match_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = tasks.open_match

    def damaged(library: Any, wanted: str, *more: Any) -> Any:
        if wanted == "damaged":
            raise StoreError("The record of this match is damaged.")
        return opened(library, wanted, *more)

    monkeypatch.setattr(tasks, "open_match", damaged)
    (state,) = client.get(f"/api/match-states?ids=damaged,{match_id}").json()["states"]
    assert state["id"] == match_id


def test_the_next_step_is_not_offered_on_its_own_page(client: TestClient, match_id: str) -> None:
    elsewhere = client.get(f"/matches/{match_id}/details").text
    shown = re.search(r'id="next-step"><a [^>]*href="([^"#?]+)', elsewhere)
    assert shown is not None
    assert 'id="next-step" hidden' in client.get(shown[1]).text
