"""Laws of the game of server and receiver, whatever the payoffs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oracles.games import exploitability, solve_game

payoffs = st.tuples(st.integers(1, 5), st.integers(1, 4)).flatmap(
    lambda shape: arrays(float, shape, elements=st.floats(0.05, 0.95).map(lambda x: round(x, 3)))
)


@settings(max_examples=40, deadline=None)
@given(payoffs)
def test_value_lies_between_the_pure_answers_and_both_mixes_earn_it(payoff):
    found = solve_game(payoff)
    assert payoff.min(axis=1).max() - 1e-9 <= found.value <= payoff.max(axis=0).min() + 1e-9
    assert (found.rows @ payoff).min() == pytest.approx(found.value, abs=1e-8)
    assert (payoff @ found.columns).max() == pytest.approx(found.value, abs=1e-8)
    assert exploitability(payoff, found.rows) == pytest.approx(0, abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(payoffs, st.floats(-0.5, 0.5))
def test_a_constant_shifts_the_value_only(payoff, shift):
    assert solve_game(payoff + shift).value == pytest.approx(solve_game(payoff).value + shift, abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(payoffs)
def test_no_mix_gives_away_less_than_nothing(payoff):
    even = np.full(payoff.shape[0], 1 / payoff.shape[0])
    assert exploitability(payoff, even) >= -1e-9
