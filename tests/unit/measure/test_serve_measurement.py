"""A serve measured from marks: what it gives, what it refuses, and which mark it names."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.ball import Ball, PlayConditions
from goodlength.errors import CalibrationError, InputError, UnclearError
from goodlength.footage.camera import CameraCalibration, calibrate_camera
from goodlength.measure.serves import serve_measurement
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark
from goodlength.measure.serves.serve_measurement import MeasuredServe, measure_serve
from goodlength.synthetic.simulated_camera_clicks import (
    HEIGHT,
    SETTINGS,
    WIDTH,
    real_camera,
    real_clicks,
)
from goodlength.synthetic.simulated_serve_clicks import (
    ALL,
    CONDITIONS,
    MarkingCondition,
    TrueServe,
    marks_of,
    true_serve,
)

AWAY = np.array([1, 1, 1, 1, -1, 1, 1, 1, 1])  # turns a launch from the front wall to the back wall
Case = tuple[CameraCalibration, TrueServe, list[ServeMark]]


@pytest.fixture(scope="module")
def case() -> Case:
    """A serve seen by a camera, its strike, front wall and first bounce marked."""
    rng = np.random.default_rng(11)
    while True:
        real = real_camera(rng, SETTINGS[0])
        serve = true_serve(rng)
        marks = marks_of(rng, serve, real, MarkingCondition("all", 50.0, ALL))
        if len(marks) >= 4 and {MarkKind.STRIKE, MarkKind.FRONT, MarkKind.FLOOR} <= {
            mark.what for mark in marks
        }:
            return calibrate_camera(real_clicks(rng, real, SETTINGS[0]), WIDTH, HEIGHT), serve, marks


@pytest.fixture(scope="module")
def found(case: Case) -> MeasuredServe:
    camera, serve, marks = case
    return measure_serve(camera, marks, serve.box)


def test_speed_and_spot_come_with_ranges_that_hold_them(case: Case, found: MeasuredServe) -> None:
    _, serve, _ = case
    speed = float(np.linalg.norm(serve.launch[3:6]))
    assert found.speed_m_s.low < speed < found.speed_m_s.high
    assert abs(found.front_z_m.middle - serve.places[0, 2]) < 0.15
    assert found.speed_m_s.low < found.speed_m_s.middle < found.speed_m_s.high
    assert found.doubted == () and found.bounce_y_m is not None
    assert all(0 <= value <= 100 for value in found.of_100.values())


def test_the_same_marks_give_the_same_answer(case: Case, found: MeasuredServe) -> None:
    camera, serve, marks = case
    assert measure_serve(camera, marks, serve.box).speed_m_s == found.speed_m_s


def test_fewer_marks_are_less_sure_and_a_heard_strike_surer(case: Case, found: MeasuredServe) -> None:
    camera, serve, marks = case
    width = found.speed_m_s.high - found.speed_m_s.low
    two = [mark for mark in marks if mark.what in (MarkKind.STRIKE, MarkKind.FRONT)]
    few = measure_serve(camera, two, serve.box).speed_m_s
    assert few.high - few.low > width
    # Where pictures last long, the sound of the strike says when it was
    slow = [replace(mark, frame_s=0.15) for mark in marks]
    way = float(np.linalg.norm(serve.launch[:3] - camera.lens.place_m)) / 343.0
    heard = [replace(item, onset_s=way) if item.what is MarkKind.STRIKE else item for item in slow]
    unheard, known = (measure_serve(camera, some, serve.box).speed_m_s for some in (slow, heard))
    assert known.high - known.low < 0.95 * (unheard.high - unheard.low)


def test_a_mark_far_off_is_named(case: Case) -> None:
    camera, serve, marks = case
    wrong = [replace(mark, v=mark.v - 150.0) if mark.what is MarkKind.FLOOR else mark for mark in marks]
    try:
        told = " ".join(item.words for item in measure_serve(camera, wrong, serve.box).doubted)
    except UnclearError as error:
        told = str(error)
    assert "first bounce" in told


def test_without_the_box_it_is_still_found(case: Case, found: MeasuredServe) -> None:
    camera, _, marks = case
    free = measure_serve(camera, marks, None)
    assert free.speed_m_s.middle == pytest.approx(found.speed_m_s.middle, rel=0.06)
    assert "good" not in free.of_100


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda marks: marks[:1], "at least two marks"),
        (
            lambda marks: [mark for mark in marks if mark.what is not MarkKind.FRONT],
            "Mark where it hits the front",
        ),
        (lambda marks: [*marks, marks[0]], "marked twice"),
        (
            lambda marks: [
                replace(mark, at_s=9.0) if mark.what is MarkKind.STRIKE else mark for mark in marks
            ],
            "Contact",
        ),
        (
            lambda marks: [
                replace(mark, at_s=-9.0) if mark.what is MarkKind.FLOOR else mark for mark in marks
            ],
            "first",
        ),
        (lambda marks: [replace(marks[0], u=float("nan")), *marks[1:]], "no position"),
        (lambda marks: [replace(marks[0], u=1e6), *marks[1:]], "outside the frame"),
        (lambda marks: [replace(marks[0], frame_s=2.0), *marks[1:]], "too long"),
    ],
)
def test_marks_no_serve_has_are_refused_in_words(case: Case, change: object, words: str) -> None:
    camera, serve, marks = case
    with pytest.raises(InputError, match=words):
        measure_serve(camera, change(marks), serve.box)  # type: ignore[operator]


def test_a_camera_that_knows_only_the_floor_is_refused(case: Case) -> None:
    camera, serve, marks = case
    flat = [
        click for click in camera.clicks if click.mark.startswith(("short", "left-box", "right-box", "t-"))
    ]
    with pytest.raises(CalibrationError, match="only the floor"):
        measure_serve(calibrate_camera(flat, WIDTH, HEIGHT), marks, serve.box)


def test_the_ball_in_the_air_helps(case: Case) -> None:
    """Marks between touches are taken at the picture's own moment."""
    rng = np.random.default_rng(4)
    real = real_camera(rng, SETTINGS[0])
    camera = calibrate_camera(real_clicks(rng, real, SETTINGS[0]), WIDTH, HEIGHT)
    serve = true_serve(rng)
    marks = marks_of(rng, serve, real, CONDITIONS[7])
    assert sum(mark.what is MarkKind.BALL for mark in marks) >= 2
    got = measure_serve(camera, marks, serve.box).speed_m_s
    assert got.middle == pytest.approx(float(np.linalg.norm(serve.launch[3:6])), rel=0.15)


