"""The way back: every launch found passes what was wanted, and nothing found is said with the nearest."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.ball import Coefficients, FlightConstraints, aim_at_spots, fly, launches_through
from goodlength.ball.flight.batch_flight_simulation import fly_summaries
from goodlength.ball.model import flight_array_indices as at
from goodlength.errors import InputError

C = Coefficients()
START = [4.6, 5.6, 1.2]


def test_spots_on_the_front_wall_are_met_flat_and_lofted():
    rng = np.random.default_rng(1)
    n = 500
    starts = np.column_stack([np.full((n, 3), START), rng.normal(0, 60, (n, 3))])
    spots = np.column_stack([rng.uniform(0.5, 6, n), rng.uniform(0.6, 4.5, n)])
    speeds = rng.uniform(9, 40, n)
    flat, miss = aim_at_spots(starts, speeds, spots, [C.row()])
    met = miss < 1e-5
    assert met.mean() > 0.85
    rows = fly_summaries(flat[met], [C.row()]).rows
    straight = rows[:, at.FRONT_Z] > 0  # not through the floor or a side wall first
    assert np.abs(rows[straight][:, [at.FRONT_X, at.FRONT_Z]] - spots[met][straight]).max() < 1e-4
    assert np.linalg.norm(flat[:, 3:6], axis=1) == pytest.approx(speeds)
    slow = np.full(n, 10.5)
    low, miss_low = aim_at_spots(starts, slow, spots, [C.row()])
    high, miss_high = aim_at_spots(starts, slow, spots, [C.row()], high=True)
    both = (miss_low < 1e-5) & (miss_high < 1e-5)
    assert both.sum() > 100
    assert (high[both, 5] >= low[both, 5] - 1e-6).all()


def test_a_known_serve_is_found_again_from_where_it_went():
    """Whatever a launch does, asking for what it did gives it back among the ways."""
    rng = np.random.default_rng(2)
    found = 0
    for _ in range(5):
        launch, miss = aim_at_spots(
            [[*START, 0, 0, 0]],
            [rng.uniform(17, 26)],
            [[rng.uniform(2.5, 3.1), rng.uniform(2.4, 4)]],
            [C.row()],
        )
        row = fly_summaries(launch, [C.row()]).rows[0]
        if np.isnan(row[at.SIDE_Y]) or miss[0] > 1e-5:
            continue
        speed = float(np.linalg.norm(launch[0, 3:6]))
        ways = launches_through(
            START, FlightConstraints(side=("left", row[at.SIDE_Y], row[at.SIDE_Z])), C, speed
        )
        assert min(np.abs(np.array(way.launch) - launch[0]).max() for way in ways.ways) < 0.02
        free = launches_through(
            START, FlightConstraints(first_bounce=(row[at.ONE_X], row[at.ONE_Y])), C, speed
        )
        assert any(np.abs(np.array(way.launch) - launch[0]).max() < 0.02 for way in free.ways)
        found += 1
    assert found >= 3


def test_every_way_to_the_receivers_feet_is_found():
    """Straight at the feet, by the side wall, and off the back wall on the full."""
    ways = launches_through(START, FlightConstraints(first_bounce=(1.75, 7.75)), C, 25.0)
    assert len(ways.ways) == 3 and ways.words.startswith("3 shots at 25 m/s")
    second = sorted(fly(way.launch, C).contacts[1].surface.value for way in ways.ways)
    assert second == ["back-wall", "floor", "left-side-wall"]
    for way in ways.ways:
        first = fly(way.launch, C).bounces[0]
        assert (first.x_m, first.y_m) == pytest.approx((1.75, 7.75), abs=1e-3)


def test_speed_may_be_left_free_with_one_more_wish():
    ways = launches_through(START, FlightConstraints(side=("left", 6.8, 1.6), second_bounce_room=0.3), C)
    for way in ways.ways:
        assert fly(way.launch, C).room_m == pytest.approx(0.3, abs=1e-3)
    assert ways.ways


def test_the_back_wall_itself_is_met_within_a_radius():
    """The ball's middle cannot be at the wall: a second bounce at the back wall is one touching it."""
    ways = launches_through(START, FlightConstraints(side=("left", 6.8, 1.6), second_bounce_room=0.0), C)
    assert ways.ways and "a second bounce at the back wall" in ways.words
    for way in ways.ways:
        assert abs(fly(way.launch, C).room_m) <= C.radius_m + 1e-3


def test_no_way_is_said_with_the_nearest():
    far = launches_through(START, FlightConstraints(side=("left", 9.5, 4.0)), C, 9.0)
    assert far.ways == () and far.nearest is not None and "nearest misses by" in far.words
    slow = launches_through(START, FlightConstraints(front=(3.0, 3.5)), C, 6.0)
    assert slow.ways == () and "it takes at least" in slow.words
    assert slow.nearest is not None
    again = launches_through(START, FlightConstraints(front=(3.0, 3.5)), C, slow.nearest.speed_m_s)
    assert len(again.ways) >= 1


@pytest.mark.parametrize(
    ("wanted", "speed", "words"),
    [
        (FlightConstraints, 20.0, "Many different shots"),
        (lambda: FlightConstraints(front=(3.0, 3.0)), None, "Many different shots"),
        (lambda: FlightConstraints(front=(9.0, 3.0)), 20.0, "across the front wall must be from"),
        (lambda: FlightConstraints(side=("back", 3.0, 3.0)), 20.0, "one of left, right"),
        (lambda: FlightConstraints(first_bounce=(1.0, float("nan"))), 20.0, "not a number"),
        (lambda: FlightConstraints(front=(3.0, 3.0)), 300.0, "from 1 to 80"),
    ],
)
def test_wishes_that_cannot_be(wanted, speed, words):
    with pytest.raises(InputError, match=words):
        launches_through(START, wanted(), C, speed)
