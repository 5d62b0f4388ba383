"""What practice refuses, and what it says at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.errors import InputError
from goodlength.practice import (
    carried_over,
    hit_rate,
    learning_curve,
    scatter_of,
)


def test_more_hits_than_attempts_is_refused_with_both_numbers() -> None:
    with pytest.raises(InputError, match="16 hits in 15 attempts"):
        hit_rate(16, 15)


def test_no_attempts_leave_what_was_known() -> None:
    rate = hit_rate(0, 0, before=(2, 2))
    assert rate.rate == 0.5
    assert rate.low < 0.1
    assert rate.high > 0.9


@pytest.mark.parametrize("places", [[], [(0.0, 0.0)], [(0.0, 0.0), (1.0, 1.0)]])
def test_too_few_places_give_a_sentence(places: list[tuple[float, float]]) -> None:
    with pytest.raises(InputError):
        scatter_of(places)


def test_a_place_that_is_not_a_number_is_named() -> None:
    with pytest.raises(InputError, match="Attempt 2"):
        scatter_of([(0, 0), (float("nan"), 1), (1, 1)])


def test_bias_is_the_middle_less_the_aim() -> None:
    seen = scatter_of([(0, 0), (1, 0), (0, 1), (1, 1)], aim_m=(0.25, 0.5))
    assert seen.bias_m == pytest.approx((0.25, 0.0))


def test_a_player_who_learns_fast_then_levels_off_shows_a_curve() -> None:
    t = np.arange(14)
    rates = 0.8 - 0.7 * np.exp(-t / 2.0)
    told = learning_curve(np.round(200 * rates), np.full(14, 200))
    assert told.shape == "curved"
    assert told.levels_off_at == pytest.approx(0.8, abs=0.05)


def test_steady_sets_show_no_curve() -> None:
    assert learning_curve([10, 11, 9, 10, 10, 11, 9], [20] * 7).shape == "flat"


def test_four_sessions_are_too_few_for_a_curve() -> None:
    with pytest.raises(InputError, match="at least 5"):
        learning_curve([1, 2, 3, 4], [10] * 4)


def test_unlike_conditions_are_left_out_and_counted() -> None:
    told = carried_over({"Petra": (4, 10)}, {"Oona": (8, 10)})
    assert told.change is None
    assert (told.compared, told.left_out) == (0, 20)
