"""The brief about an opponent is worked out once while the matches it comes from are unchanged."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind, Player
from goodlength.web.routes.match import opponent_report

ADDRESS = "/players/plo/brief"


@pytest.fixture
def worked_out(library: Any, match_id: str, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """How often a brief was worked out, of a library with a match that has rallies."""
    pen = EntryWriter(match_id)
    for n in range(1, 12):
        pen.rally(f"r{n}", server="ab"[n % 2], kind="lob", how="volleyed", winner="a", ending="winner")
    library.append(pen.entries)
    calls, made = [], opponent_report.brief_about
    monkeypatch.setattr(
        opponent_report, "brief_about", lambda *given, **named: calls.append(1) or made(*given, **named)
    )
    return calls


def test_asked_again_nothing_is_worked_out(client: TestClient, worked_out: list[Any]) -> None:
    first = client.get(ADDRESS)
    assert first.status_code == 200
    assert client.get(ADDRESS).text == first.text
    assert len(worked_out) == 1


def test_what_to_serve_stands_before_the_habits(client: TestClient, worked_out: list[Any]) -> None:
    page = client.get(ADDRESS).text
    assert 0 < page.index("What to serve") < page.index('class="habits"')


def test_another_first_day_is_another_brief(client: TestClient, worked_out: list[Any]) -> None:
    client.get(ADDRESS)
    client.get(f"{ADDRESS}?since=2026-01-01")
    assert len(worked_out) == 2


@pytest.mark.parametrize("what", ["answer", "details", "name", "kinds"])
def test_what_it_is_made_from_changes_it(
    client: TestClient, library: Any, match_id: str, worked_out: list[Any], what: str
) -> None:
    before = client.get(ADDRESS).text
    if what == "answer":
        tasks.answer(library, match_id, "r3", EntryKind.KIND, "hard")
    elif what == "details":
        tasks.change_match(library, match_id, played_on=None)
    elif what == "name":
        library.save_player(Player("plo", "Petra Anders"))
    else:
        library.save_kinds([*library.kinds()][1:])
    after = client.get(ADDRESS).text
    assert len(worked_out) == 2
    if what == "name":
        assert "Petra Anders" in after and "Petra Anders" not in before


def test_a_player_without_a_match_is_said_each_time(client: TestClient, library: Any) -> None:
    library.save_player(Player("new", "Rosa Lund"))
    for _ in range(2):
        assert "There is no match of Rosa Lund" in client.get("/players/new/brief").text
