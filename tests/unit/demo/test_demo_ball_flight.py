"""The film's ball: against an independent solver, and by rules every bounce must keep."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.demo.play.ball_flight import (
    DRAG_PER_M,
    GRAVITY_M_S2,
    INERTIA,
    PLANES,
    DemoSurface,
    bounce,
    fly,
)
from goodlength.demo.play.court_camera import CAMERA, RADIUS_M
from goodlength.demo.play.launch_guess_and_target_miss import (
    boast,
    into_tin,
    serve,
    shot,
    to_floor,
)
from goodlength.record.model import ShotType


def test_free_flight_agrees_with_an_independent_solver() -> None:
    """DOP853 of scipy at 1e-11; a tenth of a millimetre over half a court is far below a pixel."""

    def pull(_t: float, s: np.ndarray) -> list[float]:
        speed = math.sqrt(s[3] ** 2 + s[4] ** 2 + s[5] ** 2)
        return [*s[3:], *(-DRAG_PER_M * speed * s[3:5]), -DRAG_PER_M * speed * s[5] - GRAVITY_M_S2]

    path = fly((3.2, 9.0, 1.0), (1.0, -22.0, 6.0))
    hit = path.contacts[0].time_s
    there = solve_ivp(
        pull, (0, hit), [3.2, 9.0, 1.0, 1.0, -22.0, 6.0], method="DOP853", rtol=1e-11, atol=1e-11
    )
    assert path.contacts[0].at == pytest.approx(there.y[:3, -1], abs=1e-4)
    middle = solve_ivp(
        pull, (0, 0.17), [3.2, 9.0, 1.0, 1.0, -22.0, 6.0], method="DOP853", rtol=1e-11, atol=1e-11
    )
    assert path.at(0.17) == pytest.approx(middle.y[:3, -1], abs=1e-4)


def test_a_ball_dropped_comes_back_lower_each_time() -> None:
    path = fly((3.0, 5.0, 2.0), (0.0, 0.0, 0.0), floor_bounces=4)
    tops = [
        max(path.at(a.time_s + (b.time_s - a.time_s) * k / 20)[2] for k in range(21))
        for a, b in zip(path.contacts, path.contacts[1:], strict=False)
    ]
    assert all(high > low for high, low in zip([2.0, *tops], tops, strict=False))


def test_no_bounce_makes_energy_of_flight_and_spin_together() -> None:
    """Spin may turn into speed, as a ball out of a corner shows; both together never grow."""
    rng = random.Random(5)
    for _ in range(500):
        plane = rng.randrange(len(PLANES))
        axis, side = PLANES[plane][:2]
        state = [3.0, 5.0, 1.0, *(rng.uniform(-30, 30) for _ in range(3))]
        state[3 + axis] = -side * rng.uniform(0.5, 40)
        spin = [rng.uniform(-600, 600) for _ in range(3)]
        before = energy(state, spin)
        bounce(state, spin, plane)
        assert energy(state, spin) <= before * (1 + 1e-12)
        assert side * state[3 + axis] > 0


def energy(state: list[float], spin: list[float]) -> float:
    """Twice the energy of flight and spin, for each kilogram."""
    return sum(v * v for v in state[3:]) + INERTIA * RADIUS_M**2 * sum(w * w for w in spin)


def test_a_bounce_keeps_the_turn_about_the_point_of_contact() -> None:
    """Only the contact force acts, and it goes through that point."""
    rng = random.Random(8)
    for plane, (axis, side, _, _) in enumerate(PLANES):
        state = [0.0, 0.0, 0.0, *(rng.uniform(-20, 20) for _ in range(3))]
        state[3 + axis] = -side * 15.0
        spin = [rng.uniform(-300, 300) for _ in range(3)]
        arm = np.zeros(3)
        arm[axis] = side * RADIUS_M  # from the contact to the middle of the ball

        def turn(arm: np.ndarray = arm, state: list[float] = state, spin: list[float] = spin) -> np.ndarray:
            return INERTIA * RADIUS_M**2 * np.array(spin) + np.cross(arm, state[3:])

        before = turn()
        bounce(state, spin, plane)
        assert turn() == pytest.approx(before, abs=1e-12)


def test_the_ball_stays_in_the_court() -> None:
    rng = random.Random(6)
    for _ in range(20):
        path = fly((3.0, 8.0, 1.0), (rng.uniform(-20, 20), -30.0, 4.0), floor_bounces=99)
        for knot in path.knots:
            assert RADIUS_M - 1e-6 <= knot[1] <= WIDTH_M - RADIUS_M + 1e-6
            assert RADIUS_M - 1e-6 <= knot[2] <= LENGTH_M - RADIUS_M + 1e-6
            assert knot[3] >= RADIUS_M - 1e-6


def test_an_aim_hits_what_it_aims_at() -> None:
    path = to_floor((1.0, 8.0, 0.8), 1.8, 0.4, 8.0).path()
    assert path is not None
    assert path.contacts[0].at[2] == pytest.approx(1.8, abs=0.01)
    assert path.contacts[1].at[:2] == pytest.approx((0.4, 8.0), abs=0.01)


def test_a_boast_touches_the_near_side_wall_first() -> None:
    path = boast((1.2, 8.5, 0.6), 5.0, 0.8, 22.0).path()
    assert path is not None
    assert [c.surface for c in path.contacts[:2]] == [DemoSurface.LEFT, DemoSurface.FRONT]


def test_an_error_hits_the_tin() -> None:
    path = into_tin((2.0, 6.0, 0.8), 2.4, 0.3, 20.0).path()
    assert path is not None
    assert path.contacts[0].surface is DemoSurface.TIN


@pytest.mark.parametrize("kind", ["lob", "mid-height", "hard", "body-feet", "body-nick"])
def test_most_draws_of_a_serve_can_be_struck(kind: str) -> None:
    rng = random.Random(1)
    done = [serve(kind, (5.8, 5.85, 1.3), rng).path() for _ in range(10)]
    assert sum(path is not None for path in done) >= 7


@pytest.mark.parametrize("stroke", list(ShotType))
def test_most_draws_of_a_shot_can_be_struck(stroke: ShotType) -> None:
    rng = random.Random(2)
    done = [shot(stroke, (1.1, 7.5, 0.7), rng).path() for _ in range(10)]
    assert sum(path is not None for path in done) >= 5


def test_camera_matrix_and_quick_projection_are_the_same() -> None:
    for point in [(0.0, 0.0, 0.0), (6.4, 0.0, 4.57), (3.2, 5.44, 0.0), (1.0, 9.0, 1.5)]:
        seen = CAMERA.matrix @ np.array([*point, 1.0])
        u, v, depth = CAMERA.see(*point)
        assert (seen[0] / seen[2], seen[1] / seen[2], seen[2]) == pytest.approx((u, v, depth))


def test_the_camera_sees_lines_and_most_of_the_floor() -> None:
    for point in [
        (0, 0, 0),
        (6.4, 0, 0),
        (0, 0, 4.62),
        (6.4, 0, 4.62),
        (0.0, 7.14, 0),
        (6.4, 7.14, 0),
        (3.2, 9.3, 0),
    ]:
        u, v, _ = CAMERA.see(*point)
        assert 0 <= u <= CAMERA.width
        assert 0 <= v <= CAMERA.height
