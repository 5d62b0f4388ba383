"""Games of server and receiver: STATS-REF 4.1 and 4.2, nashpy and a brute force as second opinions."""

from __future__ import annotations

import nashpy
import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.serve_mixed_strategy import advise, cautious, cell_means
from oracles.games import exploitability, solve_game

SQUASH = [[0.54, 0.42, 0.48], [0.44, 0.57, 0.47], [0.40, 0.46, 0.58], [0.45, 0.45, 0.45]]
PENALTY = [[58.30, 94.97], [92.91, 69.92]]
GAMES = {
    "two by two": ([[3, -1], [-2, 1]], [3 / 7, 4 / 7], [2 / 7, 5 / 7], 1 / 7),
    "rock, paper, scissors": ([[0, -1, 1], [1, 0, -1], [-1, 1, 0]], [1 / 3] * 3, [1 / 3] * 3, 0),
    # O'Neill's four cards, printed values from memory in STATS-REF
    "four cards": (
        [[0, 1, 1, 0], [1, 0, 1, 0], [1, 1, 0, 0], [0, 0, 0, 1]],
        [0.2, 0.2, 0.2, 0.4],
        [0.2, 0.2, 0.2, 0.4],
        0.4,
    ),
    # payoffs and "38.54, 41.99" from memory in STATS-REF
    "penalty kicks": (PENALTY, [121 / 314, 193 / 314], [0.4198793, 0.5801207], 79.5730255),
    "squash": (SQUASH, [36 / 73, 30 / 73, 7 / 73, 0], [77 / 219, 19 / 73, 85 / 219], 886 / 1825),
}


@pytest.mark.parametrize("name", GAMES)
def test_mixes_and_values(name):
    """STATS-REF 4.1."""
    payoff, rows, columns, value = GAMES[name]
    found = solve_game(payoff)
    assert found.value == pytest.approx(value, abs=1e-7)
    assert found.rows == pytest.approx(rows, abs=1e-6)
    assert found.columns == pytest.approx(columns, abs=1e-6)


@pytest.mark.parametrize("name", GAMES)
def test_nashpy_finds_the_same_value(name):
    payoff = np.array(GAMES[name][0], dtype=float)
    rows, columns = next(iter(nashpy.Game(payoff).support_enumeration()))
    assert rows @ payoff @ columns == pytest.approx(solve_game(payoff).value, abs=1e-9)


def test_a_degenerate_game_by_value_and_feasibility():
    """STATS-REF 4.1: several receiver mixes are best; value 12/25, server 1/2, 1/2, 0, 0."""
    payoff = np.array([[0.52, 0.40, 0.47], [0.44, 0.56, 0.49], [0.38, 0.45, 0.60], [0.50, 0.48, 0.42]])
    found = solve_game(payoff)
    assert found.value == pytest.approx(12 / 25, abs=1e-9)
    assert (found.rows @ payoff).min() == pytest.approx(12 / 25, abs=1e-9)
    assert (payoff @ found.columns).max() == pytest.approx(12 / 25, abs=1e-9)


def test_brute_force_over_a_fine_grid_of_mixes():
    payoff, steps = np.array(SQUASH), 60
    best = max(
        (np.array([i, j, k, steps - i - j - k]) / steps @ payoff).min()
        for i in range(steps + 1)
        for j in range(steps + 1 - i)
        for k in range(steps + 1 - i - j)
    )
    assert solve_game(payoff).value - 0.002 < best <= solve_game(payoff).value + 1e-12


def test_how_exploitable_a_mix_is():
    """STATS-REF 4.1."""
    earned = np.array([0.7, 0.2, 0.1, 0]) @ np.array(SQUASH)
    assert earned == pytest.approx([0.506, 0.454, 0.488], abs=1e-12)
    assert exploitability(SQUASH, [0.7, 0.2, 0.1, 0]) == pytest.approx(0.0314794521, abs=1e-9)
    assert exploitability(SQUASH, [1 / 3, 1 / 3, 1 / 3, 0]) == pytest.approx(0.0254794521, abs=1e-9)
    assert exploitability(SQUASH, solve_game(SQUASH).rows) == pytest.approx(0, abs=1e-9)


