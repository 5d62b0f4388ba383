"""The ball in frames drawn by code: patches, candidates, windows by time, and a coded video read from the file."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from goodlength.errors import Cancelled, FootageError, InputError
from goodlength.footage.ball_detection.ball_candidate_selection import (
    SURE_SCORE,
    BallCandidates,
    best_candidates,
)
from goodlength.footage.ball_detection.ball_patch_network import network_candidates
from goodlength.footage.ball_detection.ball_search_in_video_span import search_ball_in, windows_of
from goodlength.footage.ball_detection.candidate_temporal_support import with_support
from goodlength.footage.ball_detection.frame_differencing_candidates import differencing_candidates
from goodlength.footage.ball_detection.moving_patch_extraction import (
    PATCH_PX,
    chosen_blocks,
    moving_patches,
    standing_out,
    window_indices,
)

HIGH, WIDE, RADIUS = 180, 320, 3.0
METHODS = [network_candidates, differencing_candidates]


def disc(frame: np.ndarray, u: float, v: float, level: float = 25.0, radius: float = RADIUS) -> None:
    """Draw a disc with a soft edge."""
    rows, columns = np.mgrid[: frame.shape[0], : frame.shape[1]] + 0.5
    cover = np.clip(radius - np.hypot(columns - u, rows - v) + 0.5, 0, 1)
    frame += cover * (level - frame)


def frames_with(places: list[tuple[float, float]], seed: int = 1, noise: float = 2.0) -> list[np.ndarray]:
    """A still, grey, slightly noisy picture with a dark disc at the place of each frame."""
    rng = np.random.default_rng(seed)
    still = 120 + 30 * np.sin(np.arange(WIDE) / 40.0)[None, :] + np.zeros((HIGH, WIDE))
    out = []
    for place in places:
        frame = still.copy()
        disc(frame, *place)
        out.append(np.clip(frame + rng.normal(0, noise, frame.shape), 0, 255).astype(np.uint8))
    return out


@pytest.mark.parametrize("find", METHODS)
def test_a_moving_disc_is_the_first_candidate(find) -> None:
    a, b, c, d, e = frames_with([(120 + 18 * k, 60 + 9 * k) for k in range(5)])
    uv, score = find((a, b, c, d, e))
    assert np.hypot(*(uv[0] - (156, 78))) < 2.0
    assert score[0] == np.nanmax(score)


@pytest.mark.parametrize("find", METHODS)
def test_a_still_picture_has_no_candidate(find) -> None:
    frame = frames_with([(100.0, 100.0)], noise=0.0)[0]
    uv, score = find((frame, frame, frame, frame, frame))
    assert np.isnan(uv).all() and np.isnan(score).all()


def test_a_body_that_passes_stands_out_less_than_a_ball() -> None:
    """The edge of a broad thing lies between what was there before and after."""
    bodies = []
    for k in range(5):
        frame = np.full((HIGH, WIDE), 150.0)
        frame[40:160, 60 + 12 * k : 120 + 12 * k] = 60.0
        disc(frame, 250, 40 + 12 * k, 60.0)
        bodies.append(frame.astype(np.uint8))
    a, b, c, d, e = bodies
    spots = standing_out((a, b, c, d, e))
    assert spots[40:160, 50:180].max() == 0
    assert spots[64, 250] > 30
    corner = moving_patches((a, b, c, d, e)).tolist()[0]
    assert corner[0] + 8 <= 64 < corner[0] + 56 and corner[1] + 8 <= 250 < corner[1] + 56


def test_a_faint_ball_where_all_is_still_comes_before_a_restless_place() -> None:
    """A codec leaves two levels of a ball; people behind it change by forty from frame to frame."""
    rng = np.random.default_rng(7)
    frames = [np.full((HIGH, WIDE), 150, np.uint8) for _ in range(5)]
    for k, frame in enumerate(frames):
        frame[120:, 150:] = 150 + rng.integers(-20, 20, frame[120:, 150:].shape)
        frame[38:43, 40 + 14 * k : 45 + 14 * k] -= 3
    a, b, c, d, e = frames
    first = moving_patches((a, b, c, d, e))[:8]
    assert ((first[:, 0] + 8 <= 40) & (first[:, 1] + 8 <= 70) & (first[:, 1] + 56 > 70)).any()


def test_neighbours_are_chosen_by_time_and_gaps_are_left_out() -> None:
    steps = np.array([40_000] * 8 + [400_000] + [40_000] * 8)
    times = np.concatenate([[0], np.cumsum(steps)])
    windows = window_indices(times)
    assert windows[4].tolist() == [2, 3, 4, 5, 6]
    for k in (0, 1, 7, 8, 9, 10, 16, 17):  # at the ends and beside the gap
        assert windows[k].tolist() == [-1] * 5
    wavering = np.cumsum(np.random.default_rng(4).choice([16_667, 33_333], 60))
    found = window_indices(wavering)
    assert (np.diff(found[found[:, 0] >= 0], axis=1) > 0).all()
    assert window_indices(np.arange(3)).tolist() == [[-1] * 5] * 3


def test_no_block_is_chosen_beside_another() -> None:
    strength = np.zeros((6, 8), np.uint8)
    strength[2, 2:5] = (9, 8, 7)
    strength[5, 7] = 3
    assert chosen_blocks(strength, 5, 2).tolist() == [[2, 2], [2, 4], [5, 7]]
    assert chosen_blocks(strength, 1, 2).tolist() == [[2, 2]]


def test_the_best_of_many_places_are_kept_in_order() -> None:
    uv, score = best_candidates(np.array([[9.0, 9.0], [9.0, 12.0], [50.0, 9.0]]), np.array([0.2, 0.4, 0.3]))
    assert uv[:2].tolist() == [[9.0, 12.0], [50.0, 9.0]]
    assert score[:2].tolist() == [0.4, 0.3]
    assert np.isnan(uv[2:]).all() and np.isnan(score[2:]).all()


def candidates(rows: list[list[tuple[float, float, float]]], step_us: int = 33_333) -> BallCandidates:
    """Candidates (u, v, score) by frame."""
    uv, score = np.full((len(rows), 8, 2), np.nan), np.full((len(rows), 8), np.nan)
    for i, row in enumerate(rows):
        for j, (u, v, value) in enumerate(row):
            uv[i, j], score[i, j] = (u, v), value
    return BallCandidates(np.arange(len(rows)) * step_us, uv, score, np.ones(len(rows), bool), "network")


def test_a_path_puts_the_ball_before_a_brighter_glint() -> None:
    rows = [[(300.0, 20.0 + 90 * (i % 2), 0.6), (20 + 15.0 * i, 50.0, 0.5)] for i in range(6)]
    found = with_support(candidates(rows))
    assert found.uv[2:4, 0].tolist() == [[50.0, 50.0], [65.0, 50.0]]
    assert (found.score[2:4, 0] > 0.5).all()
    assert found.uv[2, 1].tolist() == [300.0, 20.0]
    assert found.score[2, 1] < 0.6


def test_a_frame_in_which_nothing_was_found_gets_the_place_of_the_path() -> None:
    rows = [[] if i == 3 else [(20 + 15.0 * i, 50.0, 0.9)] for i in range(7)]
    found = with_support(candidates(rows))
    assert found.uv[3, 0] == pytest.approx([65.0, 50.0])
    assert 0.3 < found.score[3, 0] < SURE_SCORE, "nobody saw it there"
    assert (np.nan_to_num(found.score[1:6, 0]) >= SURE_SCORE).sum() == 4
    lone = candidates(rows)
    lone.searched[3] = False
    assert np.isnan(with_support(lone).score[3]).all(), "a frame that was not searched stays empty"


def test_what_stands_still_makes_no_path() -> None:
    rows = [[] if i == 3 else [(20.0, 50.0, 0.9)] for i in range(7)]
    assert np.isnan(with_support(candidates(rows)).score[3]).all()


def test_support_needs_frames_that_follow_each_other() -> None:
    rows = [[(20 + 15.0 * i, 50.0, 0.5)] for i in range(3)]
    near, far = with_support(candidates(rows)), with_support(candidates(rows, 400_000))
    assert near.score[1, 0] > far.score[1, 0]
    assert len(with_support(candidates([]))) == 0


def numbered(times: list[int]) -> Iterator[tuple[int, np.ndarray, float]]:
    for k, us in enumerate(times):
        yield us, np.full((PATCH_PX, PATCH_PX), k, np.uint8), 1.0


def test_windows_hold_the_frames_around_and_only_those_of_the_span() -> None:
    times = [k * 40_000 for k in range(20)]
    found = list(windows_of(numbered(times), 200_000, 320_000))
    assert [us for us, _, _ in found] == [200_000, 240_000, 280_000]
    assert [[int(frame[0, 0]) for frame in window or ()] for _, window, _ in found] == [
        [3, 4, 5, 6, 7], [4, 5, 6, 7, 8], [5, 6, 7, 8, 9],
    ]  # fmt: skip
    late = list(windows_of(numbered(times), 0, 10_000_000))
    assert len(late) == 20
    assert [window is None for _, window, _ in late] == [True] * 2 + [False] * 16 + [True] * 2


def test_a_frame_of_another_size_ends_no_search() -> None:
    def changing() -> Iterator[tuple[int, np.ndarray, float]]:
        for k in range(12):
            side = PATCH_PX if k < 6 else 2 * PATCH_PX
            yield k * 40_000, np.zeros((side, side), np.uint8), 1.0

    seen = [window is not None for _, window, _ in windows_of(changing(), 0, 10_000_000)]
    assert seen == [False, False, True, True, False, False, False, False, True, True, False, False]


@pytest.fixture(scope="module")
def video(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Half a second at 30 frames a second in which a dark disc flies from left to right."""
    path = tmp_path_factory.mktemp("ball") / "ball.mp4"
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=30, options={"crf": "18", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDE, HIGH, "yuv420p"
        for k, grey in enumerate(frames_with([(20 + 18.0 * k, 40 + 6.0 * k) for k in range(15)])):
            frame = av.VideoFrame.from_ndarray(np.repeat(grey[:, :, None], 3, axis=2), "rgb24")
            frame.pts, frame.time_base = k, Fraction(1, 30)
            file.mux(stream.encode(frame))
        file.mux(stream.encode())
    return path


@pytest.mark.parametrize("method", ["network", "differencing"])
def test_the_ball_is_found_in_a_coded_video(video: Path, method: str) -> None:
    found = search_ball_in(video, 100_000, 400_000, method=method)
    assert found.method == method
    assert found.times_us.tolist() == [round(k * 1e6 / 30) for k in range(3, 12)]
    assert found.searched.all()
    k = np.arange(3, 12)
    away = np.hypot(found.uv[:, 0, 0] - (20 + 18 * k), found.uv[:, 0, 1] - (40 + 6 * k))
    assert (away < 2.0).all(), away


def test_frames_with_a_large_ball_are_searched_smaller_and_places_are_of_the_original(video: Path) -> None:
    found = search_ball_in(video, 200_000, 234_000, ball_px=12.0)
    assert len(found) == 2
    assert np.hypot(*(found.uv[0, 0] - (20 + 18 * 6, 40 + 6 * 6))) < 3.0


def test_the_ends_of_a_video_have_no_neighbours(video: Path) -> None:
    found = search_ball_in(video, 0, 10_000_000)
    assert len(found) == 15
    assert np.flatnonzero(~found.searched).tolist() == [0, 1, 13, 14]


def test_what_cannot_be_searched_is_refused_in_words(video: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="network or differencing; got 'magic'"):
        search_ball_in(video, 0, 1, method="magic")
    with pytest.raises(Cancelled, match="was stopped"):
        search_ball_in(video, 0, 400_000, cancel=lambda: True)
    small = tmp_path / "small.mp4"
    with av.open(str(small), "w") as file:
        stream = file.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(3):
            file.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), "rgb24")))
        file.mux(stream.encode())
    with pytest.raises(FootageError, match="only 64 by 48 pixels: too small"):
        search_ball_in(small, 0, 50_000)
