"""A match that begins with its video, through the page: begun, named, prepared, left, removed."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from lxml import html
from starlette.testclient import TestClient

from goodlength.files import library_layout
from goodlength.footage.media.video_probe import fingerprint
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.preparation.preparation_request_file import read_state
from goodlength.tasks.transfer import video_upload_admission_rules

BEGIN = "/api/new-match-from-video"


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("film") / "match.mp4", Recipe(tuple(range(30)), sound=""))


@pytest.fixture(autouse=True)
def begun(client: TestClient) -> list[str]:
    """Kinds of the jobs that were started; none runs here."""
    kinds: list[str] = []

    def start(kind: str, _function: Any, _args: Any) -> str:
        kinds.append(kind)
        return f"job{len(kinds)}"

    client.app.state.jobs.start = start
    client.app.state.preparation.notify = lambda: None  # the test says when steps are started
    return kinds


def body(film: Path) -> dict[str, Any]:
    return {"name": film.name, "size": film.stat().st_size, "fingerprint": fingerprint(film)}


def begin(client: TestClient, film: Path) -> str:
    answer = client.post(BEGIN, json=body(film))
    assert answer.status_code == 200, answer.text
    return str(answer.json()["match"])


def send(client: TestClient, match: str, film: Path) -> dict[str, Any]:
    made = client.post(f"/api/matches/{match}/transfers", json=body(film)).json()
    data, piece = film.read_bytes(), made["piece"]
    for at in range(0, len(data), piece):
        part = data[at : at + piece]
        sum_of = hashlib.sha256(part).hexdigest()
        sent = client.post(f"/api/transfers/{made['id']}/piece?at={at}&sha256={sum_of}", content=part)
        if sent.status_code != 200:
            return dict(sent.json())
    client.app.state.transfers.finish(made["id"], hashlib.sha256(data).hexdigest(), wait=True)
    return dict(client.get(f"/api/transfers/{made['id']}").json())


def test_a_video_begins_a_match_that_prepares_itself(
    client: TestClient, library: Any, film: Path, begun: list[str]
) -> None:
    match = begin(client, film)
    page = client.get(f"/matches/{match}/prepare").text
    assert "Unnamed player 1 v Unnamed player 2" in page
    assert send(client, match, film)["phase"] == "done"
    client.app.state.preparation.advance()
    assert begun == ["court", "rallies", "picture"]
    named = client.post(f"/api/matches/{match}/names", json={"a": "Rosa Kell", "b": "Dana Whitmore"})
    assert named.json() == {"title": "Rosa Kell v Dana Whitmore"}
    assert [player.name for player in library.players()] == ["Dana Whitmore", "Rosa Kell"]  # no stand-ins
    found = client.get(f"/api/matches/{match}/preparation").json()
    assert [step["name"] for step in found["steps"]] == [
        "listen", "look", "sample", "court", "players", "ball", "follow", "draft",
    ]  # fmt: skip
    assert (found["next"]["label"], found["next"]["needed"]) == ("See the progress", False)
    assert "See the progress" in client.get(f"/matches/{match}/record").text


@pytest.mark.parametrize("typed", ["", "2025-09-01"])
def test_the_date_of_a_dropped_video_becomes_the_matchs_unless_one_was_typed(
    client: TestClient, library: Any, tmp_path: Path, typed: str
) -> None:
    recorded = {"creation_time": "2025-10-03T12:00:00.000000Z"}
    dated = draw(tmp_path / "dated.mp4", Recipe(tuple(range(10)), sound="", metadata=recorded))
    match = begin(client, dated)
    names = {"a": "Rosa Kell", "b": "Dana Whitmore", "played_on": typed}
    assert client.post(f"/api/matches/{match}/names", json=names).status_code == 200
    assert send(client, match, dated)["phase"] == "done"
    assert str(library.match_info(match).played_on) == (typed or "2025-10-03")


def test_the_names_come_first_and_what_is_wrong_with_them_is_said(client: TestClient, film: Path) -> None:
    match = begin(client, film)
    assert send(client, match, film)["phase"] == "done"
    assert client.get(f"/api/matches/{match}/preparation").json()["next"]["name"] == "names"
    same = client.post(f"/api/matches/{match}/names", json={"a": "Rosa", "b": "rosa"})
    assert same.status_code == 422 and "must differ" in same.json()["error"]["words"]


def test_the_same_video_dropped_again_goes_on_with_its_match(
    client: TestClient, library: Any, film: Path
) -> None:
    assert begin(client, film) == begin(client, film)
    assert len(library.matches()) == 1


def test_a_video_that_the_library_has_begins_no_second_match(
    client: TestClient, library: Any, film: Path
) -> None:
    match = begin(client, film)
    send(client, match, film)
    again = client.post(BEGIN, json=body(film))
    assert again.status_code == 409 and "already in the library" in again.json()["error"]["words"]
    assert [info.id for info in library.matches()] == [match]


def test_a_disk_too_full_for_the_copy_begins_nothing(
    client: TestClient, library: Any, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(video_upload_admission_rules, "SPARE_BYTES", 10**18)
    answer = client.post(BEGIN, json=body(film))
    assert answer.status_code == 507 and "Free some space" in answer.json()["error"]["words"]
    assert library.matches() == () and library.players() == ()


def test_a_file_that_is_no_video_leaves_no_match_behind(
    client: TestClient, library: Any, tmp_path: Path
) -> None:
    text = tmp_path / "notes.mp4"
    text.write_text("not a video " * 50)
    match = begin(client, text)
    assert send(client, match, text)["error"]["words"]
    assert client.post(f"/api/matches/{match}/abandon").json() == {"removed": True}
    assert library.matches() == () and library.players() == ()
    assert not library_layout.preparation_file(library.folder, match).exists()


def test_a_named_match_without_its_video_goes_to_the_bin_and_one_that_has_it_stays(
    client: TestClient, library: Any, film: Path
) -> None:
    match = begin(client, film)
    client.post(f"/api/matches/{match}/names", json={"a": "Rosa Kell", "b": "Dana Whitmore"})
    arriving = client.post(f"/api/matches/{match}/abandon").json()
    assert arriving == {"removed": False}  # the rest may still come
    sent = client.app.state.transfers.of_match(match)[0]
    client.post(f"/api/transfers/{sent.id}/cancel")
    assert client.post(f"/api/matches/{match}/abandon").json() == {"removed": True}
    assert "Rosa Kell v Dana Whitmore" in client.get("/bin").text
    other = begin(client, film)
    send(client, other, film)
    assert client.post(f"/api/matches/{other}/abandon").json() == {"removed": False}


def test_names_typed_on_details_are_saved_and_undone(client: TestClient, library: Any, film: Path) -> None:
    match = begin(client, film)
    form = {"a": "Rosa Kell", "b": "Dana Whitmore", "coached": "a"}
    page = html.fromstring(client.get(f"/matches/{match}/details").content)
    fields = page.xpath(f"//form[@action='/matches/{match}/details']")[0].fields
    saved = client.post(f"/matches/{match}/details", data={k: v for k, v in {**fields, **form}.items() if v})
    assert saved.status_code == 303, saved.text
    assert {player.name for player in library.players()} == {"Rosa Kell", "Dana Whitmore"}
    item = saved.headers["location"].rpartition("undo=")[2]
    undone = client.post(f"/bin/{item}/put-back")
    assert undone.status_code == 303, undone.text
    players = [library.player(player).name for player in library.match_info(match).players]
    assert players == ["Unnamed player 1", "Unnamed player 2"]


def test_a_browser_closed_half_way_is_led_back_to_its_video(
    client: TestClient, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.tasks.transfer import resumable_video_upload

    match = begin(client, film)
    monkeypatch.setattr(resumable_video_upload, "ASSUMED_IDLE_S", -1.0)
    page = client.get(f"/matches/{match}/prepare").text
    assert "Next: Continue sending the video" in page and "Choose the same video again" in page


def test_pause_cancel_skip_and_begin_are_kept(client: TestClient, library: Any, film: Path) -> None:
    match = begin(client, film)
    send(client, match, film)
    for path in ("/pause", "", "/skip/court", "/cancel"):
        answer = client.post(f"/matches/{match}/prepare{path}")
        assert answer.headers["location"] == f"/matches/{match}/prepare"
        if path == "/pause":
            assert read_state(library.folder, match).paused
            assert "Continue" in client.get(f"/matches/{match}/prepare").text
    state = read_state(library.folder, match)
    assert (state.wanted, state.paused, state.skipped) == (False, False, ("court",))
    assert "Prepare the match" in client.get(f"/matches/{match}/prepare").text


def test_removing_a_match_stops_what_works_on_it(
    client: TestClient, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    match = begin(client, film)
    left: list[str] = []
    monkeypatch.setattr(client.app.state.preparation, "leave", left.append)
    assert client.post(f"/matches/{match}/remove").status_code == 303
    assert left == [match]


def test_the_ball_is_left_out_and_taken_in_in_place(client: TestClient, library: Any, film: Path) -> None:
    match = begin(client, film)
    send(client, match, film)

    def ball() -> dict[str, Any]:
        steps = client.get(f"/api/matches/{match}/preparation").json()["steps"]
        return next(step for step in steps if step["name"] == "ball")

    assert ball()["can_leave_out"] and not ball()["can_take_in"]
    page = client.get(f"/matches/{match}/prepare").text
    assert f'/matches/{match}/prepare/ball/leave-out" data-choice="can_leave_out"><button' in page
    assert client.post(f"/matches/{match}/prepare/ball/leave-out").status_code == 303
    assert (ball()["state"], ball()["words"], ball()["can_take_in"]) == ("left out", "Left out", True)
    client.post(f"/matches/{match}/prepare/ball/search")
    assert ball()["state"] == "waiting" and read_state(library.folder, match).ball == "search"
    assert client.post(f"/matches/{match}/prepare/ball/{'x' * 3000}").status_code == 404


@pytest.mark.parametrize(
    "path",
    ["/prepare", "/prepare/pause", "/prepare/cancel", "/prepare/skip/court", "/prepare/ball/search"],
)
def test_a_match_that_is_gone_is_told_in_words(client: TestClient, path: str) -> None:
    assert client.post(f"/matches/{quote('../gone')}{path}").status_code == 404


def test_a_match_made_without_a_video_is_asked_for_none(client: TestClient, match_id: str) -> None:
    page = client.get(f"/matches/{match_id}/prepare").text
    assert "no video yet" in page and "Next: Add a video" in page
