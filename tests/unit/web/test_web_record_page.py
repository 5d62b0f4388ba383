"""The sheet, and answers coming in."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

ENTRY = {
    "id": "e1",
    "match": "m1",
    "observer": "coach/t1",
    "at_utc": "2026-03-07T18:30:00Z",
    "rally": "r1",
    "what": "serve.kind",
    "value": "lob",
    "replaces": None,
}


def send(client: TestClient, *entries: dict[str, Any]) -> Any:
    return client.post("/api/matches/m1/entries", json={"entries": list(entries)})


def test_a_fresh_match_has_a_sheet_that_says_what_comes_next(client: TestClient, match_id: str) -> None:
    sheet = client.get(f"/api/matches/{match_id}/sheet").json()
    assert sheet["names"] == {"a": "Imogen Vale", "b": "Petra Lindqvist-Ode"}
    assert sheet["short"] == {"a": "Imogen", "b": "Petra"}
    assert sheet["next"]["server"] == "a"
    assert sheet["next"]["points"] == [0, 0]
    assert sheet["next_key"] == 1
    assert [item["id"] for item in sheet["script"]["questions"] if not item["when"]] == [
        "serve.kind",
        "return.how",
        "return.left",
        "winner",
        "ending",
    ]
    assert (sheet["rallies"], sheet["faults"], sheet["parts"]) == ([], [], [])


def test_a_rally_written_down_comes_back_with_its_call(say: Any) -> None:
    for what, value in (("serve.kind", "lob"), ("return.how", "volleyed"), ("return.left", "tight")):
        say("r1", what, value)
    say("r1", "winner", "b")
    sheet = say("r1", "ending", "winner")
    rally = sheet["rallies"][0]
    assert rally["call"] == "Hand-out, 1–love"
    assert rally["complete"] is True
    assert (rally["before"], rally["after"]) == ([0, 0], [0, 1])
    assert rally["answers"]["serve.kind"] == "lob"
    assert set(rally["ids"]) == {"serve.kind", "return.how", "return.left", "winner", "ending"}
    assert sheet["next"] | {"opening": ""} == {
        "game": 1,
        "server": "b",
        "box": "right",
        "box_free": True,
        "points": [0, 1],
        "set_choice": False,
        "opening": "",
    }
    assert [item["what"] for item in sheet["log"]] == list(rally["answers"])


def test_the_same_entry_sent_again_changes_nothing(client: TestClient, match_id: str) -> None:
    first, again = send(client, ENTRY), send(client, ENTRY)
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json() == again.json()
    assert first.json()["stored"] == ["e1"]
    assert len(client.app.state.library.entries(match_id)) == 1


def test_an_id_that_stands_for_another_answer_is_a_conflict_in_words(
    client: TestClient, match_id: str
) -> None:
    send(client, ENTRY)
    answer = send(client, ENTRY | {"value": "hard"})
    assert answer.status_code == 409
    assert answer.json()["error"]["kind"] == "conflict"
    assert "Nothing was written" in answer.json()["error"]["words"]


@pytest.mark.parametrize(
    ("wrong", "status", "said"),
    [
        ({"what": "serve.kinds"}, 422, "what"),
        ({"what": "winner", "value": "c"}, 422, "winner"),
        ({"value": 7}, 422, "serve.kind"),
        ({"at_utc": "yesterday"}, 422, "at_utc"),
        ({"rally": ""}, 422, "rally"),
        ({"match": "m2"}, 422, "match"),
        ({"what": "span", "value": {"start_us": "soon"}}, 422, "span"),
        ({"what": "undo", "value": None}, 422, "replaces"),
    ],
)
def test_a_badly_written_entry_is_named_and_nothing_is_kept(
    client: TestClient, match_id: str, wrong: dict[str, Any], status: int, said: str
) -> None:
    fine = ENTRY | {"id": "fine"}
    answer = send(client, fine, ENTRY | wrong)
    assert answer.status_code == status, answer.text
    assert said in answer.json()["error"]["words"]
    assert client.app.state.library.entries(match_id) == ()


@pytest.mark.parametrize("body", [{}, {"entries": "none"}, {"entries": [], "more": 1}, {"entries": [1]}, []])
def test_a_body_of_another_shape_is_refused_in_words(client: TestClient, match_id: str, body: Any) -> None:
    answer = client.post(f"/api/matches/{match_id}/entries", json=body)
    assert answer.status_code == 422
    assert answer.json()["error"]["kind"] == "input"


def test_too_many_entries_at_once_are_refused(client: TestClient, match_id: str) -> None:
    answer = send(client, *(ENTRY | {"id": uuid4().hex} for _ in range(501)))
    assert answer.status_code == 422


def test_a_match_that_is_not_there_is_said(client: TestClient) -> None:
    answer = client.get("/api/matches/nobody/sheet")
    assert answer.status_code == 404
    assert "not in this library" in answer.json()["error"]["words"]


def test_two_tabs_that_answer_differently_are_shown_with_both_answers(say: Any) -> None:
    say("r1", "serve.kind", "lob", tab="t1", id="first")
    sheet = say("r1", "serve.kind", "hard", tab="t2", id="second")
    (clash,) = sheet["clashes"]
    assert (clash["rally"], clash["what"], clash["standing"]) == ("r1", "serve.kind", "second")
    assert [item["words"] for item in clash["answers"]] == ["Lob", "Hard"]
    settled = say("r1", "serve.kind", "lob", tab="t1", replaces="second")
    assert settled["clashes"] == []
    assert settled["rallies"][0]["answers"]["serve.kind"] == "lob"


def test_times_two_tabs_gave_unasked_are_joined_not_asked_about(say: Any) -> None:
    say("r1", "span", {"start_us": 5_000_000, "end_us": 9_000_000, "how": "answers"}, tab="t1")
    sheet = say("r1", "span", {"start_us": 4_000_000, "end_us": None, "how": "answers"}, tab="t2", id="later")
    assert sheet["clashes"] == []
    assert sheet["span_clashes"] == [
        {
            "rally": "r1",
            "standing": "later",
            "value": {"start_us": 4_000_000, "end_us": 9_000_000, "how": "answers"},
        }
    ]


def test_marked_times_that_differ_are_never_joined_in_silence(say: Any) -> None:
    say("r1", "span", {"start_us": 5_000_000, "end_us": 9_000_000, "how": "marked"}, tab="t1")
    sheet = say("r1", "span", {"start_us": 4_000_000, "end_us": None, "how": "answers"}, tab="t2")
    assert sheet["span_clashes"] == []
    assert any(fault["code"] == "two-answers" for fault in sheet["faults"])


def test_an_undone_answer_leaves_the_log_of_steps(say: Any) -> None:
    say("r1", "serve.kind", "lob", id="kind")
    sheet = say("r1", "undo", None, replaces="kind")
    assert sheet["log"] == []
    assert sheet["rallies"] == [] or "serve.kind" not in sheet["rallies"][0]["answers"]


@pytest.mark.parametrize("tab", ["draft", "draft-doubtful"])
def test_a_drafted_winner_that_an_answer_took_away_comes_back_with_the_step_over_it(
    say: Any, tab: str
) -> None:
    say("r1", "winner", "b", tab=tab, id="drafted")
    say("r1", "undo", None, replaces="drafted", id="away")
    sheet = say("r1", "ending", "let", id="let")
    taken = {"undo": "away", "id": "drafted", "winner": "b", "to_confirm": tab == "draft-doubtful"}
    assert [item.get("overruled") for item in sheet["log"]] == [taken]
    say("r1", "undo", None, replaces="let")
    rally = say("r1", "undo", None, replaces="away")["rallies"][0]
    assert (rally["answers"], rally["drafted"]) == ({"winner": "b"}, ["winner"])


def test_an_answer_after_a_step_back_over_a_persons_own_took_nothing_away(say: Any) -> None:
    say("r1", "winner", "b", id="own")
    say("r1", "undo", None, replaces="own")
    sheet = say("r1", "ending", "let")
    assert [item.get("overruled") for item in sheet["log"]] == [None]


@pytest.mark.parametrize(
    ("what", "value", "decides"),
    [
        ("winner", "a", False),
        ("ending", "winner", False),
        ("return.left", "loose", False),
        ("return.left", "not-made", True),
        ("return.how", "not-made", True),
        ("ending", "service-fault", True),
    ],
)
def test_only_an_answer_that_decides_the_rally_took_the_drafted_winner_away(
    say: Any, what: str, value: str, decides: bool
) -> None:
    say("r1", "winner", "b", tab="draft", id="drafted")
    say("r1", "undo", None, replaces="drafted")
    sheet = say("r1", what, value)
    assert ["overruled" in item for item in sheet["log"]] == [decides]


def test_a_time_put_right_on_the_footage_page_is_marked(client: TestClient, say: Any, match_id: str) -> None:
    say("r1", "span", {"start_us": 5_000_000, "end_us": 9_000_000, "how": "answers"}, id="old")
    body = {
        "id": "new",
        "tab": "t9",
        "rally": "r1",
        "start_us": 5_250_000,
        "end_us": 8_000_000,
        "replaces": "old",
    }
    assert client.post(f"/api/matches/{match_id}/span", json=body).json() == {"id": "new"}
    rally = client.get(f"/api/matches/{match_id}/sheet").json()["rallies"][0]
    assert (rally["start_us"], rally["end_us"], rally["span_how"]) == (5_250_000, 8_000_000, "marked")


def test_the_page_works_without_footage_and_lists_every_key(client: TestClient, match_id: str) -> None:
    html = client.get(f"/matches/{match_id}/record").text
    assert "times come from the clock" in html
    assert 'data-press="1 2 3 4 5 6 7 8 9"' in html
    assert 'data-press="Shift+ArrowLeft"' in html
    assert "left-handed" in html
    assert "style=" not in html
    assert "<script>" not in html


@pytest.mark.parametrize("at_utc", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"])
def test_an_answer_dated_at_the_edge_of_the_calendar_is_refused_in_words(client, match_id, at_utc):
    entry = {"id": "e", "observer": "coach", "rally": "r1", "what": "note", "at_utc": at_utc, "value": "x"}
    answer = client.post(f"/api/matches/{match_id}/entries", json={"entries": [entry]})
    assert answer.status_code == 422
    assert "1900 to 2199" in answer.json()["error"]["words"]


def test_half_a_character_in_id_and_value_is_refused_in_words(client, match_id):
    entry = '{"id": "a\\ud800", "observer": "coach", "rally": "r1", "what": "note", "value": "b\\ud800", '
    entry += '"at_utc": "2026-03-07T18:30:00Z"}'
    answer = client.post(
        f"/api/matches/{match_id}/entries",
        content=f'{{"entries": [{entry}]}}',
        headers={"content-type": "application/json"},
    )
    assert answer.status_code == 422
    assert "\\ud800" in answer.json()["error"]["words"]


@pytest.mark.parametrize("month", ["0001-01", "9999-12"])
def test_a_month_at_the_edge_of_the_calendar_is_refused_in_words(client, month):
    answer = client.get(f"/practice/calendar?month={month}")
    assert answer.status_code == 422
    assert "is not a month" in answer.text


def test_a_plan_that_would_begin_at_the_end_of_the_calendar_is_refused_in_words(client, match_id):
    assert client.get(f"/matches/{match_id}/plan?weeks=999999999999").status_code == 200
    answer = client.get(f"/matches/{match_id}/plan?begins=9999-12-31")
    assert answer.status_code == 200  # the form stays, with what is wrong beside it
    assert "is not a date" in answer.text
