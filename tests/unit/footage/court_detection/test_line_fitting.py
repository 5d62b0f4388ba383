"""Steps of finding the court: wireframe, evidence, search, lines measured and cameras fitted to them."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np

from goodlength.court.dimensions import WIDTH_M
from goodlength.footage.court_detection.camera_hypothesis_search import (
    CAMERAS,
    FIRST_SELECTED,
    camera_model,
    draw_cameras,
    lawful,
    project_all,
    scores,
)
from goodlength.footage.court_detection.camera_refinement_on_lines import (
    CameraCandidate,
    fit_to_lines,
    scaled_camera,
    views_apart,
)
from goodlength.footage.court_detection.court_wireframe import wireframe, wireframe_nodes
from goodlength.footage.court_detection.detection_probability import (
    CourtEvidence,
    court_evidence,
    partly_dark,
)
from goodlength.footage.court_detection.line_segment_evidence import evidence_map, line_segments
from goodlength.footage.court_detection.subpixel_line_measurement import measure_lines
from oracles.drawn_court import CAMERA_ROW, camera_of, draw_court


def smooth(picture: np.ndarray) -> np.ndarray:
    return cv2.GaussianBlur(picture, (0, 0), 0.6).astype(np.float32)


def test_the_wireframe_is_its_own_mirror_image() -> None:
    ends = {(*line.start_m.round(6), *line.end_m.round(6)) for line in wireframe()}
    for x0, y0, z0, x1, y1, z1 in ends:
        left, right = (round(WIDTH_M - x0, 6), y0, z0), (round(WIDTH_M - x1, 6), y1, z1)
        assert (*left, *right) in ends or (*right, *left) in ends


def test_lines_run_along_the_middle_of_their_paint() -> None:
    lines = {line.name: line for line in wireframe()}
    assert np.isclose(lines["short line"].start_m[1], 5.465)  # 5.44 to 5.49: COURT-2014
    assert np.isclose(lines["service line"].start_m[2], 1.805)  # lower edge 1.78
    assert lines["tin"].start_m[2] == 0.48 and not lines["tin"].painted
    assert {line.name: line for line in wireframe("tour")}["tin"].start_m[2] == 0.43


def test_many_cameras_project_as_the_camera_model_does() -> None:
    rows = draw_cameras(np.random.default_rng(0), 40)
    rows = rows[lawful(rows)]
    points = np.array([(0, 0, 0), (6.4, 0, 1.8), (3.2, 5.44, 0), (0, 7.1, 0)], float)
    uv, seen = project_all(rows, points.astype(np.float32), (640, 360))
    for row, places, there in zip(rows, uv, seen, strict=True):
        expected, shown = camera_model(row, 640, 360).project(points)
        both = shown & there
        assert both.any()
        assert np.abs(places[both] - expected[both]).max() < 0.05  # single precision


def test_drawn_cameras_look_at_the_front_wall_from_behind() -> None:
    rows = draw_cameras(np.random.default_rng(0), 500)
    assert (rows[:, 4] > 9.0).all()
    uv, seen = project_all(rows, np.array([[3.2, 0, 1.8]], np.float32), (640, 360))
    assert ((uv[:, 0, 0] > 0) & (uv[:, 0, 0] < 640) & seen[:, 0]).mean() > 0.8


def test_the_true_camera_is_among_those_the_search_goes_on_with() -> None:
    segments = line_segments(draw_court(camera_of()))
    evidence = evidence_map(segments, (640, 360), 240, 4.0)
    rows = np.vstack([CAMERA_ROW, draw_cameras(np.random.default_rng(1), 3000)])
    values = scores(rows, wireframe_nodes(wireframe()), evidence)
    assert (values[1:] >= values[0]).mean() < FIRST_SELECTED / CAMERAS


def test_an_empty_picture_speaks_for_nothing() -> None:
    evidence = evidence_map(line_segments(np.full((90, 160, 3), 99, np.uint8)), (160, 90), 120, 4.0)
    assert np.ptp(evidence.ratios) == 0.0


def test_lines_are_measured_to_a_fraction_of_a_pixel() -> None:
    camera = camera_of(960, 540)
    picture = smooth(draw_court(camera))
    lines = measure_lines(np.random.default_rng(2), picture, wireframe(), camera, 5.0)
    paint = [line for line in lines if line.line.painted]
    assert len(paint) >= 9
    assert all(line.share > 0.8 for line in paint)
    for line in paint:
        uv, _ = camera.project(line.points_m)
        assert abs(np.median(((line.uv - uv) * line.normals).sum(axis=1))) < 0.25


def test_a_camera_a_little_off_is_fitted_back() -> None:
    truth = camera_of(960, 540)
    picture, rng = smooth(draw_court(truth)), np.random.default_rng(2)
    step = np.array([0.004, -0.003, 0.002, 0.05, 0.08, -0.05, 0.01, 0.01, 0, 0, 0, 0])
    camera = truth.moved(step)
    assert views_apart(truth, camera) > 0.004
    for reach in (10.0, 5.0, 3.0):
        fitted = fit_to_lines(camera, measure_lines(rng, picture, wireframe(), camera, reach))
        assert fitted is not None
        camera = fitted
    assert views_apart(truth, camera) < 0.001  # a pixel of this picture


def test_three_lines_are_too_few_to_fit() -> None:
    camera = camera_of(960, 540)
    picture = smooth(draw_court(camera))
    lines = measure_lines(np.random.default_rng(2), picture, wireframe(), camera, 4.0)
    assert fit_to_lines(camera, lines[:3]) is None


def test_a_scaled_camera_sees_the_same() -> None:
    small, large = camera_of(640, 360), camera_of(1920, 1080)
    points = np.array([(0, 0, 0), (3.2, 5.44, 0)], float)
    assert np.allclose(scaled_camera(small, 1920, 1080).project(points)[0], large.project(points)[0])


def test_missing_lines_a_strained_lens_and_a_rival_lower_the_chance() -> None:
    good = CourtEvidence(share=0.96, weakest=0.9, strain=0.6, lead=0.5)
    for worse in ({"share": 0.6}, {"weakest": 0.3}, {"strain": 15.0}, {"lead": 0.0}):
        assert dataclasses.replace(good, **worse).chance < good.chance
    assert good.chance > 0.8
    assert CourtEvidence(0.6, 0.2, 5.0, 0.0).chance < 0.05


def test_evidence_counts_only_unlike_rivals() -> None:
    camera = camera_of()
    lines = measure_lines(np.random.default_rng(2), smooth(draw_court(camera)), wireframe(), camera, 4.0)
    same = camera.moved(np.array([0.001, *[0.0] * 11]))
    other = camera.moved(np.array([0.15, *[0.0] * 11]))
    best = CameraCandidate(camera, lines, 1.5)
    assert court_evidence([best, CameraCandidate(same, lines, 1.4)]).lead == 1.5
    assert np.isclose(court_evidence([best, CameraCandidate(other, lines, 1.4)]).lead, 0.1)


def test_a_dark_court_all_over_is_not_partly_dark() -> None:
    picture = draw_court(camera_of())
    assert not partly_dark(picture)
    assert not partly_dark(picture // 6)
    picture[120:] //= 30
    assert partly_dark(picture)
