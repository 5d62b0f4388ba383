"""Laws of the scoreboard, whatever the chances of a rally."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.findings.statistics.win_probability_model import (
    game_table,
    importance,
    match_table,
)
from goodlength.scoring.scoring_types import Format, System
from oracles.score_distribution import score_chances

chance = st.floats(0.05, 0.95)
formats = st.sampled_from([Format(), Format(target=15, best_of=3), Format(system=System.HAND_OUT, target=9)])


@settings(max_examples=25, deadline=None)
@given(chance, chance, formats)
def test_exchanging_the_players_turns_the_chance_round(a, b, fmt):
    """V(a, b; A first) + V(1-b, 1-a; B first) = 1, of game and match."""
    mine, theirs = match_table(a, b, fmt), match_table(1 - b, 1 - a, fmt)
    for server in (0, 1):
        total = mine.at((0, 0), (0, 0), server) + theirs.at((0, 0), (0, 0), 1 - server)
        assert total == pytest.approx(1, abs=1e-9)
        game = mine.game.at((3, 5), server) + theirs.game.at((5, 3), 1 - server)
        assert game == pytest.approx(1, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(chance, chance, formats)
def test_a_better_rally_is_a_better_game(a, b, fmt):
    here, better = game_table(a, b, fmt), game_table(min(a + 0.02, 0.97), b, fmt)
    assert better.at((0, 0), 0) >= here.at((0, 0), 0) - 1e-12
    assert game_table(a, min(b + 0.02, 0.97), fmt).at((0, 0), 0) >= here.at((0, 0), 0) - 1e-12


@settings(max_examples=25, deadline=None)
@given(chance, chance)
def test_scores_add_up_and_swings_are_chances(a, b):
    final, _ = score_chances(a, b)
    assert sum(final.values()) == pytest.approx(1, abs=1e-9)
    table = game_table(a, b)
    for points in ((0, 0), (10, 9), (4, 8), (12, 12)):
        item, two = (importance(table, points, s) for s in (0, 1))
        assert item == pytest.approx(two, abs=1e-12)
        assert 0 <= item <= 1


@pytest.mark.parametrize("score", range(14))
def test_equal_players_are_equal_at_every_tie(score):
    assert game_table(0.5, 0.5).at((score, score), 0) == pytest.approx(0.5, abs=1e-12)


@settings(max_examples=10, deadline=None)
@given(chance, chance)
def test_arrays_and_single_chances_agree(a, b):
    many = match_table(np.array([a, 0.5]), np.array([b, 0.5])).at((1, 0), (4, 2), 1)
    assert many[0] == pytest.approx(match_table(a, b).at((1, 0), (4, 2), 1).item(), rel=1e-12)
