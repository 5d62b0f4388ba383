"""Angles and ways from joints of known geometry; their errors against many draws."""

from __future__ import annotations

import math

import numpy as np
import pytest

from goodlength.demo.film.player_skeleton import FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA
from goodlength.errors import OutOfRange
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.measure.body.joint_angles_and_hand_path import (
    Angle,
    NoAngle,
    angles_of,
    hand_path,
    trunk_lean,
)


def joints(places: dict[int, tuple[float, float]], error: float = 3.0) -> Pose:
    uv = np.full((17, 2), np.nan)
    for k, place in places.items():
        uv[k] = place
    return Pose(uv, np.ones(17), np.full(17, error), np.zeros(17, dtype=bool))


def named(joined: Pose, name: str, side: str) -> Angle | NoAngle:
    return next(angle for angle in angles_of(joined) if (angle.name, angle.side) == (name, side))


@pytest.mark.parametrize(
    ("ankle", "degrees"), [((0.0, 200.0), 180.0), ((100.0, 100.0), 90.0), ((80.0, 40.0), 53.1301)]
)
def test_knees_of_known_triangles(ankle: tuple[float, float], degrees: float) -> None:
    knee = named(joints({11: (0.0, 0.0), 13: (0.0, 100.0), 15: ankle}), "knee", "left")
    assert isinstance(knee, Angle)
    assert math.degrees(knee.angle_rad) == pytest.approx(degrees, abs=1e-3)


def test_the_stated_error_is_that_of_many_draws() -> None:
    rng = np.random.default_rng(3)
    places = {11: (0.0, 0.0), 13: (20.0, 100.0), 15: (90.0, 160.0)}
    stated = named(joints(places, 4.0), "knee", "left")
    drawn = []
    for _ in range(800):
        moved = {k: tuple(np.array(at) + rng.normal(0, 4.0, 2)) for k, at in places.items()}
        item = named(joints(moved, 4.0), "knee", "left")
        assert isinstance(item, Angle)
        drawn.append(item.angle_rad)
    assert isinstance(stated, Angle)
    assert stated.error_rad == pytest.approx(np.std(drawn), rel=0.1)


def test_angles_of_a_drawn_figure_are_those_of_its_picture() -> None:
    made = pose(FigureMoment(4.2, 6.6, 0.0, 0.0, 0.0, None, None))
    uv = {
        k: CAMERA.see(*p)[:2]
        for k, p in zip((11, 13, 15), (made.hips[0], made.knees[0], made.feet[0]), strict=True)
    }
    knee = named(joints(uv, 0.5), "knee", "left")
    a, m, b = (np.array(uv[k]) for k in (11, 13, 15))
    told = math.acos(float((a - m) @ (b - m)) / float(np.linalg.norm(a - m) * np.linalg.norm(b - m)))
    assert isinstance(knee, Angle)
    assert knee.angle_rad == pytest.approx(told, abs=1e-9)


def test_a_limb_that_points_at_the_camera_gives_no_angle() -> None:
    knee = named(joints({11: (0.0, 0.0), 13: (0.0, 4.0), 15: (50.0, 50.0)}), "knee", "left")
    assert isinstance(knee, NoAngle)
    assert "points at the camera" in knee.why
    missing = named(joints({11: (0.0, 0.0)}), "knee", "left")
    assert isinstance(missing, NoAngle) and "seen" in missing.why


def test_the_trunk_leans_from_upright() -> None:
    places = {5: (40.0, 0.0), 6: (60.0, 0.0), 11: (-10.0, 60.0), 12: (10.0, 60.0)}
    lean = trunk_lean(joints(places))
    assert isinstance(lean, Angle)
    assert lean.angle_rad == pytest.approx(math.atan2(50.0, 60.0))
    tilted = trunk_lean(joints(places), upright=(50.0, -60.0))
    assert isinstance(tilted, Angle)
    assert tilted.angle_rad == pytest.approx(0.0, abs=1e-9)


def circle(
    n: int = 21, radius_px: float = 100.0, rate_rad_s: float = 10.0
) -> tuple[np.ndarray, list[Pose | None]]:
    times = np.arange(n) / 50.0
    turn = rate_rad_s * times
    return times, [joints({10: (radius_px * math.cos(a), radius_px * math.sin(a))}, 2.0) for a in turn]


def test_a_hand_on_a_circle_has_the_speed_of_the_circle() -> None:
    times, seen = circle()
    path = hand_path(times, seen, "right", 200.0, 0.2)
    # 10 rad/s at half a metre; a parabola through five pictures cuts the curve a little short.
    assert path.speed_m_s[2:-2] == pytest.approx(5.0, rel=0.03)
    assert path.way_m == pytest.approx(5.0 * 0.4, rel=0.02)
    assert path.across_m[10] == pytest.approx(0.0)
    assert path.up_m[10] == pytest.approx(0.0)
    assert np.isnan(path.speed_m_s[0])


def test_the_error_of_a_speed_is_that_of_many_draws() -> None:
    rng = np.random.default_rng(1)
    times, _ = circle()
    drawn = []
    for _ in range(300):
        seen = [joints({10: (k * 8.0 + rng.normal(0, 2), rng.normal(0, 2))}, 2.0) for k in range(21)]
        path = hand_path(times, seen, "right", 200.0, 0.2)
        drawn.append(path.speed_m_s[10])
    assert path.speed_error_m_s[10] == pytest.approx(np.std(drawn), rel=0.15)


def test_pictures_without_the_hand_leave_a_gap() -> None:
    times, seen = circle()
    seen[8] = None
    path = hand_path(times, seen, "right", 200.0, 0.2)
    assert np.isnan(path.across_m[8]) and np.isnan(path.speed_m_s[7])
    assert np.isnan(hand_path(times, [None] * 21, "left", 200.0, 0.2).across_m).all()


def test_what_cannot_be_is_refused() -> None:
    times, seen = circle()
    with pytest.raises(OutOfRange, match="'left' or 'right'"):
        hand_path(times, seen, "both", 200.0, 0.2)
    with pytest.raises(OutOfRange, match="px_per_m"):
        hand_path(times, seen, "left", 0.0, 0.2)
    with pytest.raises(OutOfRange, match="later than the one before"):
        hand_path(times[:-1], seen, "left", 200.0, 0.2)
