"""The card of the sure rallies: offered, checked, taken, undone; findings that say what nobody watched."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Depth, EntryKind
from goodlength.tasks.draft import sure_rally_acceptance_after_sample_check
from goodlength.tasks.draft.answer_proposals_from_ball_path import RallyProposals, RecordProposal
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import BulkOffer
from goodlength.web.routes.match.sure_rally_acceptance_after_sample_check import offer_words

SECOND = 1_000_000
AT = "/api/matches/m1/bulk"


@pytest.fixture
def drafted(library: Any, match_id: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Fourteen rallies with a sure draft, at the depth score; keys in order. A wins each, and serves."""
    tasks.change_match(library, match_id, depth=Depth.SCORE)
    pen = EntryWriter(match_id, "coach/draft", mark="draft-1-")
    found = []
    for n in range(10 + 4):
        key, start = f"r{n + 1}", 20 * n * SECOND
        box = "right" if n % 2 == 0 else "left"
        pen.write(key, EntryKind.SPAN, {"start_us": start, "end_us": start + 9 * SECOND, "how": "heard"})
        if n in (0, 11):
            pen.write(key, EntryKind.BOX, "right")
        box = "right" if n >= 11 and (n - 11) % 2 == 0 else "left" if n >= 11 else box
        answers = [("server", "a"), ("box", box), ("winner", "a")]
        chances = [{"what": what, "value": value, "chance": 0.995} for what, value in answers]
        pen.write(key, EntryKind.PROPOSED, {"by": "score-draft", "answers": chances})
        pen.write(key, EntryKind.WINNER, "a")
        kind = RecordProposal(EntryKind.KIND, "lob", 0.98)
        found.append(RallyProposals(key, start, start + 9 * SECOND, (kind,)))
    tasks.record_answers(library, match_id, pen.entries)
    monkeypatch.setattr(sure_rally_acceptance_after_sample_check, "path_proposals", lambda _: tuple(found))
    return [rally.key for rally in tasks.show_match(library, match_id).rallies]


def take(library: Any, keys: list[str]) -> None:
    pen = EntryWriter("m1", "coach/t1")
    for key in keys:
        pen.write(key, EntryKind.KIND, "lob")
        pen.write(key, EntryKind.WINNER, "a")
        pen.write(key, EntryKind.ENDING, None)
    tasks.record_answers(library, "m1", pen.entries)


def test_the_way_from_the_offer_to_the_undo(client: TestClient, library: Any, drafted: list[str]) -> None:
    offer = client.get(AT).json()
    assert (offer["state"], len(offer["sure"])) == ("offered", 14)
    assert offer["ask"] == "14 rallies are left, sure in every answer"
    assert "the other 4 without watching." in offer["text"]
    refused = client.post(f"{AT}/take")
    assert refused.status_code == 422 and "0 of 10 drawn rallies" in refused.json()["error"]["words"]
    checking = client.post(f"{AT}/sample").json()
    assert checking["state"] == "checking" and len(checking["sample"]) == 10
    assert client.post(f"{AT}/sample").status_code == 422
    take(library, checking["sample"])
    ready = client.get(AT).json()
    assert ready["state"] == "ready" and ready["ask"] == "10 of 10 right: take the other 4 rallies?"
    assert "up to 26 of 100 could still be wrong (95% limit)" in ready["text"]
    taken = client.post(f"{AT}/take").json()
    assert (taken["state"], taken["taken"], taken["ask"]) == ("taken", 4, "4 rallies taken unwatched")
    sheet = client.get("/api/matches/m1/sheet").json()
    rows = {row["key"]: row for row in sheet["rallies"]}
    assert [key for key in drafted if rows[key].get("unwatched")] == ready["sure"]
    assert all(rows[key]["complete"] and rows[key]["answers"]["serve.kind"] == "lob" for key in drafted)
    assert {entry["how"] for entry in sheet["log"][-4:]} == {"taken-unseen"}
    assert all(
        entry["rally"] in checking["sample"] for entry in sheet["log"] if entry["what"] == "proposed"
    ) or ({entry["rally"] for entry in sheet["log"] if entry["what"] == "proposed"} == set(ready["sure"]))
    undone = client.post(f"{AT}/undo").json()
    assert undone["state"] == "ready" and undone["sure"] == ready["sure"]
    rows = {row["key"]: row for row in client.get("/api/matches/m1/sheet").json()["rallies"]}
    assert not any(row.get("unwatched") for row in rows.values())
    assert not rows[ready["sure"][0]]["complete"]
    assert client.post(f"{AT}/undo").status_code == 422


