"""A knocked camera found again from two pictures of the empty court, or refused."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.footage.camera.camera_calibration import CameraCalibration, calibrate_camera
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection.camera_realignment_after_knock import (
    court_points,
    follow_camera,
    found_of_lines,
    matched_points,
)
from goodlength.footage.court_detection.court_detection_in_image import marks_in_view
from oracles.drawn_court import camera_of, draw_court, draw_spotted_court, noisy_frames

KNOCK = np.array([0.012, -0.02, 0.008, 0.03, -0.02, 0.01, 0, 0, 0, 0, 0, 0])  # 1.4 degrees, 4 cm


@pytest.fixture(scope="module")
def saved() -> CameraCalibration:
    lens = camera_of()
    return calibrate_camera(marks_in_view(lens), lens.width, lens.height)


def floor_error_m(found: CameraModel, truth: CameraModel) -> float:
    uv = np.array([[180.0, 250.0], [320.0, 260.0], [450.0, 240.0], [300.0, 330.0]])
    places = [court_points(lens, uv)[0] for lens in (found, truth)]
    return float(np.linalg.norm(places[0] - places[1], axis=1).max())


def test_a_knock_is_followed_to_a_few_centimetres(saved: CameraCalibration) -> None:
    truth = camera_of().moved(KNOCK)
    before, after = draw_spotted_court(camera_of()), draw_spotted_court(truth)
    assert floor_error_m(saved.lens, truth) > 0.15  # what places would be off by
    found = follow_camera(np.random.default_rng(1), saved, before, after)
    assert found is not None
    assert floor_error_m(found.lens, truth) < 0.03
    assert floor_error_m(found.lens, truth) < 2 * found.floor.p95_m
    assert found.floor.median_m > saved.floor.median_m  # the error of following comes on top
    assert all(click.detected for click in found.clicks)


def test_small_pictures_of_a_large_camera_do(saved: CameraCalibration) -> None:
    large = camera_of(1280, 720)
    camera = calibrate_camera(marks_in_view(large), 1280, 720)
    before, after = draw_spotted_court(camera_of()), draw_spotted_court(camera_of().moved(KNOCK))
    found = follow_camera(np.random.default_rng(1), camera, before, after)
    assert found is not None and (found.lens.width, found.lens.height) == (1280, 720)
    uv = large.moved(KNOCK).project(np.array([[3.2, 5.5, 0.0]]))[0]
    assert np.hypot(*(found.lens.project(np.array([[3.2, 5.5, 0.0]]))[0] - uv)[0]) < 3.0


def test_a_camera_that_did_not_move_stays(saved: CameraCalibration) -> None:
    pictures = noisy_frames(draw_spotted_court(camera_of()), np.random.default_rng(2), 2)
    found = follow_camera(np.random.default_rng(1), saved, pictures[0], pictures[1])
    assert found is not None and floor_error_m(found.lens, saved.lens) < 0.01


def test_another_place_or_another_size_is_refused(saved: CameraCalibration) -> None:
    rng = np.random.default_rng(1)
    before = draw_spotted_court(camera_of())
    assert follow_camera(rng, saved, before, np.ascontiguousarray(before[::-1])) is None
    assert follow_camera(rng, saved, before, np.full_like(before, 90)) is None
    assert follow_camera(rng, saved, before, before[:-40]) is None


def test_a_picture_that_slides_without_the_court_is_refused(saved: CameraCalibration) -> None:
    """Everything moved alike, as if the picture were cropped anew by half: no turn puts the lines there."""
    before = draw_spotted_court(camera_of())
    wide = np.repeat(np.repeat(before, 2, axis=0), 2, axis=1)[180:540, 320:960]
    assert follow_camera(np.random.default_rng(1), saved, before, np.ascontiguousarray(wide)) is None


def test_points_lie_on_the_first_surface_a_ray_meets() -> None:
    lens = camera_of()
    places = np.array([[3.2, 5.0, 0.0], [3.2, 0.0, 1.5], [0.0, 3.0, 1.0]])
    uv, _ = lens.project(places)
    found, on_court = court_points(lens, np.vstack([uv, [[10.0, -500.0]]]))
    assert on_court.tolist() == [True, True, True, False]
    assert np.abs(found[:3] - places).max() < 1e-6


def test_lines_are_found_only_where_the_camera_looks() -> None:
    picture = draw_court(camera_of())
    there = found_of_lines(np.random.default_rng(1), camera_of(), picture, "standard")
    aside = found_of_lines(np.random.default_rng(1), camera_of().moved(3 * KNOCK), picture, "standard")
    assert there > 0.8 and aside < 0.5 * there


def test_pictures_without_a_fixed_point_match_nothing() -> None:
    plain = np.full((90, 160, 3), 128, np.uint8)
    old, new = matched_points(plain, plain)
    assert len(old) == 0 == len(new)
