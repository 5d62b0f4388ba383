"""What the player asks the server for: small pictures, made once, and where it can jump to."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.files.library_layout import body_files, preview_sheet_file, previews_file
from goodlength.footage.edit.thumbnail_sheets import make_previews, previews_job
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.footage.camera_calibration import picture_size


@pytest.fixture
def film(library: Any, match_id: str, tmp_path: Path) -> Any:
    """A second of film in the match."""
    return tasks.add_footage(
        library, match_id, draw(tmp_path / "one.mp4", Recipe(tuple(range(30)), sound=""))
    )


def test_small_pictures_are_begun_once_and_served_with_a_lasting_address(
    client: TestClient, library: Any, film: Any
) -> None:
    begun: list[Any] = []
    client.app.state.jobs.start = lambda *given: begun.append(given) or "job1"  # type: ignore[attr-defined]
    path = f"/api/footage/{film.id}/previews"
    assert client.get(path).json()["ready"] is False and begun == []  # reading begins nothing
    assert client.post(path).json()["awaited"] is True
    kind, function, args = begun[0]
    assert (kind, function, args["shift_us"]) == ("previews", previews_job, 0)
    target = previews_file(library.folder, film.id)
    assert args["dst"] == str(target)
    assert client.get(f"{path}/0").status_code == 404

    target.parent.mkdir(exist_ok=True)
    make_previews(args["src"], target)
    found = client.post(path).json()
    assert (found["ready"], found["awaited"], found["times_us"], len(begun)) == (True, False, [0], 1)
    sheet = client.get(f"{path}/0")
    assert sheet.content[:2] == b"\xff\xd8" and "max-age" in sheet.headers["cache-control"]
    for wrong in ("1", "-1", "1000", "x", "..%2f..%2flibrary.sqlite3"):
        assert client.get(f"{path}/{wrong}").status_code in (404, 422), wrong


def test_a_sheet_that_is_a_link_out_of_the_library_is_sent_to_no_other_machine(
    client: TestClient, library: Any, film: Any, tmp_path: Path
) -> None:
    secret = tmp_path / "secret"
    secret.write_bytes(b"of this computer alone")
    target = previews_file(library.folder, film.id)
    target.parent.mkdir(exist_ok=True)
    sheet = preview_sheet_file(target, 0)
    far = TestClient(client.app, base_url=client.base_url, client=("192.168.7.9", 50_000))
    try:
        sheet.symlink_to(secret)
    except OSError:
        pytest.skip("this system makes no links")
    assert secret.read_bytes() not in far.get(f"/api/footage/{film.id}/previews/0").content
    sheet.unlink()
    sheet.write_bytes(b"a picture")
    assert far.get(f"/api/footage/{film.id}/previews/0").content == b"a picture"


def test_a_damaged_list_is_made_anew_and_a_missing_film_is_no_fault(
    client: TestClient, library: Any, film: Any
) -> None:
    begun: list[Any] = []
    client.app.state.jobs.start = lambda *given: begun.append(given) or "job1"  # type: ignore[attr-defined]
    path = f"/api/footage/{film.id}/previews"
    target = previews_file(library.folder, film.id)
    target.parent.mkdir(exist_ok=True)
    for damaged in ("{", '{"made": "../../etc", "times_us": [0]}', '{"made": "0123abcd", "times_us": "all"}'):
        target.write_text(damaged)
        assert client.get(path).json()["ready"] is False
    assert client.post(path).json()["awaited"] is True and len(begun) == 1
    Path(film.path).unlink()
    answer = client.post(path).json()
    assert (answer["ready"], answer["awaited"]) == (False, False)
    assert client.get("/api/footage/nobody/previews").status_code == 404


def test_impacts_are_those_heard_in_rallies_that_the_coach_has_not_thrown_out(
    client: TestClient, library: Any, match_id: str, film: Any
) -> None:
    rallies = [
        {
            "start_us": a,
            "end_us": b,
            "hits_us": [a, b],
            "doubtful": False,
            "why": "",
            "strikes": [[a, "racket", 0.9], [a + 50_000, "front wall", 0.8], [a + 90_000, "floor", 0.7]],
        }
        for a, b in ((100_000, 400_000), (600_000, 900_000))
    ]
    films = [
        {"id": film.id, "path": film.path, "starts_us": 0, "first_us": film.first_us, "end_us": film.end_us}
    ]
    (library.folder / "heard").mkdir()
    heard = {"films": films, "rallies": rallies, "by": "sound", "words": ""}
    (library.folder / "heard" / f"{match_id}.json").write_text(json.dumps(heard))
    path = f"/api/matches/{match_id}/impacts"
    found = client.get(path).json()
    assert [rally["start_us"] for rally in found["rallies"]] == [100_000, 600_000]
    assert [(impact["us"], impact["what"]) for impact in found["impacts"]][:4] == [
        (100_000, "racket"),
        (150_000, "front wall"),
        (190_000, "floor"),
        (400_000, "racket"),
    ]
    second = client.get(f"/api/matches/{match_id}/heard").json()["rallies"][1]["id"]
    client.post(f"/api/matches/{match_id}/heard/{second}", json={"state": "out"})
    after = client.get(path).json()
    assert len(after["rallies"]) == 1 and max(impact["us"] for impact in after["impacts"]) == 400_000


def test_a_match_in_which_nothing_was_heard_has_nothing_to_jump_to(client: TestClient, match_id: str) -> None:
    assert client.get(f"/api/matches/{match_id}/impacts").json() == {"rallies": [], "impacts": []}


@pytest.mark.parametrize("page", ["rallies", "record", "draft"])
def test_a_page_without_video_has_no_player(client: TestClient, match_id: str, page: str) -> None:
    assert 'id="player"' not in client.get(f"/matches/{match_id}/{page}").text


def test_every_button_of_the_player_has_a_name(client: TestClient, match_id: str, film: Any) -> None:
    page = client.get(f"/matches/{match_id}/record").text
    bar = page[page.index('id="player"') : page.index('class="below-video"')]
    buttons = bar.split("<button")[1:]
    assert len(buttons) >= 12
    for button in buttons:
        words = button[button.index(">") + 1 : button.index("</button>")]
        assert "aria-label=" in button[: button.index(">")] or not words.startswith("<"), button[:80]


def test_what_is_drawn_on_a_frame_is_stored_and_removed(client: TestClient, match_id: str) -> None:
    path = f"/api/matches/{match_id}/drawings"
    line = {"id": "d1", "at_us": 5, "kind": "line", "points": [[0.1, 0.2], [0.3, 0.4]], "text": ""}
    assert client.get(path).json() == {"drawings": []}
    assert client.post(path, json=line).json()["drawings"][0]["kind"] == "line"
    refused = client.post(path, json={**line, "kind": "photo"})
    assert refused.status_code == 422 and "kind is 'photo'" in refused.text
    assert client.post(f"{path}/nobody/remove").status_code == 404
    assert client.post(f"{path}/d1/remove").json() == {"drawings": []}
    assert client.get("/api/matches/nobody/drawings").status_code == 404


def test_an_overlay_without_a_camera_says_what_is_missing(
    client: TestClient, match_id: str, film: Any
) -> None:
    path = f"/api/matches/{match_id}/overlay"
    assert "not calibrated" in client.get(path, params={"us": 500_000}).json()["missing"]["court"]
    assert "no video" in client.get(path, params={"us": 10**12}).json()["missing"]["joints"]
    for wrong in (-1, "x", 2**60):
        assert client.get(path, params={"us": wrong}).status_code == 422


def test_body_points_lie_over_the_video_where_they_were_found(
    client: TestClient, library: Any, match_id: str, film: Any
) -> None:
    """Without a camera: they need none. A point that was not seen is none; one put by hand stands."""
    span = {"start_us": 400_000, "end_us": 700_000, "how": "marked"}
    tasks.answer(library, match_id, "r1", EntryKind.SPAN, span)
    wide, high = picture_size(film)
    rows = [[wide / 4, high / 2, 0.9, 3.0]] * 16 + [[1.0, 1.0, 0.01, 3.0]]
    found = {"times_us": [366_667, 400_000], "boxes": [None, [0, 0, 9, 9, 0.9]], "joints": [None, rows]}
    stored, by_hand = body_files(library.folder, match_id)
    stored.parent.mkdir(exist_ok=True)
    forms = {"r1/1/b": {**found, "at_us": 400_000, "footage": film.id}, "r1/2/a": {"times_us": "all"}}
    stored.write_text(json.dumps(forms))
    by_hand.write_text(json.dumps({"r1/1/b": {"400000": {"0": [wide / 2, high / 4]}}}))
    answer = client.get(f"/api/matches/{match_id}/overlay", params={"us": 450_000}).json()
    (body,) = answer["bodies"]
    assert (body["who"], body["times_us"]) == ("b", [400_000])
    assert [body["joints"][0][n] for n in (0, 5, 16)] == [[0.5, 0.25], [0.25, 0.5], None]
    assert answer["missing"]["joints"] == "" and "not calibrated" in answer["missing"]["paths"]
