"""Places at given times against the flights that tell contacts alone, and against small steps of both."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.ball import Coefficients, fly_contacts
from goodlength.ball.flight.path_at_times_kernel import path_at

LAUNCHES = np.array(
    [
        [5.0, 6.5, 1.5, -8.0, -28.0, 4.0, 0.0, 0.0, 0.0],
        [1.0, 7.0, 1.0, -20.0, -10.0, 5.0, 0.0, 0.0, 0.0],
        [2.0, 8.0, 0.5, 3.0, -25.0, 4.0, 30.0, 0.0, 60.0],
    ]
)


@pytest.mark.parametrize("k", range(3))
def test_contacts_are_those_of_the_other_flight(k: int) -> None:
    row = Coefficients().row()
    flown = fly_contacts(LAUNCHES, row[None], np.zeros(3, np.int64), threads=1)
    places, contacts = path_at(LAUNCHES[k], row, np.linspace(0.0, 4.0, 80))
    there = flown.rows[k, : flown.counts[k]]
    assert len(contacts) == len(there)
    np.testing.assert_allclose(contacts[:, :4], there[:, :4], atol=2e-6)
    np.testing.assert_array_equal(contacts[:, 4], there[:, 13])
    assert np.isfinite(places).all()
    np.testing.assert_allclose(places[-1], contacts[-1, 1:4])  # it stays at its second bounce


def test_places_do_not_depend_on_the_times_asked_for() -> None:
    row = Coefficients().row()
    fine, _ = path_at(LAUNCHES[0], row, np.linspace(0.0, 2.0, 401))
    coarse, _ = path_at(LAUNCHES[0], row, np.linspace(0.0, 2.0, 11))
    np.testing.assert_allclose(fine[::40], coarse, atol=1e-9)
    np.testing.assert_allclose(fine[0], LAUNCHES[0, :3])
