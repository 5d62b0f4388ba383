"""Where a player stands, from arrays of places."""

from __future__ import annotations

import pytest

from goodlength.court.dimensions import T_M
from goodlength.errors import InputError, OutOfRange
from goodlength.findings.analyses.player_distance_from_t_quartiles import court_positions


def test_standing_at_chosen_moments() -> None:
    places = [[T_M[0], T_M[1]], [T_M[0], T_M[1] + 3], [1.0, 1.0], [2.0, 8.0], [5.0, 5.0], [3.2, 6.0]]
    every, some = court_positions(places), court_positions(places, [True, True, False, False, False, False])
    assert every.n == 6
    assert every.from_t is not None
    assert some.n == 2
    assert some.from_t is None  # two places are too few for a range
    assert some.middle_m == pytest.approx((T_M[0], T_M[1] + 1.5))


def test_nothing_and_nonsense() -> None:
    assert court_positions([]).middle_m is None
    with pytest.raises(OutOfRange, match="off the floor"):
        court_positions([[9.0, 1.0]])
    with pytest.raises(InputError, match="pairs"):
        court_positions([[1.0, 2.0, 3.0]])
    with pytest.raises(InputError, match="one for each place"):
        court_positions([[1.0, 2.0]], [True, False])
