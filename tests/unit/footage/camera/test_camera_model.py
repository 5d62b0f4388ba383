"""The projection, its way back, and its slopes."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.errors import CalibrationError, NotFound
from goodlength.footage.camera import court_marks, mark_named
from goodlength.footage.camera.camera_model import UNKNOWNS, CameraModel, rotated, undistorted
from goodlength.synthetic.simulated_camera_clicks import SETTINGS, RealCamera, real_camera

MARKS = np.array([mark.at for mark in court_marks().values()])


def lens_of(real: RealCamera) -> CameraModel:
    off = (real.middle - [960.0, 540.0]) / 1920.0
    return CameraModel(
        1920, 1080, real.axes, real.place_m, real.focal_px, real.k1, (off[0], off[1]), real.askew
    )


def some_lens(seed: int = 0, wide: bool = False) -> CameraModel:
    return lens_of(real_camera(np.random.default_rng(seed), SETTINGS[1 if wide else 0]))


@pytest.mark.parametrize("at", [0, 1, -1])
def test_the_projection_equals_one_written_elsewhere(at: int) -> None:
    for seed in range(5):
        real = real_camera(np.random.default_rng(seed), SETTINGS[at])
        lens = lens_of(real)
        uv, seen = lens.project(MARKS)
        shown = seen & lens.inside(uv)
        other = real.see(MARKS)
        assert np.array_equal(shown, np.isfinite(other).all(axis=1))
        assert np.allclose(uv[shown], other[shown], atol=1e-9)


def test_axes_are_orthogonal_and_keep_the_left_hand_of_the_court_frame() -> None:
    axes = some_lens(3).axes
    assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(-1.0)


@pytest.mark.parametrize("at", [0, 1, -1])
def test_rays_lead_back_to_the_points_they_come_from(at: int) -> None:
    lens = lens_of(real_camera(np.random.default_rng(4), SETTINGS[at]))
    uv, seen = lens.project(MARKS)
    good = seen & lens.inside(uv)
    rays = lens.rays(uv[good])
    to = MARKS[good] - lens.place_m
    assert np.allclose(np.cross(rays, to), 0.0, atol=1e-7)
    assert ((rays * to).sum(axis=1) > 0.0).all()


@pytest.mark.parametrize("at", [1, -1])
def test_slopes_equal_small_differences(at: int) -> None:
    lens = lens_of(real_camera(np.random.default_rng(5), SETTINGS[at]))
    uv, seen = lens.project(MARKS)
    points = MARKS[seen & lens.inside(uv)]
    at, by_unknowns, by_point = lens.slopes(points)
    for k in range(UNKNOWNS):
        step = np.zeros(UNKNOWNS)
        step[k] = 1e-6
        ahead, _ = lens.moved(step).project(points)
        back, _ = lens.moved(-step).project(points)
        assert np.allclose((ahead - back) / 2e-6, by_unknowns[:, :, k], rtol=1e-4, atol=1e-2), k
    for k in range(3):
        shift = np.zeros(3)
        shift[k] = 1e-6
        ahead, _ = lens.project(points + shift)
        back, _ = lens.project(points - shift)
        assert np.allclose((ahead - back) / 2e-6, by_point[:, :, k], rtol=1e-4, atol=1e-3)
    assert np.allclose(at, lens.project(points)[0])


def test_what_lies_behind_the_camera_is_not_seen() -> None:
    lens = some_lens(6)
    uv, seen = lens.project(np.array([[3.2, 30.0, 1.0], [3.2, 0.0, 1.0]]))
    assert not seen[0] and np.isnan(uv[0]).all() and seen[1]


def test_beyond_the_reach_of_a_wide_lens_nothing_is_seen_in_either_direction() -> None:
    lens = CameraModel(1000, 1000, np.eye(3), np.zeros(3), 300.0, -0.3)
    uv, seen = lens.project(np.array([[1.04, 0.0, 1.0], [1.06, 0.0, 1.0], [5.0, 0.0, 1.0]]))
    assert seen.tolist() == [True, False, False]
    assert np.isnan(lens.rays(np.array([[500.0 + 300.0 * 0.8, 500.0]]))).any()
    assert np.isfinite(lens.rays(uv[:1])).all()


@pytest.mark.parametrize("k1", [-0.3, -0.05, 0.0, 0.2])
def test_straightening_undoes_the_lens(k1: float) -> None:
    flat = np.array([[0.0, 0.0], [0.3, -0.2], [-0.6, 0.5], [0.01, 0.9]])
    bent = flat * (1.0 + k1 * (flat**2).sum(axis=1))[:, None]
    assert np.allclose(undistorted(bent, k1), flat, atol=1e-9)


def test_small_and_large_turns_are_rotations() -> None:
    for by in (np.zeros(3), np.array([1e-10, 0.0, 0.0]), np.array([0.3, -1.0, 2.0])):
        rotation = rotated(by)
        assert np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(rotation) == pytest.approx(1.0)
    assert np.allclose(rotated(np.array([0.0, 0.0, np.pi / 2.0])) @ [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])


def test_marks_have_mirrors_on_the_other_side_and_say_their_edge() -> None:
    marks = court_marks()
    assert len(marks) == 24
    for mark in marks.values():
        other = marks[mark.mirror]
        assert other.mirror == mark.name
        assert other.at == pytest.approx((6.4 - mark.at[0], *mark.at[1:]))
        assert mark.edge and ("left" in mark.name) == ("left" in mark.words)
        assert mark.on_floor == (mark.at[2] == 0.0)


def test_the_tour_tin_moves_the_tins_marks_only() -> None:
    standard, tour = court_marks(), court_marks("tour")
    assert [n for n in standard if standard[n].at != tour[n].at] == ["tin-left", "tin-right"]
    with pytest.raises(NotFound, match="no tin"):
        court_marks("low")
    with pytest.raises(CalibrationError, match="Marks are: short-left"):
        mark_named("middle")
