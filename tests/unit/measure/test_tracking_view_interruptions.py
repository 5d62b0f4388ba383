"""Which pictures of a rally are followed where the view of the court did not hold."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from goodlength.footage.camera import CameraLog, CameraSpan, Drift, DriftCheck
from goodlength.footage.vision.steady_view_spans import MOVED_WORDS, Steady
from goodlength.measure.players import match_tracking_job
from goodlength.measure.players.match_tracking_job import TrackSpan, track_form, track_from
from goodlength.measure.players.moved_camera_recovery import FilmToFollow
from goodlength.measure.players.player_tracking import Detections
from goodlength.measure.players.track_identity_and_movement import identify_tracks

N = 100
SPAN = TrackSpan("r", "f", 0, 8_000_000)


@pytest.fixture
def watched() -> Detections:
    place = np.stack([np.linspace((1.0, 7.0), (5.0, 8.0), N), np.linspace((5.0, 5.0), (2.0, 6.0), N)], axis=1)
    full = np.ones((N, 2))
    return Detections(
        np.arange(N) * 0.08,
        place,
        0.1 * full,
        np.full((N, 2, 2), 0.5),
        full > 0,
        np.zeros((N, 2, 2), dtype=bool),
        np.full((N, 2, 12), 100.0),
    )


def held(watched: Detections, steady: Steady, monkeypatch: pytest.MonkeyPatch, good_until_us: int) -> Any:
    """With a camera that stands where it was solved up to a moment."""

    def moved(_film: object, _span: object, at_us: int, _camera: object, *, must_tell: bool) -> str:
        assert must_tell is (steady.places > 1)
        return "" if at_us <= good_until_us else "the camera was moved after its marks were clicked"

    monkeypatch.setattr(match_tracking_job, "_moved", moved)
    return match_tracking_job.reliable_span(None, SPAN, None, watched, steady)  # type: ignore[arg-type]


def test_the_part_before_a_knock_is_followed_though_the_other_is_longer(
    watched: Detections, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, after = np.arange(0, 50), np.arange(50, 100)
    found = held(watched, Steady((after, before), MOVED_WORDS, 2), monkeypatch, 4_000_000)
    assert (found.pictures.tolist(), found.hidden, found.partial) == (before.tolist(), "", MOVED_WORDS)
    part = watched.part(found.pictures)
    (track,), _ = identify_tracks([("r", part)])
    assert track.paths.times_s[-1] == pytest.approx(3.92)


def test_a_rally_with_less_than_half_of_it_left_is_hidden(
    watched: Detections, monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = (np.arange(60, 100), np.arange(0, 30))
    found = held(watched, Steady(parts, "the light was off during it", 1), monkeypatch, 9_000_000)
    assert found.hidden == "the light was off during it"


def test_a_rally_filmed_after_the_knock_is_hidden_with_that_reason(
    watched: Detections, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = held(watched, Steady((np.arange(N),), "", 1), monkeypatch, -1)
    assert found.hidden == "the camera was moved after its marks were clicked"


def test_a_rally_short_of_a_few_pictures_counts_as_whole_and_is_kept_so(
    watched: Detections, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = held(watched, Steady((np.delete(np.arange(N), range(40, 46)),), "x", 1), monkeypatch, 9_000_000)
    assert (found.hidden, found.partial, len(found.pictures)) == ("", "", N - 6)
    (track,), _ = identify_tracks([("r", watched.part(found.pictures))])
    form = track_form(track, SPAN)
    assert track_from(form).partial == ""
    form["partial"] = MOVED_WORDS
    assert track_from(form).partial == MOVED_WORDS
    del form["partial"]
    assert track_from(form).partial == ""


@pytest.mark.parametrize(
    ("off_m", "reason"),
    [(0.02, ""), (0.12, match_tracking_job.MOVED_SINCE_WORDS), (None, match_tracking_job.UNKNOWN_WORDS)],
)
def test_where_marks_tell_nothing_all_fixed_points_are_asked(
    watched: Detections, monkeypatch: pytest.MonkeyPatch, off_m: float | None, reason: str
) -> None:
    """Before, a rally was shown as if the camera stood still whenever too few marks were found again."""
    cannot = DriftCheck(Drift.CANNOT_TELL, np.nan, np.nan, np.nan, (), ())
    monkeypatch.setattr(match_tracking_job, "drift_by_patches", lambda *_: cannot)
    monkeypatch.setattr(match_tracking_job, "floor_drift_m", lambda *_: off_m)
    monkeypatch.setattr(match_tracking_job, "_frame", lambda *_: np.zeros((4, 4, 3), np.uint8))
    camera: Any = SimpleNamespace(lens=None)
    film = FilmToFollow("f", "f.mp4", CameraLog((CameraSpan(camera),)), ((object(),),), (0,))  # type: ignore[arg-type]
    found = match_tracking_job.reliable_span(film, SPAN, camera, watched, Steady((np.arange(N),), "", 1))
    assert found.hidden == reason