def test_the_picture_of_the_feet_times_the_strike() -> None:
    """Moved by 100 ms they changed the speed by under 4 %, and speeds came out 9 % too low in the median."""
    marks: list[ServeMark] = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        real = real_camera(rng, SETTINGS[0])
        camera = calibrate_camera(real_clicks(rng, real, SETTINGS[0]), WIDTH, HEIGHT)
        serve = true_serve(rng)
        marks = marks_of(rng, serve, real, CONDITIONS[4])
        if len(marks) == 3:
            break
    assert len(marks) == 3
    late = [replace(mark, at_s=mark.at_s - 0.1) if mark.what is MarkKind.FEET else mark for mark in marks]
    speed, slower = (measure_serve(camera, some, serve.box).speed_m_s.middle for some in (marks, late))
    assert slower < 0.92 * speed
    told = measure_serve(camera, marks, serve.box).marks
    assert next(item for item in told if item.what == "server's feet").late_s is not None


def test_a_ball_found_in_the_picture_is_surer_than_one_clicked(case: Case) -> None:
    """A streak is clicked to 4.5 px; front-wall heights held 57 to 68 of 90 in 100 while 2 px was assumed."""
    camera, serve, marks = case
    found = [replace(mark, found=True) for mark in marks]
    clicked, sure = (measure_serve(camera, some, serve.box).front_z_m for some in (marks, found))
    assert sure.high - sure.low < 0.7 * (clicked.high - clicked.low)


def test_a_ball_of_unsure_warmth_widens_the_bounce(case: Case) -> None:
    camera, serve, marks = case
    two = [mark for mark in marks if mark.what in (MarkKind.STRIKE, MarkKind.FRONT)]
    warm, unsure = (
        measure_serve(camera, two, serve.box, PlayConditions(Ball(warmth=name))).bounce_y_m
        for name in ("warm", "unsure")
    )
    assert warm is not None and unsure is not None
    assert unsure.high - unsure.low > warm.high - warm.low
    assert unsure.middle < warm.middle  # 35 °C in the middle, not 38: a shorter bounce


def test_marks_whose_flights_miss_the_front_wall_are_refused(
    case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Such a serve has no place on the front wall, and a record takes no number that is none."""
    camera, serve, marks = case
    ranges = serve_measurement.flight_ranges
    monkeypatch.setattr(
        serve_measurement, "flight_ranges", lambda launches, *given: ranges(launches * AWAY, *given)
    )
    with pytest.raises(UnclearError, match="miss the front wall"):
        measure_serve(camera, marks, serve.box)
