"""Rallies heard in the page: begun once, looked through, corrected, and nothing of it recorded."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.footage.audio.multi_file_rally_detection import (
    match_picture_job,
    match_rally_detection_job,
)
from goodlength.synthetic.numbered_frame_video import Recipe, draw


@pytest.fixture
def heard(client: TestClient, library: Any, match_id: str, tmp_path: Path) -> str:
    """A match with a second of film in which two rallies were heard; gives the id of the first."""
    film = draw(tmp_path / "one.mp4", Recipe(tuple(range(30)), sound=""))
    item = tasks.add_footage(library, match_id, film)
    films = [
        {"id": item.id, "path": str(film), "starts_us": 0, "first_us": item.first_us, "end_us": item.end_us}
    ]
    rallies = [
        {"start_us": a, "end_us": b, "hits_us": [a, b], "doubtful": doubtful, "why": "faint hits"}
        for a, b, doubtful in ((100_000, 400_000, False), (600_000, 900_000, True))
    ]
    plain = {
        "films": films,
        "rallies": rallies,
        "by": "sound",
        "words": "1 rallies heard, 1 more are doubtful.",
    }
    (library.folder / "heard").mkdir()
    (library.folder / "heard" / f"{match_id}.json").write_text(json.dumps(plain))
    return tasks.listed_rallies(tasks.open_match(library, match_id)).rallies[0].id


def test_listening_is_begun_once(client: TestClient, library: Any, match_id: str, heard: str) -> None:
    begun: list[Any] = []
    client.app.state.jobs.start = lambda *given: begun.append(given) or "job1"  # type: ignore[attr-defined]
    answer = client.post(f"/matches/{match_id}/hear")
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"/matches/{match_id}/footage#detected-rallies",
    )
    kind, function, args = begun[0]
    assert (kind, function) == ("rallies", match_rally_detection_job)
    assert args["match"] == match_id and len(args["films"]) == 1
    assert begun[1] == ("picture", match_picture_job, args)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "1 rallies heard, 1 more are doubtful." in page and "Check the rallies" in page


def test_the_picture_is_offered_paused_and_cancelled(
    client: TestClient, library: Any, match_id: str, heard: str
) -> None:
    page = client.get(f"/matches/{match_id}/footage").text
    assert "Use the players’ movement too" in page
    film = library.footage(match_id)[0]
    begun = library.folder / "heard" / f"{film.id}.motion.npz"
    begun.write_bytes(b"some of it")
    assert "Continue with the movement" in client.get(f"/matches/{match_id}/footage").text
    answer = client.post(f"/matches/{match_id}/picture/cancel")
    assert answer.status_code == 303 and not begun.exists()
    assert "Use the players’ movement too" in client.get(f"/matches/{match_id}/footage").text
    found = library.folder / "heard" / f"{match_id}.json"
    found.write_text(json.dumps({**json.loads(found.read_text()), "looked_at": True}))
    assert "Use the players’ movement too" not in client.get(f"/matches/{match_id}/footage").text


def test_two_matches_in_one_video_can_be_split(
    client: TestClient, library: Any, match_id: str, heard: str
) -> None:
    found = library.folder / "heard" / f"{match_id}.json"
    note = {
        "code": "two matches",
        "start_us": 900_000,
        "words": "There seem to be two matches in this video.",
    }
    found.write_text(json.dumps({**json.loads(found.read_text()), "notes": [note]}))
    page = client.get(f"/matches/{match_id}/footage").text
    assert "two matches in this video" in page and 'name="at" value="0.9"' in page
    refused = client.post(f"/matches/{match_id}/split", data={"at": "0.9"})
    assert refused.status_code == 422 and "at least ten seconds" in refused.text
    film = library.footage(match_id)[0]
    library.save_footage(replace(film, copied=False, end_us=film.first_us + 60_000_000))
    answer = client.post(f"/matches/{match_id}/split", data={"at": "0:30"})
    assert answer.status_code == 303 and answer.headers["location"].endswith("/details")
    assert len(library.matches()) == 2


def test_the_review_asks_keeps_and_adapts(
    client: TestClient, library: Any, match_id: str, heard: str
) -> None:
    found = library.folder / "heard" / f"{match_id}.json"
    plain = json.loads(found.read_text())
    for rally, chance in zip(plain["rallies"], (0.95, 0.4), strict=True):
        rally["chance"] = chance
    found.write_text(json.dumps(plain))
    page = client.get(f"/matches/{match_id}/review").text
    assert "Review the detection" in page and "half chosen at random" in page
    review = client.get(f"/api/matches/{match_id}/review").json()
    assert sorted(card["half"] for card in review["cards"]) == ["random", "unsure"]
    place = f"/api/matches/{match_id}/review/{heard}"
    for question, answer in (("rally", "yes"), ("hit", "a"), ("place", "right")):
        review = client.post(place, json={"question": question, "answer": answer}).json()
    assert review["answered"] == 1
    assert client.post(place, json={"question": "rally", "answer": "maybe"}).status_code == 422
    file = client.get(f"/matches/{match_id}/review/figures")
    assert "attachment" in file.headers["content-disposition"] and "Imogen" not in file.text
    for what in ("adapt", "undo", "again"):
        assert client.post(f"/matches/{match_id}/review/{what}").status_code == 303
    assert client.post(f"/matches/{match_id}/review/other").status_code == 404


def test_rallies_are_looked_through_and_nothing_is_recorded(
    client: TestClient, library: Any, match_id: str, heard: str
) -> None:
    page = client.get(f"/matches/{match_id}/rallies").text
    assert "Who serves, and from which box?" in page and "does not log it" in page
    said = client.post(f"/api/matches/{match_id}/heard/{heard}", json={"state": "kept", "seen": "a-left"})
    assert [item["seen"] for item in said.json()["rallies"]] == ["a-left", ""]
    assert said.json()["short"] == {"a": "Imogen", "b": "Petra"}
    marked = client.post(f"/api/matches/{match_id}/heard", json={"start_us": 450_000, "end_us": 550_000})
    assert [item["start_us"] for item in marked.json()["rallies"]] == [100_000, 450_000, 600_000]
    assert client.get(f"/api/matches/{match_id}/heard").json() == marked.json()
    assert library.entries(match_id) == ()


def test_what_cannot_be_is_told(client: TestClient, match_id: str, heard: str) -> None:
    path = f"/api/matches/{match_id}/heard/{heard}"
    assert "must end after it starts" in client.post(path, json={"end_us": 0}).json()["error"]["words"]
    assert client.post(path, json={"state": 3}).status_code == 422
    assert client.post(f"/api/matches/{match_id}/heard/none", json={}).status_code == 404
    assert client.get("/matches/none/rallies").status_code == 404


def test_a_match_nobody_listened_to_says_so(client: TestClient, match_id: str) -> None:
    assert "have not been detected yet" in client.get(f"/matches/{match_id}/rallies").text
    refused = client.post(f"/matches/{match_id}/hear")
    assert refused.status_code == 422 and "no video to search" in refused.text


def test_the_sheet_offers_what_no_recorded_rally_has_taken(
    client: TestClient, library: Any, match_id: str, heard: str, say: Any
) -> None:
    path = f"/api/matches/{match_id}/sheet"
    offered = client.get(path).json()["proposed"]
    assert [(item["start_us"], item["doubtful"]) for item in offered] == [(100_000, False), (600_000, True)]
    sheet = say("r1", "span", {"start_us": 100_000, "end_us": 400_000, "how": "heard"})
    assert [item["start_us"] for item in sheet["proposed"]] == [600_000]
    second = tasks.listed_rallies(tasks.open_match(library, match_id)).rallies[1].id
    client.post(f"/api/matches/{match_id}/heard/{second}", json={"state": "out"})
    assert client.get(path).json()["proposed"] == []


def test_a_detected_rally_that_was_deleted_is_not_offered_again_till_that_is_taken_back(
    client: TestClient, match_id: str, heard: str, say: Any
) -> None:
    say("r1", "span", {"start_us": 100_000, "end_us": 400_000, "how": "heard"})
    say("r1", "winner", "b", tab="draft")
    sheet = say("r1", "remove", True, id="none")
    assert [item["start_us"] for item in sheet["proposed"]] == [600_000]
    sheet = say("r1", "undo", None, replaces="none", id="back")
    assert [item["start_us"] for item in sheet["proposed"]] == [600_000] and len(sheet["rallies"]) == 1
    span = {"start_us": 150_000, "end_us": 350_000, "how": "marked"}
    say("r1", "span", span)
    sheet = say("r1", "remove", True)
    assert [item["start_us"] for item in sheet["proposed"]] == [100_000, 600_000]


def test_a_detected_rally_is_deleted_on_record_before_it_has_an_answer_and_comes_nowhere_again(
    client: TestClient, library: Any, match_id: str, heard: str, say: Any
) -> None:
    """One viewing: neither Next nor a later draft counts what Record has been through."""
    say("r1", "span", {"start_us": 100_000, "end_us": 400_000, "how": "heard"})
    for what, value in {"server": "a", "serve.kind": "lob", "return.how": "not-made", "winner": "a"}.items():
        say("r1", what, value)
    path = f"/api/matches/{match_id}/preparation"
    assert client.get(path).json()["next"]["label"] == "Next: Log 1 rally"
    say("r2", "span", {"start_us": 600_000, "end_us": 900_000, "how": "heard"})
    sheet = say("r2", "remove", True)
    assert sheet["proposed"] == [] and [rally["key"] for rally in sheet["rallies"]] == ["r1"]
    assert sheet["next_key"] == 3
    assert "Log 1 rally" not in client.get(path).json()["next"]["label"]
    drafted = client.post(f"/api/matches/{match_id}/draft", json={}).json()
    assert drafted["rallies"] == []


def test_a_deleted_detection_hides_no_rally_that_is_kept_or_mostly_outside_it(
    client: TestClient, library: Any, match_id: str, heard: str, say: Any
) -> None:
    """Any that touched the deleted times was hidden, and nothing said so."""
    say("r1", "span", {"start_us": 100_000, "end_us": 700_000, "how": "heard"})
    sheet = say("r1", "remove", True)
    assert [item["start_us"] for item in sheet["proposed"]] == [600_000]
    client.post(f"/api/matches/{match_id}/heard/{heard}", json={"state": "kept"})
    offered = client.get(f"/api/matches/{match_id}/sheet").json()["proposed"]
    assert [item["start_us"] for item in offered] == [100_000, 600_000]


def test_a_draft_on_the_page_is_told_written_and_taken_back(
    client: TestClient, library: Any, match_id: str, heard: str
) -> None:
    draft = f"/api/matches/{match_id}/draft"
    assert "nothing to draft from" in client.post(draft, json={}).json()["words"]
    client.post(f"/api/matches/{match_id}/heard/{heard}", json={"state": "kept", "seen": "a-right"})
    second = tasks.listed_rallies(tasks.open_match(library, match_id)).rallies[1].id
    client.post(f"/api/matches/{match_id}/heard/{second}", json={"state": "kept", "seen": "b-left"})
    form = client.post(draft, json={}).json()
    assert form["rallies"][0]["winner"] == "b" and form["short"] == {"a": "Imogen", "b": "Petra"}
    form = client.post(draft, json={"rally": second, "told": "a"}).json()
    assert (form["rallies"][1]["winner"], form["rallies"][1]["told"]) == ("a", "a")
    assert "Who won the rally?" in client.get(f"/matches/{match_id}/draft").text
    assert library.entries(match_id) == ()
    written = client.post(f"{draft}/accept").json()
    assert (written["written"], written["words"]) == (2, "All detected rallies are already on the sheet.")
    assert [rally.winner.value for rally in tasks.show_match(library, match_id).rallies] == ["b", "a"]  # type: ignore[union-attr]
    assert client.post(f"{draft}/take-back").json()["written"] == 0
    assert tasks.show_match(library, match_id).rallies == ()
