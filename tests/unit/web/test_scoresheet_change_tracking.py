"""What an answer changes of the sheet: the changes, laid over the sheet a page holds, make the sheet as it is."""

from __future__ import annotations

import json
import random
import threading
from typing import Any
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Entry, EntryKind
from goodlength.web import scoresheet_change_tracking

ADDRESS = "/api/matches/m1"


def entry_of(rally: str, what: str, value: Any = None, tab: str = "t1", **more: Any) -> dict[str, Any]:
    return {
        "id": uuid4().hex,
        "observer": f"coach/{tab}",
        "at_utc": "2026-03-07T18:30:00.000Z",
        "rally": rally,
        "what": what,
        "value": value,
        "replaces": None,
        **more,
    }


class Page:
    """A page that holds a sheet and brings it up by what the server says has changed."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.sheet = client.get(f"{ADDRESS}/sheet?follow=true").json()

    def post(self, *entries: dict[str, Any], since: str | None = None) -> Any:
        version = self.sheet["version"] if since is None else since
        answer = self.client.post(f"{ADDRESS}/entries", json={"entries": list(entries), "since": version})
        assert answer.status_code == 200, answer.text
        return answer.json()

    def say(self, *entries: dict[str, Any]) -> Any:
        said = self.post(*entries)
        if "sheet" in said:
            self.sheet = said["sheet"]
            return said
        changes = said["changes"]
        assert changes["since"] == self.sheet["version"]
        rows = {row["key"]: row for row in self.sheet["rallies"]}
        rows |= {row["key"]: row for row in changes["rallies"]}
        scores = changes["scores"] or {"keys": [], "same": {}, "each": {}}
        for at, key in enumerate(scores["keys"]):
            each = {field: values[at] for field, values in scores["each"].items()}
            rows[key] = {**rows[key], **scores["same"], **each}
        keys = list(rows) if changes["order"] is None else changes["order"]
        parts = {**self.sheet, **changes["parts"], "version": changes["version"]}
        self.sheet = {**parts, "rallies": [rows[key] for key in keys]}
        return said


def whole(client: TestClient) -> Any:
    """The sheet made from nothing kept."""
    return client.get(f"{ADDRESS}/sheet").json()


def without_version(sheet: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in sheet.items() if name != "version"}


@pytest.fixture
def long(library: Any, match_id: str) -> str:
    """A match of 200 rallies, each a let."""
    pen = EntryWriter(match_id)
    for n in range(1, 201):
        pen.rally(f"r{n}", server="a", kind="lob", how="volleyed", ending="let")
    library.append(pen.entries)
    return match_id


def test_an_answer_sends_the_row_it_changes_and_nothing_of_the_others(client: TestClient, long: str) -> None:
    page = Page(client)
    said = page.say(entry_of("r17", "note", "Late to the volley"))
    assert [row["key"] for row in said["changes"]["rallies"]] == ["r17"]
    assert set(said["changes"]["parts"]) == {"log"}
    assert without_version(page.sheet) == whole(client)


def test_a_score_put_right_sends_the_scores_of_every_row_after_it(client: TestClient, long: str) -> None:
    page = Page(client)
    ending, winner = entry_of("r190", "ending", "winner"), entry_of("r190", "winner", "a")
    said = page.say(ending, winner)
    assert [row["key"] for row in said["changes"]["rallies"]] == ["r190"]
    scores = said["changes"]["scores"]
    assert scores["keys"] == [f"r{n}" for n in range(191, 201)]
    assert scores["same"]["before"] == [1, 0] and scores["each"]["n"] == list(range(191, 201))
    assert "answers" not in scores["same"] | scores["each"]
    assert without_version(page.sheet) == whole(client)


def test_a_page_that_missed_an_answer_gets_the_scores_with_it(client: TestClient, long: str) -> None:
    """The answer is of a row whose score changed before: the whole row is sent, and its score once."""
    late, other = Page(client), Page(client)
    other.say(entry_of("r1", "ending", "winner"), entry_of("r1", "winner", "a"))
    other.say(entry_of("r9", "note", "Late"))
    other.say(entry_of("r2", "ending", "winner"), entry_of("r2", "winner", "b"))
    said = late.say(entry_of("r3", "note", "x"))
    assert [row["key"] for row in said["changes"]["rallies"]] == ["r1", "r2", "r3", "r9"]
    assert len(said["changes"]["scores"]["keys"]) == 196
    assert without_version(late.sheet) == whole(client)


def test_scores_of_later_rows_take_a_fifth_of_what_the_rows_take(client: TestClient, long: str) -> None:
    page = Page(client)
    said = page.say(entry_of("r1", "ending", "winner"), entry_of("r1", "winner", "a"))
    sent, rows = (len(json.dumps(part)) for part in (said["changes"]["scores"], page.sheet["rallies"]))
    assert sent < rows / 5


def test_a_new_rally_is_sent_alone(client: TestClient, long: str) -> None:
    page = Page(client)
    said = page.say(entry_of("r201", "serve.kind", "hard"))
    assert [row["key"] for row in said["changes"]["rallies"]] == ["r201"]
    assert said["changes"]["order"] is None
    assert page.sheet["rallies"][-1]["key"] == "r201"


def test_the_same_answer_again_changes_nothing(client: TestClient, long: str) -> None:
    page = Page(client)
    note = entry_of("r17", "note", "Late")
    page.say(note)
    said = page.say(note)
    assert said["changes"]["version"] == said["changes"]["since"]
    assert (said["changes"]["parts"], said["changes"]["rallies"]) == ({}, [])


@pytest.mark.parametrize(
    "held", ["", "nobody.3", "nobody", ".", "{epoch}.x", "{epoch}.99", "{epoch}.-1", "٣.٣"]
)
def test_a_version_that_is_not_known_gets_the_whole_sheet(client: TestClient, long: str, held: str) -> None:
    page = Page(client)
    epoch = page.sheet["version"].split(".")[0]
    said = page.post(entry_of("r1", "note", "Back wall"), since=held.format(epoch=epoch))
    assert len(said["sheet"]["rallies"]) == 200
    assert without_version(said["sheet"]) == whole(client)


def test_a_version_that_is_no_text_is_refused(client: TestClient, match_id: str) -> None:
    for since in (7, ["x"], "x" * 101):
        body = {"entries": [entry_of("r1", "note", "x")], "since": since}
        assert client.post(f"{ADDRESS}/entries", json=body).status_code == 422
    assert client.app.state.library.entries(match_id) == ()  # type: ignore[attr-defined]


VALUES: dict[str, list[Any]] = {
    "winner": ["a", "b", None],
    "ending": ["winner", "let", "unforced-error", "stroke", "service-fault"],
    "return.how": ["volleyed", "not-made", None],
    "serve.kind": ["lob", "hard"],
    "box": ["left", "right"],
    "note": ["x", None],
    "keep": [True, False],
    "remove": [True, False],
    "place": [{"after": "r2"}, {"after": None}],
    "span": [
        {"start_us": 5, "end_us": 9, "how": "answers"},
        {"start_us": 1, "end_us": None, "how": "answers"},
    ],
    "conduct": [{"to": "a", "game": False}],
}


@pytest.mark.parametrize("seed", range(6))
def test_pages_that_bring_their_sheets_up_hold_what_the_whole_sheet_says(
    client: TestClient, match_id: str, seed: int
) -> None:
    """Two tabs answer, undo, insert, move and remove rallies at random; another program answers between."""
    rng = random.Random(seed)
    pages = {"t1": Page(client), "t2": Page(client)}
    said: list[dict[str, Any]] = []
    library = client.app.state.library  # type: ignore[attr-defined]
    for n in range(60):
        tab = rng.choice(list(pages))
        rally = f"r{rng.randrange(1, 3 + n // 4)}"
        if said and rng.random() < 0.2:
            back = rng.choice(said)
            entry = entry_of(back["rally"], "undo", tab=tab, replaces=back["id"])
        else:
            what = rng.choice(list(VALUES))
            key = f"c{n}" if what == "conduct" else rally
            entry = entry_of(key, what, rng.choice(VALUES[what]), tab)
        pages[tab].say(entry)
        said.append(entry)
        if rng.random() < 0.1:
            late = EntryWriter(match_id).write(rally, EntryKind.KIND, "lob")
            library.append([late])
            pages[tab].say(entry_of(rally, "keep", True, tab))
        assert without_version(pages[tab].sheet) == whole(client)


def test_answers_of_many_devices_at_once_all_come_to_the_sheet(client: TestClient, long: str) -> None:
    pages = [Page(client) for _ in range(8)]

    def answer(number: int) -> None:
        for n in range(5):
            pages[number].say(entry_of(f"r{number * 7 + n + 1}", "note", f"{number}-{n}", f"t{number}"))

    threads = [threading.Thread(target=answer, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for page in pages:
        page.say(entry_of("r200", "note", "End"))
    notes = {row["note"] for row in pages[-1].sheet["rallies"]}
    assert {f"{number}-{n}" for number in range(8) for n in range(5)} <= notes
    assert without_version(pages[-1].sheet) == whole(client)


def test_an_answer_is_stored_though_its_sheet_cannot_be_made(
    client: TestClient, long: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = Page(client)
    made, failing = scoresheet_change_tracking.sheet, iter((True,))

    def fail_once(*given: Any) -> Any:
        if next(failing, False):
            raise RuntimeError("out of memory")
        return made(*given)

    monkeypatch.setattr(scoresheet_change_tracking, "sheet", fail_once)
    note = entry_of("r3", "note", "Stored")
    with pytest.raises(RuntimeError):
        page.post(note)
    said = page.say(note)  # the page sends it again
    assert len(said["sheet"]["rallies"]) == 200
    assert page.sheet["rallies"][2]["note"] == "Stored"
    assert len([known for known in library_entries(client, long) if known.id == note["id"]]) == 1


def library_entries(client: TestClient, match_id: str) -> tuple[Entry, ...]:
    found: tuple[Entry, ...] = client.app.state.library.entries(match_id)  # type: ignore[attr-defined]
    return found


def test_a_changed_setting_or_name_comes_with_the_next_answer(client: TestClient, long: str) -> None:
    page = Page(client)
    library = client.app.state.library  # type: ignore[attr-defined]
    library.set_setting("lead_s", 2.5)
    said = page.say(entry_of("r5", "note", "x"))
    assert said["changes"]["parts"]["lead_s"] == 2.5
    assert without_version(page.sheet) == whole(client)


def test_only_so_many_matches_are_followed_at_once() -> None:
    sheets = scoresheet_change_tracking.FollowedSheets()
    with sheets.of("m0") as first:
        pass
    for n in range(1, scoresheet_change_tracking.MOST_FOLLOWED + 1):
        with sheets.of(f"m{n}"):
            pass
    with sheets.of("m0") as again:
        assert again is not first


def test_an_answer_of_a_page_that_follows_replays_once(client: TestClient, long: str, cost: Any) -> None:
    page = Page(client)
    cost.begin()
    page.say(entry_of("r9", "winner", "a"))
    assert cost.replays == 1 and cost.reads <= 5
