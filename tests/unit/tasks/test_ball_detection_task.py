"""The ball detected in a match: which spans are searched, what is shown, and what is missing is refused."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.errors import InputError
from goodlength.files.library_layout import ball_file
from goodlength.footage.ball_detection import ball_search_in_match
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.ball_detection.ball_loss_rate_and_cause_in_video import VideoQuality
from goodlength.record.model import Footage
from goodlength.record.store import Library
from goodlength.tasks.ball import ball_detection
from goodlength.tasks.footage import camera_calibration

SECOND = 1_000_000


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as made:
        for player in ("a", "b"):
            tasks.add_player(made, f"Player {player.upper()}", player_id=player)
        tasks.new_match(made, ("a", "b"), match_id="m1")
        yield made


def heard(library: Library, count: int = 3) -> None:
    """Add a video with rallies of six seconds, detected at 2, 22, 42 s."""
    video = library.folder.parent / "one.mp4"
    video.touch()
    library.save_footage(Footage("f1", "m1", str(video), 0, first_us=0, end_us=100 * SECOND))
    films = [{"id": "f1", "path": str(video), "starts_us": 0, "first_us": 0, "end_us": 100 * SECOND}]
    rallies = [
        {"start_us": (20 * n + 2) * SECOND, "end_us": (20 * n + 8) * SECOND,
         "hits_us": [(20 * n + 2) * SECOND], "doubtful": False, "why": ""}
        for n in range(count)
    ]  # fmt: skip
    (library.folder / "heard").mkdir()
    (library.folder / "heard" / "m1.json").write_text(json.dumps({"films": films, "rallies": rallies}))


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int, float | None]]:
    asked: list[tuple[int, int, float | None]] = []

    def search(_path, from_us, until_us, *, method, ball_px, cancel) -> BallCandidates:
        asked.append((from_us, until_us, ball_px))
        uv, score = np.full((60, 8, 2), np.nan), np.full((60, 8), np.nan)
        uv[:, 0], score[:, 0] = (100.0, 50.0), np.where(np.arange(60) < 45, 0.9, 0.3)
        return BallCandidates(from_us + np.arange(60) * 33_333, uv, score, np.ones(60, bool), method)

    monkeypatch.setattr(camera_calibration, "camera_at", lambda *_: None)
    monkeypatch.setattr(ball_search_in_match, "search_ball_in", search)
    monkeypatch.setattr(
        ball_search_in_match, "video_quality", lambda _path: VideoQuality(30.0, 1920, 1080, 0.1)
    )
    return asked


def run(library: Library, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=["--library", str(library.folder), "footage", "ball", "m1", *words])
    except SystemExit as left:
        code = int(left.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_every_rally_is_searched_with_a_little_around_it(library, searches, capsys) -> None:
    heard(library)
    code, out, _ = run(library, capsys)
    assert code == 0
    assert searches == [(int((20 * n + 1.5) * SECOND), (20 * n + 9) * SECOND, None) for n in range(3)]
    assert "f1: The ball was lost in 25% of the frames." in out
    assert out.count("ball found in 45 of 60 frames") == 3
    assert ball_file(library.folder, "m1").exists()
    run(library, capsys)
    assert len(searches) == 3
    run(library, capsys, "--again")
    assert len(searches) == 6


def test_a_quick_look_stops_after_some_play_and_says_what_is_missing(library, searches, capsys) -> None:
    heard(library, 5)
    _, out, _ = run(library, capsys, "--quick")
    assert len(searches) == 3  # 7.5 s each: 20 s are reached with the third
    assert "2 rallies are not searched yet." in out
    run(library, capsys)
    assert len(searches) == 5


def test_the_json_holds_candidates_by_frame(library, searches, capsys) -> None:
    heard(library, 1)
    _, out, _ = run(library, capsys, "--json")
    form = json.loads(out)
    assert (form["match"], form["method"], form["missing"]) == ("m1", "network", 0)
    assert form["videos"][0]["lost"] == 0.25
    rally = form["rallies"][0]
    assert (rally["rally"], rally["video"], rally["frames"], rally["found"]) == (None, "f1", 60, 45)
    assert rally["candidates"][0] == {"t_s": 1.5, "candidates": [[100.0, 50.0, 0.9]]}


def test_a_search_without_the_model_does_not_say_how_well_the_ball_is_seen(library, searches, capsys) -> None:
    heard(library, 1)
    _, out, _ = run(library, capsys, "--method", "differencing")
    assert "known only from a search with the model" in out
    assert "60 frames searched" in out and "ball found" not in out
    form = json.loads(run(library, capsys, "--method", "differencing", "--json")[1])
    assert form["method"] == "differencing"
    assert form["videos"][0]["lost"] is None and form["rallies"][0]["found"] is None


def test_without_video_or_rallies_the_next_step_is_told(library, searches, capsys) -> None:
    code, _, err = run(library, capsys)
    assert code == 1 and "This match has no video." in err
    library.save_footage(Footage("f1", "m1", "/one.mp4", 0, first_us=0, end_us=100 * SECOND))
    code, _, err = run(library, capsys)
    assert code == 1 and "No rally has a time yet." in err
    opened = tasks.open_match(library, "m1")
    with pytest.raises(InputError):
        ball_detection.detect_ball(opened)
    assert ball_detection.detected_balls(opened).rallies == ()


def test_a_missing_video_is_refused_in_words(library, capsys) -> None:
    heard(library, 1)
    (library.folder.parent / "one.mp4").unlink()
    code, _, err = run(library, capsys)
    assert code == 1
    assert "one.mp4" in err
    assert "Traceback" not in err


def test_removing_the_match_removes_what_was_found(library, searches, capsys) -> None:
    heard(library, 1)
    run(library, capsys)
    tasks.remove_match(library, "m1")
    assert not ball_file(library.folder, "m1").exists()


def test_the_width_of_the_ball_comes_from_the_camera(library, searches, monkeypatch, capsys) -> None:
    """Eight metres from the middle of the court a ball of 4 cm is 5 px wide at a focal length of 1000 px."""
    heard(library, 1)
    lens = SimpleNamespace(focal_px=1000.0, place_m=np.array([3.2, 4.875 + 8.0, 1.0]))
    saved = SimpleNamespace(camera=SimpleNamespace(lens=lens))
    monkeypatch.setattr(camera_calibration, "camera_at", lambda *_: saved)
    run(library, capsys)
    assert searches[0][2] == pytest.approx(5.0)
