"""Cameras of a film through a knock: the saved one, the one found again, and rallies put together from both."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength.footage.camera import (
    CameraCalibration,
    CameraLog,
    CameraSpan,
    calibrate_camera,
    image_patches_of,
)
from goodlength.footage.court_detection.court_detection_in_image import marks_in_view
from goodlength.footage.vision.steady_view_spans import MOVED_WORDS, Steady
from goodlength.measure.players import match_tracking_job, moved_camera_recovery
from goodlength.measure.players.match_tracking_job import ReliableSpan, TrackSpan
from goodlength.measure.players.moved_camera_recovery import (
    FilmCameras,
    FilmToFollow,
    StandingCamera,
    empty_court_at,
)
from goodlength.measure.players.player_floor_detection import FrameDetections
from goodlength.measure.players.player_tracking import Detections
from oracles.drawn_court import camera_of, draw_spotted_court, write_court_video

KNOCK = np.array([0.012, -0.02, 0.008, 0.02, -0.01, 0.01, 0, 0, 0, 0, 0, 0])
CLICKED_US, BEFORE_US, AFTER_US = 300_000, 500_000, 1_500_000


@pytest.fixture(scope="module")
def saved() -> CameraCalibration:
    lens = camera_of()
    return calibrate_camera(marks_in_view(lens), lens.width, lens.height)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pictures = draw_spotted_court(camera_of()), draw_spotted_court(camera_of().moved(KNOCK))
    return write_court_video(tmp_path_factory.mktemp("knock") / "f.mp4", pictures[0], knocked=pictures[1])


@pytest.fixture(autouse=True)
def short_film(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(moved_camera_recovery, "EVERY_US", 100_000)


def cameras_of(
    saved: CameraCalibration, film: Path, clicked_us: tuple[int, ...] = (CLICKED_US,)
) -> FilmCameras:
    picture = np.ascontiguousarray(draw_spotted_court(camera_of())[:, :, ::-1])
    patches = image_patches_of(saved, picture)
    log = CameraLog((CameraSpan(saved),))
    court = empty_court_at(film, CLICKED_US)
    assert court is not None
    return FilmCameras(FilmToFollow("f", str(film), log, (patches,), clicked_us), (court,))


def test_after_a_knock_the_camera_is_found_again_and_used_from_there(
    saved: CameraCalibration, film: Path
) -> None:
    cameras = cameras_of(saved, film)
    first = cameras.at(BEFORE_US)
    assert first is not None and first.camera is saved
    assert cameras.standing_at(BEFORE_US) is first
    found = cameras.standing_at(AFTER_US)
    assert found is not None and found is not first
    spot = np.array([[3.2, 5.5, 0.0], [1.0, 8.0, 0.0]])
    truth = camera_of().moved(KNOCK).project(spot)[0]
    assert np.abs(saved.lens.project(spot)[0] - truth).max() > 5.0
    assert np.abs(found.camera.lens.project(spot)[0] - truth).max() < 1.0
    assert len(found.courts) == 1  # the empty court of the view before does not serve
    assert cameras.at(AFTER_US) is found
    assert cameras.standing_at(AFTER_US + 200_000) is found  # not solved anew
    assert cameras.standing_at(BEFORE_US) is first


def test_it_is_not_followed_where_the_view_of_the_marks_is_not_in_the_film(
    saved: CameraCalibration, film: Path
) -> None:
    assert cameras_of(saved, film, ()).standing_at(AFTER_US) is None
    assert cameras_of(saved, film, (AFTER_US,)).standing_at(AFTER_US) is None
    assert cameras_of(saved, film).standing_at(90_000_000) is None


def test_each_camera_goes_with_the_frame_its_own_marks_were_clicked_in(
    monkeypatch: pytest.MonkeyPatch, saved: CameraCalibration, film: Path
) -> None:
    """A second camera was compared with the frame of the first; one found again has no such frame."""
    log = CameraLog((CameraSpan(saved, 0, 1_000_000), CameraSpan(saved, 1_000_000)))
    patches = cameras_of(saved, film).film.patches
    cameras = FilmCameras(FilmToFollow("f", str(film), log, patches * 2, (BEFORE_US, AFTER_US)), ())
    handed = []

    def reliable(film: FilmToFollow, *_: Any) -> Any:
        handed.append(film.clicked_us)
        return ReliableSpan(np.arange(3))

    monkeypatch.setattr(match_tracking_job, "reliable_span", reliable)
    seen = detections(np.arange(3.0)), (), Steady((np.arange(3),), "", 1)
    monkeypatch.setattr(match_tracking_job, "detect_players", lambda *_: seen)
    for span in (TrackSpan("r1", "f", 0, 900_000), TrackSpan("r2", "f", 1_100_000, 1_900_000)):
        match_tracking_job.watch_rally(cameras, span, None)
    assert handed == [(BEFORE_US,), (AFTER_US,)]
    found = cameras_of(saved, film).standing_at(AFTER_US)
    assert found is not None and found.clicked_us is None


def detections(times_s: np.ndarray) -> Detections:
    n = len(times_s)
    full = np.ones((n, 2))
    place = np.zeros((n, 2, 2)) + times_s[:, None, None]
    alike = np.zeros((n, 2, 2)) > 0
    return Detections(
        times_s, place, 0.1 * full, np.full((n, 2, 2), 0.5), full > 0, alike, np.ones((n, 2, 12))
    )


class Cameras:
    """Stands as clicked up to a moment, and elsewhere after it."""

    def __init__(self, film: Path, until_us: int, after: StandingCamera | None) -> None:
        log = CameraLog((CameraSpan(CAMERA),))  # type: ignore[arg-type]
        self.film = FilmToFollow("f", str(film), log)
        self.first, self.until_us, self.after = StandingCamera(CAMERA, (), ()), until_us, after  # type: ignore[arg-type]

    def at(self, _us: int) -> StandingCamera:
        return self.first

    def standing_at(self, us: int) -> StandingCamera | None:
        return self.first if us < self.until_us else self.after


CAMERA, OTHER = object(), object()
SPAN = TrackSpan("r", "f", 0, 8_000_000)


def rally(monkeypatch: pytest.MonkeyPatch, film: Path, gap: int, after: StandingCamera | None) -> Any:
    """A rally of 100 pictures, knocked after 50; `gap` pictures show nothing that holds."""
    asked = []

    def detect(_path: Any, from_us: int, until_us: int, camera: Any, *_: Any) -> Any:
        times = np.arange(100) * 0.08
        asked.append((camera, from_us, until_us))
        times = times[(times * 1e6 >= from_us) & (times * 1e6 < until_us)]
        n = len(times)
        parts = (np.arange(n),) if camera is OTHER else (np.arange(50), np.arange(50 + gap, 100))
        looks = tuple(FrameDetections(float(t), ()) for t in times[::10])
        return detections(times), looks, Steady(parts, "" if camera is OTHER else MOVED_WORDS, 2)

    monkeypatch.setattr(match_tracking_job, "detect_players", detect)
    return match_tracking_job.watch_rally(Cameras(film, 4_000_000, after), SPAN, None), asked  # type: ignore[arg-type]


def hide(monkeypatch: pytest.MonkeyPatch, until_us: int) -> None:
    def moved(_film: object, _span: object, at_us: int, _camera: object, *, must_tell: bool) -> str:
        return "" if at_us < until_us else "the camera was moved after its marks were clicked"

    monkeypatch.setattr(match_tracking_job, "_moved", moved)


def test_a_rally_with_a_knock_is_put_together_from_both_views(
    monkeypatch: pytest.MonkeyPatch, film: Path
) -> None:
    hide(monkeypatch, 4_000_000)
    found, asked = rally(monkeypatch, film, 4, StandingCamera(OTHER, (), ()))  # type: ignore[arg-type]
    assert (found.hidden, found.partial) == ("", "")
    assert len(found.seen.times_s) == 96 and (np.diff(found.seen.times_s) > 0).all()
    assert [camera for _, camera in found.looks] == [CAMERA, OTHER]
    assert asked[1][:2] == (OTHER, 4_320_000)


def test_where_the_camera_is_not_found_again_the_part_before_stays_and_says_so(
    monkeypatch: pytest.MonkeyPatch, film: Path
) -> None:
    hide(monkeypatch, 4_000_000)
    found, _ = rally(monkeypatch, film, 4, None)
    assert (found.hidden, found.partial, len(found.seen.times_s)) == ("", MOVED_WORDS, 50)


def test_parts_too_far_apart_are_not_joined(monkeypatch: pytest.MonkeyPatch, film: Path) -> None:
    hide(monkeypatch, 4_000_000)
    known = Cameras.standing_at
    monkeypatch.setattr(
        Cameras, "standing_at", lambda self, us: None if 4_000_000 <= us < 5_600_000 else known(self, us)
    )
    found, _ = rally(monkeypatch, film, 20, StandingCamera(OTHER, (), ()))  # type: ignore[arg-type]
    assert (found.partial, len(found.seen.times_s)) == (MOVED_WORDS, 50)


def test_a_rally_after_the_knock_is_followed_by_the_camera_found_again(
    monkeypatch: pytest.MonkeyPatch, film: Path
) -> None:
    hide(monkeypatch, -1)
    found, _ = rally(monkeypatch, film, 0, StandingCamera(OTHER, (), ()))  # type: ignore[arg-type]
    assert found.hidden == "" and len(found.seen.times_s) == 100


def test_pictures_that_differ_everywhere_may_be_seen_from_elsewhere(
    monkeypatch: pytest.MonkeyPatch, film: Path
) -> None:
    """A shifted view differs from the empty court as if somebody stood in front: no steady part holds it."""
    hide(monkeypatch, 4_000_000)
    found, asked = rally(monkeypatch, film, 50, StandingCamera(OTHER, (), ()))  # type: ignore[arg-type]
    assert (found.hidden, found.partial, len(found.seen.times_s)) == ("", "", 100)
    assert asked[1][:2] == (OTHER, 4_000_000)


def test_pictures_with_somebody_in_front_stay_out_where_the_camera_stands_as_before(
    monkeypatch: pytest.MonkeyPatch, film: Path
) -> None:
    hide(monkeypatch, 9_000_000)
    monkeypatch.setattr(Cameras, "standing_at", lambda self, _us: self.first)
    found, asked = rally(monkeypatch, film, 50, None)
    assert (found.partial, len(found.seen.times_s), len(asked)) == (MOVED_WORDS, 50, 1)
