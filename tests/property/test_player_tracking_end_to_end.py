"""The whole way from a film to paths kept: drawn players followed, and a stop that leaves nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength.bench.footage.person_compositing import write_film
from goodlength.demo.film.frame_sequence import FrameRenderer
from goodlength.demo.play.court_camera import CAMERA
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.errors import Cancelled, InputError
from goodlength.footage.camera import CameraLog, CameraSpan, Click, calibrate_camera, court_marks
from goodlength.measure.players.match_tracking_job import track_from, track_job
from goodlength.scoring import Side

pytestmark = pytest.mark.slow
FIRST, LAST = 60, 240  # frames: the first rally begins at 4 s


@pytest.fixture(scope="module")
def pictures() -> FrameRenderer:
    return FrameRenderer(filmed_game(), CAMERA)


@pytest.fixture(scope="module")
def job(pictures: FrameRenderer, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    film = tmp_path_factory.mktemp("film") / "one.mp4"
    write_film(pictures.frame, range(FIRST, LAST), CAMERA, film)
    clicks = []
    for name, mark in court_marks().items():
        u, v, depth = CAMERA.see(*mark.at)
        if depth > 0 and 0 < u < CAMERA.width and 0 < v < CAMERA.height:
            clicks.append(Click(name, u, v))
    log = CameraLog((CameraSpan(calibrate_camera(clicks, CAMERA.width, CAMERA.height)),))
    films = [{"id": "f", "path": str(film), "cameras": log.to_json()}]
    spans = [{"key": "r1", "footage": "f", "from_us": 400_000, "until_us": 6_400_000}]
    return {"match": "m1", "films": films, "spans": spans}


def test_drawn_players_are_followed_from_film_to_file(
    job: dict[str, Any], pictures: FrameRenderer, tmp_path: Path
) -> None:
    told: list[float] = []
    to = tmp_path / "tracks.json"
    done = track_job(
        **job, to=str(to), progress=lambda share, _words: told.append(share), cancel=lambda: False
    )
    assert (done["rallies"], done["hidden"]) == (1, 0)
    assert told == sorted(told)
    track = track_from(json.loads(to.read_text())["rallies"][0])
    n = np.round(track.paths.times_s * 25).astype(int) + FIRST
    truth = np.stack([pictures.places[side][n] for side in Side], axis=1)
    straight, crossed = (
        np.linalg.norm(xy - truth, axis=2) for xy in (track.paths.xy, track.paths.xy[:, ::-1])
    )
    off = straight if straight.mean() < crossed.mean() else crossed
    assert np.median(off) < 0.15
    assert np.quantile(off, 0.9) < 0.35
    assert track.confirmed > 0.6


def test_a_stop_leaves_nothing(job: dict[str, Any], tmp_path: Path) -> None:
    to = tmp_path / "tracks.json"
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 20

    with pytest.raises(Cancelled):
        track_job(**job, to=str(to), progress=lambda _share, _words: None, cancel=stop)
    assert list(tmp_path.iterdir()) == []


def test_rallies_outside_every_camera_are_said(job: dict[str, Any], tmp_path: Path) -> None:
    elsewhere = [{**job["spans"][0], "footage": "other"}]
    with pytest.raises(InputError, match="No rally is in a video with a calibrated camera"):
        track_job(
            **{**job, "spans": elsewhere},
            to=str(tmp_path / "t.json"),
            progress=lambda *_: None,
            cancel=lambda: False,
        )
