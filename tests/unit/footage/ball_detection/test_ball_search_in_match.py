"""The ball searched rally by rally: stored after each, resumed, and told how well it can be seen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength.errors import Cancelled, InputError
from goodlength.footage.ball_detection import ball_search_in_match
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, StoredBalls, read_balls
from goodlength.footage.ball_detection.ball_loss_rate_and_cause_in_video import VideoQuality, ball_visibility
from goodlength.footage.ball_detection.ball_search_in_match import FilmToSearch, search_match

GOOD = VideoQuality(30.0, 1920, 1080, 0.1)
SPANS = [BallSpan(f"r:{n}", "f1", n * 1_000_000, (n + 1) * 1_000_000) for n in range(3)]


def found(best: float, second: float = 0.1, frames: int = 60, searched: int = 60) -> BallCandidates:
    """Frames with two candidates each, of such scores."""
    uv, score = np.full((frames, 8, 2), np.nan), np.full((frames, 8), np.nan)
    uv[:, 0], uv[:, 1] = (10.04, 20.0), (300.5, 20.0)
    score[:, 0], score[:, 1] = best, second
    return BallCandidates(np.arange(frames) * 33_333, uv, score, np.arange(frames) < searched, "network")


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What was searched, by begin; no video is read."""
    asked: list[int] = []

    def search(_path, from_us, _until_us, **_options) -> BallCandidates:
        asked.append(from_us)
        return found(0.95)

    monkeypatch.setattr(ball_search_in_match, "search_ball_in", search)
    monkeypatch.setattr(ball_search_in_match, "video_quality", lambda _path: GOOD)
    return asked


def test_what_was_written_is_read_again(tmp_path: Path) -> None:
    stored = StoredBalls("m1", "network-1", 2, {SPANS[0]: found(0.951), SPANS[1]: found(0.2, searched=0)})
    stored.words, stored.lost = {"f1": ["Well."]}, {"f1": None}
    stored.write(tmp_path / "balls" / "m1.npz")
    again = read_balls(tmp_path / "balls" / "m1.npz")
    assert again is not None
    assert (again.match, again.model, again.asked, again.words, again.lost) == (
        "m1", "network-1", 2, {"f1": ["Well."]}, {"f1": None},
    )  # fmt: skip
    assert list(again.spans) == SPANS[:2]
    first = again.spans[SPANS[0]]
    assert first.uv[3, 0] == pytest.approx([10.0, 20.0])
    assert first.score[3, :2] == pytest.approx([0.951, 0.1])
    assert np.isnan(first.uv[:, 2:]).all() and np.isnan(first.score[:, 2:]).all()
    assert not again.spans[SPANS[1]].searched.any()


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04rubbish", b"\x93NUMPY"])
def test_a_damaged_file_counts_as_nothing_found(tmp_path: Path, damage: bytes) -> None:
    path = tmp_path / "m1.npz"
    path.write_bytes(damage)
    assert read_balls(path) is None
    assert read_balls(tmp_path / "none.npz") is None


def test_a_file_with_a_changed_byte_counts_as_nothing_found_or_is_read(tmp_path: Path) -> None:
    path = tmp_path / "m1.npz"
    StoredBalls("m1", "network-1", 1, {SPANS[0]: found(0.9)}).write(path)
    sound = path.read_bytes()
    for at in range(0, len(sound), 3):
        path.write_bytes(sound[:at] + bytes([sound[at] ^ 0xFF]) + sound[at + 1 :])
        again = read_balls(path)
        assert again is None or again.match == "m1"


@pytest.mark.parametrize(
    "about",
    ['{"format": 1, "match": "m1", "model": "n", "asked": 1e999}', "[" * 100_000],
    ids=["endless", "deep"],
)
def test_a_file_that_says_what_cannot_be_counts_as_nothing_found(tmp_path: Path, about: str) -> None:
    path = tmp_path / "m1.npz"
    StoredBalls("m1", "network-1", 1, {SPANS[0]: found(0.9)}).write(path)
    with np.load(path) as archive:
        arrays = {name: archive[name] for name in archive.files}
    np.savez(path, **{**arrays, "about": np.array(about)})
    assert read_balls(path) is None