WINS = [[13, 4, 5], [5, 6, 3], [2, 3, 4], [4, 2, 1]]
TRIES = [[25, 10, 11], [12, 10, 6], [6, 6, 6], [8, 4, 3]]


def test_worked_example_of_uncertain_payoffs():
    """STATS-REF 4.2, simulated there with other draws: shares within .1, losses within .015.

    How the prior means of cells were made there is not printed; ours are row + column - overall.
    """
    mean, alpha, beta = cell_means(WINS, TRIES)
    found = solve_game(mean)
    assert found.rows == pytest.approx([0.569, 0.367, 0.065, 0], abs=0.1)
    assert found.value == pytest.approx(0.483, abs=0.01)
    draws = np.random.default_rng(7).beta(alpha, beta, size=(400, 4, 3))
    careful = cautious(draws).rows
    assert careful == pytest.approx([0.245, 0.294, 0.258, 0.203], abs=0.1)
    values = np.array([solve_game(a).value for a in draws])

    def loss(mix):
        return (values - np.einsum("k,ska->sa", np.array(mix), draws).min(axis=1)).mean()

    printed = {"mean": 0.078, "careful": 0.063, "current": 0.086, "even": 0.064}
    ours = {
        "mean": loss(found.rows),
        "careful": loss(careful),
        "current": loss([0.7, 0.2, 0.1, 0]),
        "even": loss([0.25] * 4),
    }
    for name, value in printed.items():
        assert ours[name] == pytest.approx(value, abs=0.015), name
    assert ours["careful"] <= min(ours.values()) + 1e-9


def test_a_hundred_serves_do_not_settle_a_mix():
    advice = advise(("lob", "hard", "mid-height", "body"), WINS, TRIES)
    assert not advice.settled
    assert max(high - low for low, high in zip(advice.share_low, advice.share_high, strict=True)) > 0.5
    assert advice.words.startswith("107 serves are too few to find the best mix.")
    assert advice == advise(("lob", "hard", "mid-height", "body"), WINS, TRIES)
    for loss in (advice.present_loss, advice.even_loss, advice.careful_loss):
        assert 0 <= loss[1] <= loss[0] <= loss[2]
    assert sum(advice.careful) == pytest.approx(1)


def test_many_serves_do():
    advice = advise(("lob", "hard"), [[6000, 3000], [3000, 6000]], [[10_000, 10_000]] * 2)
    assert advice.settled
    assert advice.share_low[0] < 0.5 < advice.share_high[0]
    assert "more even" not in advice.words


def test_by_kind_alone_there_is_no_game():
    advice = advise(("lob", "hard"), [[9], [5]], [[17], [12]])
    assert (advice.share_low, advice.share_high) == ((0.0, 0.0), (1.0, 1.0))
    assert not advice.settled
    assert advice.words == "29 serves are too few to say which kind wins most."
    assert "no mix to speak of" in advise(("lob",), [[3]], [[5]]).words
    clear = advise(("lob", "hard"), [[900], [300]], [[1000], [1000]])
    assert clear.settled
    assert "would soon wait for it" in clear.words


@pytest.mark.parametrize(
    "bad",
    [
        lambda: solve_game([]),
        lambda: solve_game([[float("nan")]]),
        lambda: exploitability(SQUASH, [1, 0]),
        lambda: advise(("lob",), [[0]], [[0]]),
        lambda: advise(("lob",), [[2]], [[1]]),
        lambda: advise(("lob", "hard"), [[1]], [[1]]),
    ],
)
def test_bad_input_is_refused_in_words(bad):
    with pytest.raises(OutOfRange):
        bad()
