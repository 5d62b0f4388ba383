"""Drag of a smooth ball: two published formulas, a public library, closed forms. Checks 6 to 12 and 28."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest

from goodlength.ball import Coefficients, fly, free_path
from goodlength.ball.model.drag_coefficient import (
    DRAG_DENOMINATOR,
    DRAG_NUMERATOR,
    REYNOLDS_UNIT,
    clift_gauvin,
)
from oracles.drag import clift_gauvin_refit, terminal_speed_m_s

AT_20_C = 1.19931


def test_second_set_of_clift_gauvin_figures_against_the_library():
    """Check 6 (0.4639, 0.4103, 0.4604, 0.4675) and `fluids` 1.3.1, which holds BARATI-2014's listing."""
    re = np.array([1e3, 1e4, 5e4, 1e5])
    assert clift_gauvin_refit(re) == pytest.approx([0.4639, 0.4103, 0.4604, 0.4675], abs=1e-4)
    assert clift_gauvin_refit(re) == pytest.approx([fluids.drag.Clift_Gauvin(x) for x in re], rel=1e-12)


def test_formula_that_flies_is_within_six_percent_of_the_standard_curve():
    """Standard drag curve as tabulated in BALL-NOTE 1.6 by `fluids`.

    ERRATUM: the project's note prints the formula with 0.15, 0.687, 42500 and -1.16 (CLIFT-GAUVIN), which
    is the one that flies here and in its regression serve, but its check 6 holds figures of the other
    set (BARATI-2014). The two differ by up to 6 %, inside the 12 % that every answer is drawn over.
    """
    re = np.array([1e3, 1e4, 2e4, 5e4, 1e5, 2e5])
    curve = np.array([0.4711, 0.4052, 0.4417, 0.4742, 0.5018, 0.4977])
    assert np.abs(clift_gauvin(re) / curve - 1.0).max() < 0.035
    assert np.abs(clift_gauvin_refit(re) / curve - 1.0).max() > 0.06


def test_fraction_that_flies_is_the_formula():
    """Within 3 in ten million from 0.75 m/s, 1 in 1,000 from 0.4 m/s; slower, where drag is nothing, sane."""
    re = np.concatenate([np.linspace(1000.0, 6000.0, 20_000), np.linspace(6000.0, 3.3e5, 100_000)])
    off = np.abs(fraction(re) / re / clift_gauvin(re) - 1.0)
    assert off.max() < 1e-3
    assert 1e-7 < off[re >= 2000.0].max() < 3e-7
    assert np.all(np.diff(fraction(np.linspace(0.0, 5e5, 100_000))) > 0.0)
    assert min(*DRAG_NUMERATOR, *DRAG_DENOMINATOR) > 0.0


def fraction(re):
    u = re / REYNOLDS_UNIT
    return np.polyval(DRAG_NUMERATOR[::-1], u) / np.polyval(DRAG_DENOMINATOR[::-1], u)


def test_terminal_speeds():
    """Check 8: closed form; 25.78 m/s at C_D 0.47, 25.92 m/s with the second set of figures."""
    assert terminal_speed_m_s(AT_20_C, 0.47) == pytest.approx(25.78, abs=0.01)
    speed = 25.0
    for _ in range(50):
        re = 2 * 0.02 * speed * AT_20_C / 1.813e-5
        speed = terminal_speed_m_s(AT_20_C, float(clift_gauvin_refit(re)))
    assert speed == pytest.approx(25.92, abs=0.01)
    assert re == pytest.approx(6.86e4, rel=2e-3)


def test_terminal_speed_is_reached_in_flight():
    """A ball thrown down at its terminal speed keeps it, by the compiled flight."""
    c = Coefficients(drag_factor=0.0, drag_constant=0.47, lift=0.0, density_kg_m3=AT_20_C)
    speed = terminal_speed_m_s(AT_20_C, 0.47)
    path = free_path([3.0, 5.0, 19.0, 0.0, 0.0, -speed, 0, 0, 0], c.row(), 0.05, 10)
    assert path[-1, 5] == pytest.approx(-speed, abs=1e-9)


