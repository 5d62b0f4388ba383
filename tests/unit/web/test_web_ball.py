"""The ball on the Footage page: what is offered, what was seen in a sample, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength.files import library_layout
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, StoredBalls
from goodlength.footage.ball_detection.ball_search_in_match import model_mark
from goodlength.record.model import Footage
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.playback import ball_overlay
from goodlength.web.routes.footage import ball_visibility_and_search_status_view

SECOND = 1_000_000
SPANS = [BallSpan(f"h:{n}", "f1", (20 * n + 2) * SECOND - 500_000, (20 * n + 9) * SECOND) for n in range(4)]


@pytest.fixture(autouse=True)
def begun(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Any]]:
    """The jobs that were started; none runs here."""
    started: list[tuple[str, Any]] = []

    def start(kind: str, _function: Any, args: Any) -> str:
        started.append((kind, args))
        return f"job{len(started)}"

    client.app.state.jobs.start = start
    for module in (camera_calibration, ball_visibility_and_search_status_view):
        monkeypatch.setattr(module, "camera_at", lambda *_: None)
    return started


@pytest.fixture
def heard(library: Any, match_id: str) -> None:
    """Four rallies of six seconds in a video of 100 s."""
    library.save_footage(Footage("f1", match_id, "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))
    films = [{"id": "f1", "path": "", "starts_us": 0, "first_us": 0, "end_us": 100 * SECOND}]
    rallies = [
        {"start_us": (20 * n + 2) * SECOND, "end_us": (20 * n + 8) * SECOND, "hits_us": [], "doubtful": False,
         "why": ""}
        for n in range(4)
    ]  # fmt: skip
    path = library_layout.rally_files(library.folder, match_id)[0]
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"films": films, "rallies": rallies, "by": "sound", "looked_at": True}))


def candidates(from_us: int, frames: int = 60) -> BallCandidates:
    """The ball in all frames but every fourth, moving right by 5 px a frame; a second place in each."""
    uv, score = np.full((frames, 8, 2), np.nan), np.full((frames, 8), np.nan)
    uv[:, 0] = np.column_stack([100.0 + 5 * np.arange(frames), np.full(frames, 50.0)])
    uv[6, 0] = (900.0, 50.0)  # no ball goes so far in a frame
    uv[:, 1] = (10.0, 20.0)
    score[:, 0], score[:, 1] = np.where(np.arange(frames) % 4, 0.95, 0.4), 0.1
    return BallCandidates(from_us + np.arange(frames) * 33_333, uv, score, np.ones(frames, bool), "network")


def searched(library: Any, match_id: str, count: int, *, whole: bool) -> None:
    found = {span: candidates(span.from_us) for span in SPANS[:count]}
    stored = StoredBalls(match_id, model_mark("network"), count, found, whole=whole)
    stored.words, stored.lost = (
        {"f1": ["The ball was lost in 25% of the frames. Film in good light."]},
        {"f1": 0.25},
    )
    stored.write(library_layout.ball_file(library.folder, match_id))


def test_a_sample_is_offered_first_and_tells_before_all_rallies_are_searched(
    client: TestClient, library: Any, match_id: str, heard: None, begun: list[tuple[str, Any]]
) -> None:
    page = client.get(f"/matches/{match_id}/footage").text
    assert "See how well the ball can be seen" in page and "Search the ball in all rallies" not in page
    assert client.post(f"/matches/{match_id}/ball/sample").status_code == 303
    assert [(kind, len(args["spans"]), args["sample"]) for kind, args in begun] == [("ball-sample", 3, True)]
    searched(library, match_id, 3, whole=False)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "lost in 25% of the frames" in page and "Search the ball in all rallies" in page
    assert "Searched: 22 s of play. 1 of 4 rallies are not searched yet." in page
    client.post(f"/matches/{match_id}/ball/search")
    assert [kind for kind, _ in begun] == ["ball-sample", "ball"]
    searched(library, match_id, 4, whole=True)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "all 4 rallies." in page and "Search the" not in page


def test_without_rallies_or_video_the_next_step_is_said(
    client: TestClient, library: Any, match_id: str
) -> None:
    answer = client.post(f"/matches/{match_id}/ball/sample")
    assert answer.status_code == 200 and "This match has no video." in answer.text
    library.save_footage(Footage("f1", match_id, "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))
    assert "It needs rallies with a time" in client.get(f"/matches/{match_id}/footage").text
    assert "No rally has a time yet." in client.post(f"/matches/{match_id}/ball/search").text
    for wrong in ("remove", "x" * 3000):
        assert client.post(f"/matches/{match_id}/ball/{wrong}").status_code == 404
    assert client.post("/matches/nobody/ball/sample").status_code == 404


def test_a_damaged_file_counts_as_nothing_searched(
    client: TestClient, library: Any, match_id: str, heard: None
) -> None:
    path = library_layout.ball_file(library.folder, match_id)
    path.parent.mkdir()
    path.write_bytes(b"PK\x03\x04rubbish")
    assert "See how well the ball can be seen" in client.get(f"/matches/{match_id}/footage").text


def test_the_ball_in_the_picture_is_told_frame_by_frame(
    client: TestClient, library: Any, match_id: str, heard: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every fourth of 60 frames has no sure place: 15 lost; a frame after such a one begins a new stretch."""
    path = f"/api/matches/{match_id}/ball"
    assert "not searched yet" in client.get(path, params={"us": 3 * SECOND}).json()["words"]
    searched(library, match_id, 3, whole=False)
    monkeypatch.setattr(ball_overlay, "_size", lambda *_: (1000, 500))
    found = client.get(path, params={"us": 3 * SECOND}).json()
    assert (found["from_us"], len(found["frames"])) == (1_500_000, 60)
    assert found["words"] == "The ball is lost in 15 of 60 frames of this rally. Dashed: in doubt."
    assert found["frames"][2]["places"] == [[0.11, 0.1, 0.95], [0.01, 0.04, 0.1]]
    assert [frame["sure"] for frame in found["frames"][:5]] == [False, True, True, True, False]
    assert [frame["joined"] for frame in found["frames"][:8]] == [
        False, False, True, True, False, False, False, False,
    ]  # fmt: skip
    assert "Search the rest" in client.get(path, params={"us": 63 * SECOND}).json()["words"]
    searched(library, match_id, 4, whole=True)
    assert "in rallies only" in client.get(path, params={"us": 15 * SECOND}).json()["words"]
    assert "no video" in client.get(path, params={"us": 10**12}).json()["words"]
    for wrong in (-1, "x", 2**60):
        assert client.get(path, params={"us": wrong}).status_code == 422
