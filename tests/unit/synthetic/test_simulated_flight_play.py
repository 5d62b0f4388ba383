"""Flights of the learning play: gravity, walls and what a ball gives back, and strikes that follow from it."""

import itertools

import numpy as np
import pytest

from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import (
    BallReturn,
    FlightSession,
    fly,
)

LIVELY = BallReturn(wall=0.8, floor=0.5, along=0.9)


def test_a_dropped_ball_falls_as_gravity_says_and_bounces_to_a_quarter_of_its_height():
    """1.2 m take sqrt(2 h / g) = 0.495 s; with half the speed back, up and down take as long again."""
    bounces, _ = fly(LIVELY, np.array([3.2, 5.0, 1.2]), np.zeros(3))
    assert [b.surface for b in bounces[:2]] == [Surface.FLOOR, Surface.FLOOR]
    assert bounces[0].after_s == pytest.approx(0.495, rel=0.04)  # air takes up to 3 of 100
    assert bounces[0].speed == pytest.approx(np.sqrt(2 * 9.81 * 1.2), rel=0.05)
    assert bounces[1].after_s - bounces[0].after_s == pytest.approx(0.495, rel=0.08)


def test_a_straight_hit_reaches_the_front_wall_first_and_comes_back_slower():
    bounces, chances = fly(LIVELY, np.array([3.2, 7.0, 1.0]), np.array([0.0, -30.0, 2.0]))
    assert bounces[0].surface is Surface.FRONT_WALL
    assert 7.0 / 30.0 < bounces[0].after_s < 1.15 * 7.0 / 30.0
    assert bounces[1].after_s - bounces[0].after_s > bounces[0].after_s
    assert min(at for at, _ in chances) > bounces[0].after_s


def test_an_angled_hit_comes_to_a_side_wall_before_the_front_wall():
    bounces, _ = fly(LIVELY, np.array([1.0, 6.0, 1.0]), np.array([-12.0, -18.0, 3.0]))
    assert [b.surface for b in bounces[:2]] == [Surface.OTHER_WALL, Surface.FRONT_WALL]


def test_between_strikes_of_a_rally_the_ball_goes_out_faster_than_it_comes_back():
    shares, between = [], []
    for seed in range(6):
        played = FlightSession(np.random.default_rng(seed), 200.0, "match").play()
        knocks = sorted(played.knocks, key=lambda knock: knock.time_s)
        for span in (s for s in played.spans if s.activity is Activity.RALLY):
            inside = [k for k in knocks if span.start_s <= k.time_s <= span.last_strike_s]
            rackets = [k.time_s for k in inside if k.surface is Surface.RACKET]
            for a, b in itertools.pairwise(rackets):
                walls = [k.time_s for k in inside if k.surface is Surface.FRONT_WALL and a < k.time_s < b]
                between.append(bool(walls))
                shares += [(walls[0] - a) / (b - a)] if walls else []
    assert len(shares) > 100
    assert np.mean(between) > 0.97
    assert np.mean(np.array(shares) < 0.5) > 0.8
    assert np.quantile(shares, 0.5) < 0.35


def test_strikers_take_turns_in_a_rally():
    played = FlightSession(np.random.default_rng(1), 200.0, "match").play()
    rallies = [s for s in played.spans if s.activity is Activity.RALLY]
    assert rallies
    for span in rallies:
        inside = [k for k in played.knocks if span.start_s <= k.time_s <= span.last_strike_s]
        who = [k.striker for k in sorted(inside, key=lambda k: k.time_s) if k.surface is Surface.RACKET]
        assert all(a != b for a, b in itertools.pairwise(who))
