"""The judging of followed players: errors, swaps and ways come out as put in; walkers cut out and pasted."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.bench.footage.person_compositing import Pasted, Walker, write_film
from goodlength.bench.footage.tracking_pose_and_face_hiding_accuracy import (
    CAMERA,
    changed_near,
    judge_rally,
    solved_camera,
    with_knock,
)
from goodlength.demo.film.court_background import empty_court
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.footage.camera import Drift, drift_by_patches, image_patches_of
from goodlength.footage.media.video_probe import probe
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack
from goodlength.scoring import Side

N = 250


@pytest.fixture
def truth() -> dict[Side, np.ndarray]:
    t = np.linspace(0, 1, N)
    item = np.column_stack([1.0 + 4.0 * t, np.full(N, 4.0)])
    two = np.column_stack([5.0 - 4.0 * t, np.full(N, 7.0)])
    return {Side.A: item, Side.B: two}


def track(truth: dict[Side, np.ndarray], off_m: float = 0.1, swap_at: int | None = None) -> RallyTrack:
    times = np.arange(0, N, 2) / 25.0
    n = np.round(times * 25).astype(int)
    xy = np.stack([truth[Side.A][n], truth[Side.B][n]], axis=1) + np.array([0.0, off_m])
    if swap_at is not None:
        xy[swap_at:] = xy[swap_at:, ::-1]
    full = np.ones((len(n), 2))
    paths = Tracks(times, xy, 0.2 * full, full > 0, full > 0, np.ones((2, 12)), np.ones(12), 1.0)
    return RallyTrack("r", paths, 1.0)


def test_errors_come_out_as_put_in_whoever_is_first(truth: dict[Side, np.ndarray]) -> None:
    for item in (track(truth), track({Side.A: truth[Side.B], Side.B: truth[Side.A]})):
        off, swapped, ways = judge_rally(item, truth)
        assert off == pytest.approx(0.1)
        assert not swapped
        assert ways == pytest.approx([1.0, 1.0], abs=0.02)


def test_a_swap_on_the_way_is_counted(truth: dict[Side, np.ndarray]) -> None:
    off, swapped, _ = judge_rally(track(truth, swap_at=80), truth)
    assert swapped
    assert np.quantile(off, 0.95) > 1.0


def test_a_camera_knocked_after_its_marks_were_clicked_is_noticed() -> None:
    rng = np.random.default_rng(1)
    now = empty_court(CAMERA).copy()
    camera, patches = with_knock(rng)
    assert drift_by_patches(camera, patches, now).state is Drift.MOVED
    still = solved_camera(rng)
    assert drift_by_patches(still, image_patches_of(still, now), now).state is Drift.STILL


def test_a_changed_pixel_close_by_counts_as_covered() -> None:
    changed = np.zeros((20, 20), dtype=bool)
    changed[5, 5] = True
    assert changed_near(changed, 5.6, 5.6)
    assert not changed_near(changed, 12.0, 12.0)
    assert changed_near(changed, -3.0, 5.0)


def test_walkers_are_pasted_at_their_places_and_filmed(tmp_path: object) -> None:
    from pathlib import Path

    cut = np.zeros((60, 20, 4), np.uint8)
    cut[..., 2], cut[..., 3] = 250, 255
    walker = Walker((cut,) * 3)
    pasted = Pasted(filmed_game(), CAMERA, walker, walker, np.random.default_rng(0))
    picture = pasted.frame(500)
    for side in Side:
        x, y = pasted.pictures.places[side][500]
        u, v, _ = CAMERA.see(float(x), float(y), 0.9)
        assert picture[round(v), round(u), 2] > 200
        head_u, head_v, radius = pasted.head(side, 500)
        assert head_v < v and radius > 5 and head_u == pytest.approx(u, abs=8)
    film = Path(str(tmp_path)) / "pasted.mp4"
    write_film(lambda _: picture, range(3), CAMERA, film)
    assert probe(film).frames == 3
