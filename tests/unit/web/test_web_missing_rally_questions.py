"""The pauses in which a rally may be missing, as the page gets them: a reason each, and nothing of a new match."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient

from goodlength.tasks.draft.missing_rally_questions import MissingRallyQuestion
from goodlength.web.routes.match import missing_rally_questions as route
from goodlength.web.routes.match.missing_rally_questions import reason_words

AT = "/api/matches/m1/missing"


def pause(**reasons: bool) -> MissingRallyQuestion:
    usual = {"is_long": False, "is_by_score": False, "ends_short": False, "was_deleted": False}
    return MissingRallyQuestion("r4", 0, 31_000_000, 9_000_000, 20_000_000, 0.4, 12.0, **{**usual, **reasons})


def test_every_pause_says_why_it_is_asked_about() -> None:
    assert reason_words(pause(is_long=True)) == "The pause is 31 s; 12 s is usual in this match."
    assert "fit better with another point" in reason_words(pause(is_by_score=True))
    unseen = reason_words(pause(is_by_score=True, are_places_known=False))
    assert unseen == "The winners so far fit better with another point."
    assert "a point before the match is over" in reason_words(pause(ends_short=True))
    assert reason_words(pause(was_deleted=True, is_long=True)).startswith(
        "You deleted a detected rally here."
    )
    assert reason_words(pause())


def test_the_page_gets_the_likeliest_first(client: TestClient, match_id: str, monkeypatch: Any) -> None:
    assert client.get(AT).json() == {"questions": []}
    monkeypatch.setattr(route, "missing_rally_questions", lambda _: (pause(is_long=True),))
    (asked,) = client.get(AT).json()["questions"]
    assert asked == {
        "after": "r4",
        "start_us": 0,
        "end_us": 31_000_000,
        "likely_start_us": 9_000_000,
        "likely_end_us": 20_000_000,
        "text": "The pause is 31 s; 12 s is usual in this match.",
    }


def test_a_match_that_is_not_there(client: TestClient) -> None:
    assert client.get("/api/matches/none/missing").status_code == 404
