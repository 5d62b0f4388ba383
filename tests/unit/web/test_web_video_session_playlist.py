"""Clips for the player through the page: chosen, advised on, shown with the question first, written down."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("film") / "film.mp4", Recipe(tuple(range(90)), sound=""))


@pytest.fixture
def filmed(library: Any, match_id: str, film: Path) -> Any:
    tasks.add_footage(library, match_id, film)
    for n in range(3):
        span = {"start_us": n * 900_000, "end_us": n * 900_000 + 500_000, "how": "marked"}
        tasks.answer(library, match_id, f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a")
    tasks.answer(library, match_id, "r2", EntryKind.KEEP, True)
    return library


def chosen(page: str) -> list[str]:
    return re.findall(r'<option value="(r\d)" data-start="\d+" selected', page)


def test_the_list_begins_with_those_kept_or_ticked(client: TestClient, filmed: Any, match_id: str) -> None:
    assert chosen(client.get(f"/matches/{match_id}/talk").text) == ["r2"]
    ticked = client.get(f"/matches/{match_id}/talk", params={"rally": ["r1", "r0", "gone"]}).text
    assert chosen(ticked) == ["r1", "r0"]


@pytest.mark.parametrize("page", ["talk", "beside", "show"])
def test_a_rally_says_who_served_and_that_it_was_the_return_that_was_missed(
    client: TestClient, filmed: Any, match_id: str, page: str
) -> None:
    for question, answer in ((EntryKind.SERVER, "a"), (EntryKind.KIND, "lob"), (EntryKind.LEFT, "not-made")):
        tasks.answer(filmed, match_id, "r0", question, answer)
    text = html.unescape(client.get(f"/matches/{match_id}/{page}").text)
    assert "Imogen: lob, return missed" in text


def test_a_list_is_kept_advised_on_shown_and_written_down(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    told = {
        "rally-0": "r1",
        "role-0": "fix",
        "cue-0": "higher & slower",
        "rally-1": "",
        "rally-2": "r0",
        "role-2": "good",
        "cue-2": "",
        "look_again": "2026-12-24",
        "show": "1",
    }
    answer = client.post(f"/matches/{match_id}/talk", data=told)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/matches/{match_id}/talk/show")
    page = client.get(f"/matches/{match_id}/talk").text
    assert "Start with a clip marked keep." in page
    assert 'value="2026-12-24"' in page
    view = client.get(f"/matches/{match_id}/talk/show").text
    began = json.loads(html.unescape(re.search(r'data-begin="([^"]*)"', view)[1]))  # type: ignore[index]
    assert [(item["start_us"], item["role"], item["cue"]) for item in began["items"]] == [
        (900_000, "fix", "higher & slower"),
        (0, "good", ""),
    ]
    assert "higher" not in re.sub(r'data-begin="[^"]*"', "", view), "the cue stands before it is asked for"
    assert client.post(f"/matches/{match_id}/talk/shown", data={"note": "will try"}).status_code == 303
    assert "will try" in client.get(f"/matches/{match_id}/talk").text


def test_a_list_that_cannot_be_keeps_what_was_typed(client: TestClient, filmed: Any, match_id: str) -> None:
    told = {"rally-0": "r1", "role-0": "good", "cue-0": "my cue", "look_again": "soon"}
    answer = client.post(f"/matches/{match_id}/talk", data=told)
    assert answer.status_code == 422
    assert "is not a date" in answer.text
    assert 'value="my cue"' in answer.text
    assert client.post(f"/matches/{match_id}/talk/shown", data={"note": "x"}).status_code == 422


def test_without_a_time_or_a_clip_the_pages_say_so(client: TestClient, match_id: str) -> None:
    assert "No rally has a start and end time yet" in client.get(f"/matches/{match_id}/talk").text
    assert "No clip with a time is chosen yet" in client.get(f"/matches/{match_id}/talk/show").text


def test_stills_of_the_clips_chosen_go_on_the_handout_when_there_is_room(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(filmed, player, given_by=name)
    client.post(f"/matches/{match_id}/talk", data={"rally-0": "r1", "role-0": "good", "cue-0": "like this"})
    page = client.get(f"/matches/{match_id}/handout").text
    assert 'name="stills"' in page
    made = client.post(f"/matches/{match_id}/handout", data={"stills": "1", "own": "Well played."})
    assert made.headers["location"].endswith("made=1")
    file = client.get(f"/matches/{match_id}/handout/file/html").text
    assert file.count("data:image/jpeg;base64,") == 1
    assert "like this" in file
    full = client.post(f"/matches/{match_id}/handout", data={"stills": "1", "own": "Lob more often. " * 260})
    assert full.headers["location"].partition("&")[0].endswith("made=without-stills"), full.text[:400]
    shown = client.get(full.headers["location"]).text
    assert "without the stills, because" in shown and "chart, because" not in shown
    assert not re.search(r'name="stills" value="1" checked', shown), "what had no room is not ticked again"
    again = client.post(
        f"/matches/{match_id}/handout", data={"turning": "1", "own": "Lob more often. " * 260}
    )
    shown = client.get(again.headers["location"]).text
    assert "without the chart, because" in shown and "stills, because" not in shown
    assert not re.search(r'name="turning" value="1" checked', shown)
    assert "data:image" not in client.get(f"/matches/{match_id}/handout/file/html").text


def test_stills_without_consent_to_clips_are_refused(client: TestClient, filmed: Any, match_id: str) -> None:
    tasks.consent(filmed, "iv", given_by="Imogen Vale", purposes=("handout",))
    client.post(f"/matches/{match_id}/talk", data={"rally-0": "r1", "role-0": "good"})
    refused = client.post(f"/matches/{match_id}/handout", data={"stills": "1"})
    assert refused.status_code == 422
    assert "Petra Lindqvist-Ode" in refused.text
    assert "clips" in refused.text.split("The handout was not created")[1][:400]


def test_earlier_versions_are_kept_and_the_plan_stands_on_the_page(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    tasks.consent(filmed, "iv", given_by="Imogen Vale")
    for own in ("First words.", "Second words.", "Third words."):
        assert client.post(f"/matches/{match_id}/handout", data={"own": own}).status_code == 303
    page = client.get(f"/matches/{match_id}/handout").text
    stamps = re.findall(r"/handout/version/(\d+)", page)
    assert len(stamps) == 2
    assert client.get(f"/matches/{match_id}/handout/version/{stamps[0]}").content[:4] == b"%PDF"
    for wrong in ("1", "x", "../handout-m1"):
        assert client.get(f"/matches/{match_id}/handout/version/{wrong}").status_code == 404
    full = client.post(f"/matches/{match_id}/handout", data={"own": "Lob more often. " * 900})
    assert full.status_code == 422
    assert len(re.findall("/handout/version/", client.get(f"/matches/{match_id}/handout").text)) == 2
    tasks.erase_player(filmed, "iv")
    assert list((filmed.folder / "handouts").glob("handout-*")) == []