@pytest.mark.parametrize(("drop_m", "speed", "time"), [(2.54, 6.92794, 0.724238), (10.0, 13.03223, 1.463456)])
def test_fall_through_air_against_the_closed_form(drop_m, speed, time):
    """Check 9: v_t sqrt(1 - exp(-2 k h)) and acosh(exp(k h))/sqrt(g k), k = 0.0147569 per m."""
    c = Coefficients(drag_factor=0.0, drag_constant=0.47, lift=0.0, density_kg_m3=AT_20_C)
    k = c.aero_per_m * 0.47
    assert k == pytest.approx(0.0147569, abs=1e-6)
    hit = fly([3.0, 5.0, drop_m + 0.02, 0.0, 0.0, 0.0], c, bounces=1).contacts[0]
    # The note rounds its density; its figures hold to 1e-5, the closed form with ours to 1e-6.
    assert (hit.speed_m_s, hit.t_s) == pytest.approx((speed, time), abs=2e-5)
    closed = math.sqrt(c.gravity_m_s2 / k * (1.0 - math.exp(-2.0 * k * drop_m)))
    assert hit.speed_m_s == pytest.approx(closed, abs=1e-6)
    assert hit.t_s == pytest.approx(
        math.acosh(math.exp(k * drop_m)) / math.sqrt(c.gravity_m_s2 * k), abs=1e-6
    )


def test_drag_alone_slows_by_the_exponential_of_distance():
    """Check 10: v = v0 exp(-k s), in steps of 50 ms."""
    c = Coefficients(drag_factor=0.0, drag_constant=0.47, lift=0.0, gravity_m_s2=0.0)
    path = free_path([3.0, 9.0, 2.0, 0.0, -30.0, 0.0, 0, 0, 0], c.row(), 0.05, 12)
    gone = path[0, 1] - path[:, 1]
    assert -path[:, 4] == pytest.approx(30.0 * np.exp(-c.aero_per_m * 0.47 * gone), rel=1e-8)


def test_vacuum_apex_landing_and_energy():
    """Check 11: parabola."""
    c = Coefficients(drag_factor=0.0, lift=0.0)
    g = c.gravity_m_s2
    path = free_path([1.0, 9.0, 1.0, 2.0, -3.0, 7.0, 0, 0, 0], c.row(), 7.0 / g / 5, 11)
    assert path[5, :3] == pytest.approx([1 + 2 * 7 / g, 9 - 3 * 7 / g, 1 + 49 / (2 * g)], abs=1e-10)
    assert path[10, 2] == pytest.approx(1.0, abs=1e-10)
    energy = 0.5 * (path[:, 3:] ** 2).sum(axis=1) + g * path[:, 2]
    assert np.ptp(energy) < 1e-10
    down = fly([1.0, 9.0, 1.0, 2.0, -3.0, 7.0], c, bounces=1).contacts[0]
    assert down.t_s == pytest.approx((7.0 + math.sqrt(49.0 + 2 * g * 0.98)) / g, abs=1e-10)


def test_spin_alone_turns_the_path_into_a_circle():
    """Check 12: radius 2m/(rho A C_L), spin across the path, C_L steady (its bound 0.7/2 at endless spin)."""
    c = Coefficients(drag_factor=0.0, gravity_m_s2=0.0, lift=0.7e6)
    # At S -> 0 C_L = lift S, so the tiny spin that gives C_L 0.35 makes it steady to a part in a million.
    spin = 0.35 / c.lift * 20.0 / c.radius_m
    share = c.radius_m * spin / 20.0
    lift = c.lift * share / (2.0 * share + 1.0)
    radius = 1.0 / (c.aero_per_m * lift)
    path = free_path([0.5, 5.0, 2.0, 0.0, -20.0, 0.0, 0.0, 0.0, spin], c.row(), 0.02, 60)
    assert np.hypot(path[:, 3], path[:, 4]) == pytest.approx(20.0, abs=1e-6)
    turned = np.unwrap(np.arctan2(path[:, 4], path[:, 3]))
    assert np.ptp(turned) / (20.0 * 0.02 * 59) * radius == pytest.approx(1.0, abs=1e-6)


def test_a_tennis_ball_slows_as_its_wind_tunnel_figure_says():
    """Check 28, CROSS-LINDSEY (abstract): C_D 0.507 ± 0.024; 33 mm and 57.7 g from memory."""
    c = Coefficients(radius_m=0.033, mass_kg=0.0577, drag_factor=0.0, drag_constant=0.507, lift=0.0)
    path = free_path([3.0, 9.0, 2.0, 0.0, -30.0, 0.0, 0, 0, 0], c.row(), 0.1, 3)
    kept = np.linalg.norm(path[2, 3:]) / 30.0
    gone = 30.0 * 0.2 * 0.95
    assert kept == pytest.approx(1.0 - 0.507 * 1.19931 * math.pi * 0.033**2 / (2 * 0.0577) * gone, abs=0.01)