def test_a_file_whose_arrays_do_not_fit_counts_as_nothing_found(tmp_path: Path) -> None:
    path = tmp_path / "m1.npz"
    StoredBalls("m1", "network-1", 1, {SPANS[0]: found(0.9)}).write(path)
    with np.load(path) as archive:
        arrays = {name: archive[name] for name in archive.files}
    np.savez(path, **{**arrays, "score": arrays["score"][:5]})
    assert read_balls(path) is None


def test_a_search_goes_on_where_it_was_stopped(tmp_path: Path, searches: list[int]) -> None:
    films, to = [FilmToSearch("f1", "/one.mp4")], tmp_path / "m1.npz"
    with pytest.raises(Cancelled, match="rallies searched so far are saved"):
        search_match("m1", films, SPANS, to, cancel=lambda: len(searches) == 2)
    kept = read_balls(to)
    assert kept is not None and list(kept.spans) == SPANS[:2]
    done = search_match("m1", films, SPANS, to)
    assert searches == [0, 1_000_000, 2_000_000]
    assert list(done.spans) == SPANS
    assert list(search_match("m1", films, SPANS, to).spans) == SPANS
    assert len(searches) == 3


def test_another_method_searches_all_again(tmp_path: Path, searches: list[int]) -> None:
    films, to = [FilmToSearch("f1", "/one.mp4")], tmp_path / "m1.npz"
    search_match("m1", films, SPANS, to)
    search_match("m1", films, SPANS, to, method="differencing")
    assert len(searches) == 6


def test_progress_says_how_well_the_ball_is_seen_before_the_end(tmp_path: Path, searches: list[int]) -> None:
    said: list[str] = []
    long = [BallSpan(f"r:{n}", "f1", n * 12_000_000, (n + 1) * 12_000_000) for n in range(4)]
    search_match(
        "m1",
        [FilmToSearch("f1", "/one.mp4")],
        long,
        tmp_path / "m1.npz",
        progress=lambda _share, words: said.append(words),
    )
    assert said[0] == "rally 1 of 4"
    assert said[2].startswith("rally 3 of 4. The ball can be seen well")
    assert len(searches) == 4


def test_a_match_without_rallies_in_its_videos_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Detect the rallies or log them first"):
        search_match("m1", [FilmToSearch("f2", "/two.mp4")], SPANS, tmp_path / "m1.npz")


@pytest.mark.parametrize(
    ("best", "quality", "grade", "words"),
    [
        (0.95, GOOD, "well", "The ball can be seen well: it was lost in 0%"),
        (0.3, GOOD, "poorly", "The ball was not found in 100% of the frames. The shutter may be too slow"),
        (0.3, VideoQuality(30.0, 480, 270, 0.2), "poorly", "only 480 by 270 pixels, perhaps a copy sent by"),
        (0.3, VideoQuality(30.0, 1920, 1080, 0.01), "poorly", "The file is compressed so much"),
        (0.3, VideoQuality(15.0, 1920, 1080, 0.1), "poorly", "The frame rate is low"),
    ],
)
def test_the_reason_fits_the_video(best: float, quality: VideoQuality, grade: str, words: str) -> None:
    seen = ball_visibility([found(best)], quality)
    assert seen.grade == grade
    assert words in seen.words[0]


def test_a_ball_lost_in_part_is_told_with_its_share() -> None:
    seen = ball_visibility([found(0.95), found(0.2, frames=20, searched=20)], GOOD)
    assert (seen.grade, round(seen.lost, 2)) == ("partly", 0.25)
    assert seen.words[0].startswith("The ball was lost in 25% of the frames.")


def test_two_balls_and_uneven_frames_are_told() -> None:
    seen = ball_visibility([found(0.95, 0.9)], GOOD)
    assert "Another ball may be on the court" in seen.words[1]
    seen = ball_visibility([found(0.95, searched=54)], GOOD)
    assert seen.words[1].startswith("10% of the frames could not be searched")


def test_too_few_frames_and_frames_at_uneven_times_give_no_share() -> None:
    few = ball_visibility([found(0.95, frames=10, searched=10)], GOOD)
    assert few.grade == "unknown" and np.isnan(few.lost)
    uneven = ball_visibility([found(0.95, searched=3)], GOOD)
    assert uneven.grade == "unknown"
    assert "uneven times" in uneven.words[0]
