"""Length, tightness and standing from arrays of places."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.errors import InputError, OutOfRange
from goodlength.findings.analyses.positions import court_positions, tightness


def test_tightness_is_that_of_plain_sorting() -> None:
    rng = np.random.default_rng(3)
    places = np.column_stack([rng.uniform(0, WIDTH_M, 51), rng.uniform(0, LENGTH_M, 51)])
    seen = tightness(np.vstack([places, [[np.nan, 1.0]]]))
    assert seen.n == 51
    sides = sorted(min(x, WIDTH_M - x) for x, _ in places)
    assert seen.from_side is not None
    assert seen.from_side.median == pytest.approx(sides[25])
    assert seen.from_back is not None
    assert seen.from_back.median == pytest.approx(sorted(LENGTH_M - y for _, y in places)[25])
    mirrored = tightness(np.column_stack([WIDTH_M - places[:, 0], places[:, 1]]))
    assert mirrored.from_side == seen.from_side or mirrored.from_side.median == pytest.approx(sides[25])


def test_standing_at_chosen_moments() -> None:
    places = [[T_M[0], T_M[1]], [T_M[0], T_M[1] + 3], [1.0, 1.0], [2.0, 8.0], [5.0, 5.0], [3.2, 6.0]]
    every, some = court_positions(places), court_positions(places, [True, True, False, False, False, False])
    assert every.n == 6
    assert every.from_t is not None
    assert some.n == 2
    assert some.from_t is None  # two places are too few for a range
    assert some.middle_m == pytest.approx((T_M[0], T_M[1] + 1.5))


def test_nothing_and_nonsense() -> None:
    assert tightness([]).n == 0
    assert court_positions([]).middle_m is None
    with pytest.raises(OutOfRange, match="off the floor"):
        tightness([[9.0, 1.0]])
    with pytest.raises(InputError, match="pairs"):
        tightness([[1.0, 2.0, 3.0]])
    with pytest.raises(InputError, match="one for each place"):
        court_positions([[1.0, 2.0]], [True, False])
