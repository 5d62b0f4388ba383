"""Time on court: held against counting by hand and drawn balls, mirrored, and refused where shapes differ."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.findings.analyses.time_on_court_map import ACROSS, DOWN, time_on_court


def drawn(seed: int, n: int = 400) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    places = rng.uniform((0.0, 0.0), (WIDTH_M, LENGTH_M), (n, 2))
    return places, rng.uniform(0.0, 0.2, n), rng.uniform(0.0, 0.5, n)


def test_sure_places_are_counted_in_their_cells() -> None:
    """Cells are 0.40 m across; half a metre inside a cell of sure places nothing spills over."""
    centres = [((c + 0.5) * WIDTH_M / ACROSS, (r + 0.5) * LENGTH_M / DOWN) for r, c in ((3, 2), (20, 9))]
    found = time_on_court(centres, [3.2, 0.8], [0.0, 0.0])
    assert found is not None and found.seconds == 4.0
    assert found.share[3, 2] == pytest.approx(0.8, abs=1e-6)
    assert found.share[20, 9] == pytest.approx(0.2, abs=1e-6)
    assert found.share.sum() == pytest.approx(1.0)
    assert (found.part[3, 2], found.part[20, 9]) == (0, 2)  # half is full with the first; three quarters, too


def test_a_place_is_spread_as_balls_drawn_with_its_error_fall() -> None:
    """An independent way: 200,000 draws with the error, those on the floor counted by cell; 4 standard errors."""
    rng, n = np.random.default_rng(5), 200_000
    at, error = np.array([0.3, 6.0]), 0.6
    throws = at + rng.normal(0.0, error / np.sqrt(2.0), (n, 2))
    fine = throws[(throws >= 0).all(axis=1) & (throws <= (WIDTH_M, LENGTH_M)).all(axis=1)]
    counted, _, _ = np.histogram2d(
        fine[:, 1], fine[:, 0], bins=(DOWN, ACROSS), range=((0, LENGTH_M), (0, WIDTH_M))
    )
    found = time_on_court([at], [2.0], [error])
    assert found is not None
    expected = found.share
    standard_error = np.sqrt(expected * (1 - expected) / len(fine)) + 1e-9
    assert (np.abs(counted / len(fine) - expected) < 4 * standard_error + 2 / n).all()


@pytest.mark.parametrize("seed", range(5))
def test_parts_hold_at_least_their_share_and_are_the_smallest_that_do(seed: int) -> None:
    found = time_on_court(*drawn(seed))
    assert found is not None
    for shade, least in enumerate((0.5, 0.75, 0.95)):
        inside = found.part <= shade
        assert found.share[inside].sum() >= least - 1e-12
        assert found.share[inside].sum() - found.share[inside].min() < least  # without the last it is less
        assert found.share[inside].min() >= found.share[~inside].max()


@pytest.mark.parametrize("seed", range(3))
def test_the_court_mirrored_mirrors_the_answer(seed: int) -> None:
    places, seconds, errors = drawn(seed)
    found = time_on_court(places, seconds, errors)
    mirrored = time_on_court(np.column_stack([WIDTH_M - places[:, 0], places[:, 1]]), seconds, errors)
    assert found is not None and mirrored is not None
    assert mirrored.share == pytest.approx(found.share[:, ::-1])
    assert mirrored.left == pytest.approx(1.0 - found.left)
    assert (mirrored.front, mirrored.near_t) == (pytest.approx(found.front), pytest.approx(found.near_t))


def test_places_off_the_floor_unknown_or_of_no_time() -> None:
    found = time_on_court([[-0.2, 12.0], [np.nan, 2.0], [3.0, 3.0]], [1.0, 1.0, 0.0], [0.1, 0.1, 0.1])
    assert found is not None and found.seconds == 1.0
    assert found.share[-1, 0] == pytest.approx(1.0, abs=1e-6) and found.left == 1.0
    assert time_on_court([], [], []) is None
    assert time_on_court([[3.0, 3.0]], [0.0], [0.1]) is None
    with pytest.raises(InputError, match="1 places, 2 times and 1 errors"):
        time_on_court([[3.0, 3.0]], [1.0, 1.0], [0.1])
    with pytest.raises(InputError, match="zero or more, in s; got -1"):
        time_on_court([[3.0, 3.0]], [-1.0], [0.1])
