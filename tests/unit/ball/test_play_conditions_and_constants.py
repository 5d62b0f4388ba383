"""Settings, draws, paths: the smaller parts of the ball."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.ball import Air, Ball, Court, PlayConditions, draw, e7_at, fly, serve
from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model import flight_array_indices as at

LAUNCH = [4.6, 5.6, 1.2, -5.5, -19.0, 5.0]


def test_every_number_has_a_range_a_source_and_guesses_say_so():
    for name, value in vars(c).items():
        if isinstance(value, c.Quantity):
            assert value.low <= value.value <= value.high, name
            assert value.source and value.words and value.unit, name
            assert value.assumed == (value.source == "ASSUMED"), name
            if name.startswith("ASSUMED_"):
                assert value.assumed, name


def test_warmth_and_dot_order_the_bounce():
    hot, warm, club, cold = (
        PlayConditions(Ball(warmth=w)).coefficients().e7 for w in ("hot", "warm", "club", "cold")
    )
    assert hot > warm > club > cold
    assert PlayConditions(Ball(dot="blue")).coefficients().e7 > warm
    assert PlayConditions(Ball(dot="blue")).coefficients().radius_m == pytest.approx(0.0224)
    assert PlayConditions(Ball(temperature_c=45.0)).coefficients().e7 == e7_at(45.0) == hot


def test_court_and_air_reach_the_coefficients():
    glass = PlayConditions(court=Court(walls="glass", tin="tour")).coefficients()
    assert glass.friction.front == 0.5 and glass.tin_m == 0.43
    assert PlayConditions(air=Air.at_altitude(2240)).coefficients().density_kg_m3 < 0.92


def test_draws_scatter_about_the_middle_and_repeat_with_the_same_rng():
    setting = PlayConditions()
    a, b = (draw(setting, 3000, np.random.default_rng(4)) for _ in range(2))
    assert np.array_equal(a.sets, b.sets) and np.array_equal(a.spins, b.spins)
    middle = setting.coefficients().row()
    for column in (at.E7, at.ALPHA, at.DRAG_BY_REYNOLDS, at.K_FRONT):
        assert a.sets[:, column].mean() == pytest.approx(middle[column], rel=0.02)
        assert a.sets[:, column].std() > 0
    assert a.sets[:, at.E7].std() == pytest.approx(0.03, abs=0.003)
    assert np.array_equal(a.sets[:, at.K_LEFT], a.sets[:, at.K_RIGHT])
    assert (a.sets[:, at.MU_FRONT] > 0.1).all()
    assert draw(setting, 5, np.random.default_rng(4), spin_sd_rad_s=0.0).spins.any() == np.False_


def test_path_starts_at_the_racket_and_passes_every_contact():
    flight = fly(LAUNCH)
    path = flight.path(0.01)
    assert path[0].tolist() == [0.0, 4.6, 5.6, 1.2]
    assert (np.diff(path[:, 0]) > 0).all()
    for touch in flight.contacts:
        near = path[np.argmin(np.abs(path[:, 0] - touch.t_s))]
        assert near == pytest.approx([touch.t_s, touch.x_m, touch.y_m, touch.z_m], abs=1e-9)


def test_a_serve_says_what_the_receiver_meets():
    seen = serve("right", [4.6, 5.8, 0.8, -5.0, -15.5, 9.5])
    level = seen.at_receiver
    assert level is not None and 1.2 < level.t_s < 2.2
    assert seen.legal and seen.flight.bounces[0].x_m < 3.175
    assert seen.second_bounce_from_side_m == pytest.approx(seen.flight.bounces[1].x_m)
    tin = serve("right", [4.6, 5.6, 0.5, -3.0, -20.0, 0.0])
    assert tin.flight.contacts[0].surface.value == "tin" and not tin.legal
    high = serve("right", [4.6, 5.8, 0.8, -4.0, -14.0, 14.0])
    assert not high.legal and high.verdict.result.value == "out"


def test_high_ball_is_told_of_the_lamps():
    assert fly([3.2, 8.0, 1.0, 0.0, -9.0, 11.0]).near_ceiling
    assert not fly(LAUNCH).near_ceiling
