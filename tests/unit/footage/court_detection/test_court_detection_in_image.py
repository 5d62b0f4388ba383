"""The court found by itself, on a court drawn for a known camera; what is no court is not offered."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.court import CourtSurface
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.projection_uncertainty import CourtPoint
from goodlength.footage.court_detection import DetectedCourt, background_plate, detect_court
from goodlength.footage.court_detection.court_detection_in_image import DARK, UNLIT, marks_in_view
from oracles.drawn_court import camera_of, draw_court, noisy_frames

CAMERAS = 20_000  # a drawn court is plain enough for a third of the search


@pytest.fixture(scope="module")
def found() -> DetectedCourt:
    """The court of five noisy frames."""
    frames = noisy_frames(draw_court(camera_of()), np.random.default_rng(4))
    return detect_court(np.random.default_rng(5), frames, cameras=CAMERAS)


def floor_errors_m(found: DetectedCourt, truth: CameraModel) -> list[float]:
    """How far places of the floor in the picture lie from where they are."""
    assert found.camera is not None
    off = []
    for x in np.linspace(0.4, WIDTH_M - 0.4, 5):
        for y in np.linspace(0.4, LENGTH_M - 0.4, 7):
            uv, seen = truth.project(np.array([[x, y, 0.0]]))
            if not (seen[0] and truth.inside(uv)[0]):
                continue
            place = found.camera.place(CourtSurface.FLOOR, float(uv[0, 0]), float(uv[0, 1]))
            assert isinstance(place, CourtPoint)
            off.append(float(np.hypot(place.x_m - x, place.y_m - y)))
    return off


def test_a_plain_court_is_found_to_a_few_centimetres(found: DetectedCourt) -> None:
    assert found.offered, found.why
    off = floor_errors_m(found, camera_of())
    assert len(off) > 20
    assert np.median(off) < 0.03  # the aim of the issue, at the smallest picture
    assert np.quantile(off, 0.95) < 0.10


def test_the_stated_error_is_of_the_size_of_the_true_one(found: DetectedCourt) -> None:
    assert found.error_m is not None
    assert np.median(floor_errors_m(found, camera_of())) < 2 * found.error_m < 0.20


def test_its_marks_are_court_marks_inside_the_frame(found: DetectedCourt) -> None:
    names = [mark.mark for mark in found.marks]
    assert {"short-left", "t-left", "tin-right", "service-left"} <= set(names)
    assert all(0 < mark.u < 640 and 0 < mark.v < 360 for mark in found.marks)
    uv, _ = camera_of().project(np.array([[0.0, 5.49, 0.0]]))
    short = next(mark for mark in found.marks if mark.mark == "short-left")
    assert np.hypot(short.u - uv[0, 0], short.v - uv[0, 1]) < 1.0


def test_the_chance_is_high_but_not_certain(found: DetectedCourt) -> None:
    assert 0.8 < found.chance < 1.0


def test_noise_is_no_court() -> None:
    frames = [np.random.default_rng(1).integers(0, 255, (180, 320, 3)).astype(np.uint8)]
    nothing = detect_court(np.random.default_rng(2), frames, cameras=3_000)
    assert not nothing.offered
    assert nothing.why.endswith(".")
    assert nothing.chance < 0.1


def test_a_frame_of_one_colour_is_no_court() -> None:
    nothing = detect_court(np.random.default_rng(2), [np.full((90, 160, 3), 127, np.uint8)], cameras=3_000)
    assert not nothing.offered and nothing.marks == ()


def test_a_court_stretched_by_a_third_is_not_offered() -> None:
    picture = draw_court(camera_of())
    wide = np.repeat(picture, 4, axis=1)[:, ::3]
    assert not detect_court(np.random.default_rng(3), [np.ascontiguousarray(wide)], cameras=CAMERAS).offered


def test_half_a_dark_court_is_not_offered() -> None:
    picture = draw_court(camera_of())
    picture[:, :300] //= 25
    dark = detect_court(np.random.default_rng(3), [picture], cameras=3_000)
    assert not dark.offered
    assert dark.why == DARK


def test_a_dark_side_without_lines_is_named_though_the_court_is_offered(found: DetectedCourt) -> None:
    picture = draw_court(camera_of())
    picture[:, :120] = picture[:, :120].mean(axis=(0, 1)) // 8  # a lamp is out: nothing to see there
    unlit = detect_court(np.random.default_rng(5), [picture], cameras=CAMERAS)
    assert unlit.offered, unlit.why
    assert unlit.note == UNLIT
    assert found.note == ""  # the same court, lit


def test_without_frames_or_with_unlike_ones_it_says_what_to_do() -> None:
    with pytest.raises(InputError, match=r"Choose a moment inside the video"):
        detect_court(np.random.default_rng(0), [])
    frames = [np.zeros((90, 160, 3), np.uint8), np.zeros((160, 90, 3), np.uint8)]
    with pytest.raises(InputError, match="different sizes"):
        detect_court(np.random.default_rng(0), frames)


def test_people_vanish_and_other_views_and_dark_frames_are_left_out() -> None:
    picture = draw_court(camera_of())
    frames = noisy_frames(picture, np.random.default_rng(6), 7)
    frames[1] = np.roll(frames[1], 6, axis=1)  # the camera was knocked
    frames[5] = frames[5] // 4  # the lights failed
    plate = background_plate(frames)
    assert plate.used == (0, 2, 3, 4, 6)
    assert np.abs(plate.picture.astype(int) - picture).mean() < 3.0


def test_marks_in_view_leave_out_what_lies_beyond_the_frame() -> None:
    marks = marks_in_view(camera_of())
    uv, _ = camera_of().project(np.array([[0.0, LENGTH_M, 0.0]]))
    assert not camera_of().inside(uv)[0]
    assert "back-left-floor" not in {mark.mark for mark in marks}
