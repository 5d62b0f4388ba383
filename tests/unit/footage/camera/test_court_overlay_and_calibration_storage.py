"""The court over the picture, what is kept of a camera, and which camera holds when."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from goodlength.court import CourtSurface, to_sheet, unfolded
from goodlength.errors import CalibrationError, InputError
from goodlength.footage.camera import (
    CameraCalibration,
    CameraLog,
    CameraSpan,
    calibrate_camera,
    camera_from_json,
    camera_to_json,
    court_over,
)
from goodlength.footage.camera.court_overlay import folded_up, subdivided
from goodlength.synthetic.simulated_camera_clicks import SETTINGS, real_camera, real_clicks


def camera_of(seed: int, wide: bool = False, **left: Any) -> CameraCalibration:
    setting = SETTINGS[1 if wide else 0]
    rng = np.random.default_rng(seed)
    return calibrate_camera(real_clicks(rng, real_camera(rng, setting), setting), 1920, 1080, **left)


def test_folding_up_undoes_the_sheet() -> None:
    for shape in unfolded().shapes:
        for u, v in shape.points:
            assert to_sheet(shape.surface, *folded_up(shape.surface, u, v)) == pytest.approx((u, v))


def test_every_line_in_view_is_drawn_in_the_picture_or_just_beyond_it() -> None:
    strokes = court_over(camera_of(1))
    names = {stroke.name for stroke in strokes}
    assert {"short line", "half-court line", "left box", "tin", "service line", "front out line"} <= names
    for stroke in strokes:
        uv = np.array(stroke.uv)
        assert len(uv) > 1 and np.isfinite(uv).all()
        assert (uv >= [-96.1, -54.1]).all() and (uv <= [2016.1, 1134.1]).all()
    assert {stroke.what for stroke in strokes} == {"line", "tin", "fold"}


def test_a_line_drawn_passes_through_its_marks() -> None:
    real = real_camera(np.random.default_rng(2), SETTINGS[0])
    rng = np.random.default_rng(3)
    camera = calibrate_camera(real_clicks(rng, real, SETTINGS[2]), 1920, 1080)
    short = next(s for s in court_over(camera) if s.name == "short line")
    for x in (0.0, 3.0, 6.4):
        at = real.see(np.array([[x, 5.49, 0.0]]))[0]
        if np.isfinite(at).all():
            assert np.hypot(*(np.array(short.uv) - at).T).min() < 25.0  # steps of 10 cm
            ends, steps = np.array(short.uv)[:-1], np.diff(np.array(short.uv), axis=0)
            share = np.clip(((at - ends) * steps).sum(1) / np.maximum((steps**2).sum(1), 1e-9), 0, 1)
            assert np.hypot(*(ends + share[:, None] * steps - at).T).min() < 4.0


def test_straight_lines_bend_through_a_wide_lens() -> None:
    camera = camera_of(4, wide=True)
    out = next(s for s in court_over(camera) if s.name == "short line")
    uv = np.array(out.uv)
    chord = uv[-2] - uv[0] if np.hypot(*(uv[-2] - uv[0])) > 300 else uv[len(uv) // 2] - uv[0]
    off = (uv - uv[0]) @ np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    assert np.abs(off).max() > 5.0


def test_a_camera_of_the_floor_draws_the_floor_only() -> None:
    rng = np.random.default_rng(6)
    clicks = real_clicks(rng, real_camera(rng, SETTINGS[0]), SETTINGS[5])
    camera = calibrate_camera(clicks, 1920, 1080)
    assert {stroke.surface for stroke in court_over(camera)} == {CourtSurface.FLOOR}


def test_steps_are_short_and_end_at_the_corners() -> None:
    corners = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 0.05, 0.0]])
    points = subdivided(corners, 0.1)
    assert np.linalg.norm(np.diff(points, axis=0), axis=1).max() <= 0.1 + 1e-12
    assert points[0].tolist() == corners[0].tolist() and points[-1].tolist() == corners[-1].tolist()


# -- kept ------------------------------------------------------------------------------------------


def test_a_kept_camera_is_solved_to_the_same() -> None:
    camera = camera_of(7, leave_out=["tin-left"])
    text = json.dumps(camera_to_json(camera), allow_nan=False)
    again = camera_from_json(json.loads(text))
    assert again.lens.place_m == pytest.approx(camera.lens.place_m)
    assert again.lens.focal_px == pytest.approx(camera.lens.focal_px)
    assert again.covariance.covariance == pytest.approx(camera.covariance.covariance)
    assert [c.mark for c in again.left_out] == [c.mark for c in camera.left_out]
    assert json.loads(text)["solved"]["floor_only"] is False


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "other"}, "not a saved camera"),
        ({"version": 99}, "later goodlength"),
        ({"clicks": [{"mark": "short-left"}]}, "damaged"),
        ({"clicks": None}, "damaged"),
        ({"width": "wide"}, "damaged"),
    ],
)
def test_kept_cameras_that_are_none_are_refused(change: dict[str, Any], words: str) -> None:
    data = {**camera_to_json(camera_of(8)), **change}
    with pytest.raises(InputError, match=words):
        camera_from_json(data)
    with pytest.raises(InputError, match="not a saved camera"):
        camera_from_json([])  # type: ignore[arg-type]


def test_a_kept_camera_with_too_few_clicks_is_refused_like_any_other() -> None:
    data = {**camera_to_json(camera_of(8)), "clicks": []}
    with pytest.raises(CalibrationError, match="from 0 court marks"):
        camera_from_json(data)


def test_after_a_nudge_the_old_camera_stays_for_what_was_before() -> None:
    first, second = camera_of(9), camera_of(10)
    log = CameraLog((CameraSpan(first),)).moved(60_000_000, second)
    assert log.at(59_999_999) is first and log.at(60_000_000) is second
    blank = log.moved(90_000_000)
    assert blank.at(95_000_000) is None and blank.at(70_000_000) is second
    again = blank.moved(120_000_000, first)
    assert again.at(100_000_000) is None and again.at(130_000_000) is first
    assert CameraLog().at(0) is None and CameraLog().moved(5, first).at(6) is first
    kept = CameraLog.from_json(json.loads(json.dumps(again.to_json())))
    assert [(s.from_us, s.until_us) for s in kept.spans] == [(s.from_us, s.until_us) for s in again.spans]
    with pytest.raises(CalibrationError, match="already set later"):
        again.moved(10_000_000, first)