def test_findings_say_what_nobody_watched_and_can_leave_it_out(
    client: TestClient, library: Any, drafted: list[str]
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    client.post(f"{AT}/take")
    page = client.get("/matches/m1/findings").text
    assert "20 answers given or checked by you, 8 proposed and taken unwatched." in page
    assert "Kind of serve: 10 of 10 right as proposed, 10 of 10 among those drawn at random." in page
    opened = tasks.open_match(library, "m1")
    assert int(opened.table.kind.tolist().count(0)) == 14
    from dataclasses import replace

    part = replace(opened, only_watched=True)
    assert part.table.kind.tolist().count(0) == 10 and part.table.key == opened.table.key
    assert part.table.winner.tolist().count(-1) == 4
    assert part.match is not None and part.table.score_a.tolist() == opened.table.score_a.tolist()
    watched = client.get("/matches/m1/findings?answers=watched").text
    assert "20 answers given or checked by you; left out here: 8 proposed and taken unwatched." in watched


def test_what_only_the_draft_wrote_is_not_called_taken(
    client: TestClient, library: Any, drafted: list[str]
) -> None:
    page = client.get("/matches/m1/findings").text
    assert "0 answers given or checked by you, 14 as the draft has them." in page
    assert "taken unwatched" not in page
    assert "Counted where you checked." not in page
    watched = client.get("/matches/m1/findings?answers=watched").text
    assert "You have watched no rally of this match yet" in watched
    assert 'href="/matches/m1/findings?side=a">show all answers</a>' in watched
    sample = client.post(f"{AT}/sample").json()["sample"]
    take(library, sample[:1])
    page = client.get("/matches/m1/findings").text
    assert "2 answers given or checked by you, 13 as the draft has them." in page
    assert "Counted where you checked." in page
    watched = client.get("/matches/m1/findings?answers=watched").text
    assert "You have watched no rally" not in watched


def correct(library: Any, key: str, winner: str) -> None:
    pen = EntryWriter("m1", "coach/t1")
    pen.write(key, EntryKind.WINNER, winner)
    tasks.record_answers(library, "m1", pen.entries)


def test_a_mistake_found_after_taking_leaves_the_way_to_undo(
    client: TestClient, library: Any, drafted: list[str]
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    take(library, sample)
    client.post(f"{AT}/take")
    correct(library, sample[0], "b")
    offer = client.get(AT).json()
    assert (offer["state"], offer["taken"], offer["wrong"]) == ("taken", 4, 1)
    assert offer["ask"] == "4 rallies taken unwatched"
    assert "One of the 10 checked is no longer as proposed, so these may be wrong too." in offer["text"]
    undone = client.post(f"{AT}/undo").json()
    assert (undone["state"], undone["taken"]) == ("withdrawn", 0)


def test_one_corrected_winner_is_one_wrong_rally(
    client: TestClient, library: Any, drafted: list[str]
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    places = sorted(drafted.index(key) for key in sample)
    first = next(n for n in places if n + 1 in places)  # the server of the next one follows from it
    take(library, sample)
    correct(library, drafted[first], "b")
    offer = client.get(AT).json()
    assert (offer["state"], offer["wrong"], offer["right"]) == ("withdrawn", 1, 9)
    assert "One of the ten was wrong" in client.post(f"{AT}/take").json()["error"]["words"]


def test_the_card_says_the_score_that_the_sheet_ends_with(
    client: TestClient, library: Any, drafted: list[str]
) -> None:
    ends = (
        "The sheet ends at 11–0 3–0, and the match is not over. Compare that with the true score: a rally "
        "that was not detected leaves the sheet a point behind"
    )
    assert ends in client.get(AT).json()["text"]
    take(library, client.post(f"{AT}/sample").json()["sample"])
    ready = client.get(AT).json()
    assert ready["state"] == "ready" and ends in ready["text"]


def test_number_words_of_one_rally() -> None:
    keys = tuple(f"r{n}" for n in range(11))
    assert (
        "you can take the other one without"
        in offer_words(BulkOffer("offered", keys, (), 0, 0, 0, 0.1, 1.0))[1]
    )
    ready = offer_words(BulkOffer("ready", keys[:1], keys[1:], 10, 0, 0, 0.02, 0.259))
    assert ready[0] == "10 of 10 right: take the other rally?"
    assert "about 0.0 of 1 is wrong" in ready[1] and "It is marked as taken unwatched." in ready[1]
    two = offer_words(BulkOffer("taken", (), keys[:10], 8, 2, 1, 0.0, 0.5))
    assert two[0] == "1 rally taken unwatched" and "2 of the 10 checked are no longer" in two[1]


def test_a_plain_match_says_nothing_of_origins(client: TestClient, library: Any, match_id: str) -> None:
    take(library, ["r1", "r2"])
    assert "taken unwatched" not in client.get(f"/matches/{match_id}/findings").text
    assert client.get(AT).json()["state"] == "none"
