"""Scoreboard model against STATS-REF 1.1 to 1.5 (computed there by fractions and by linear solves).

One formula is published and was read there: p/(1-pq) for the next point in hand-out scoring.
An independent count, the absorbing chain solved as linear equations, stands beside the table.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from goodlength.findings.statistics.win_probability_model import (
    game_table,
    importance,
    match_table,
    slopes,
)
from goodlength.scoring.scoring_types import Format, System
from oracles.score_distribution import score_chances

# a, b, P(game) A first, B first, rallies a game A first, P(10-all) A first, P(match) A, B first,
# rallies a match, games a match
PAR = [
    (0.50, 0.50, 0.5, 0.5, 18.82845306, 0.17619705, 0.5, 0.5, 77.667369, 4.125),
    (
        0.55,
        0.50,
        0.6000143772,
        0.5914203918,
        18.55479199,
        0.16300138,
        0.6766341864,
        0.6736431820,
        75.382322,
        4.061543,
    ),
    (
        0.50,
        0.55,
        0.5922919776,
        0.6008588803,
        18.96405532,
        0.18111264,
        0.6751420013,
        0.6781194951,
        77.324025,
        4.078508,
    ),
    (
        0.55,
        0.55,
        0.6868130862,
        0.6868130862,
        18.55205055,
        0.15934946,
        0.8190416396,
        0.8190416396,
        72.778079,
        3.922913,
    ),
    (
        0.60,
        0.50,
        0.6941802495,
        0.6782697520,
        18.13032173,
        0.14234059,
        0.8204682299,
        0.8160417094,
        70.864754,
        3.904994,
    ),
    (
        0.60,
        0.60,
        0.8364351998,
        0.8364351998,
        17.80522742,
        0.11714155,
        0.9662745585,
        0.9662745585,
        62.723154,
        3.522738,
    ),
    (
        0.65,
        0.55,
        0.8413781935,
        0.8299927013,
        17.35406961,
        0.10283777,
        0.9665139039,
        0.9652259599,
        60.955324,
        3.509018,
    ),
    (
        0.60,
        0.40,
        0.5180732344,
        0.4819267656,
        18.04909120,
        0.14370625,
        0.5067833779,
        0.4932166221,
        73.878587,
        4.093203,
    ),
    (
        0.70,
        0.30,
        0.5388678754,
        0.4611321246,
        17.20204880,
        0.11476484,
        0.5146347037,
        0.4853652963,
        69.774385,
        4.056167,
    ),
    (
        0.40,
        0.60,
        0.4821266798,
        0.5178733202,
        19.67142193,
        0.21555938,
        0.4932917843,
        0.5067082157,
        81.756875,
        4.156124,
    ),
    (
        0.70,
        0.50,
        0.8493019664,
        0.8262786765,
        16.86908325,
        0.08903667,
        0.9683784874,
        0.9658284213,
        58.924567,
        3.485845,
    ),
]


@pytest.mark.parametrize("row", PAR)
def test_games_and_matches_to_eleven(row):
    """STATS-REF 1.2; the printed match lengths are those with A first."""
    a, b, game_a, game_b, rallies, tie, match_a, match_b, match_rallies, games = row
    game, match = game_table(a, b), match_table(a, b)
    assert game.at((0, 0), 0) == pytest.approx(game_a, rel=1e-9)
    assert game.at((0, 0), 1) == pytest.approx(game_b, rel=1e-9)
    assert game.rallies_at((0, 0), 0) == pytest.approx(rallies, rel=1e-9)
    assert score_chances(a, b)[0][(10, 10)] == pytest.approx(tie, abs=5.1e-9)
    assert match.at((0, 0), (0, 0), 0) == pytest.approx(match_a, rel=1e-9)
    assert match.at((0, 0), (0, 0), 1) == pytest.approx(match_b, rel=1e-9)
    assert match.rallies[0, 0, 0] == pytest.approx(match_rallies, abs=5.1e-7)
    assert match.games[0, 0, 0] == pytest.approx(games, abs=5.1e-7)


def linear(a, b, target=11, most=60):
    """P(A wins the game) from every state, as linear equations cut off at a very long tie."""
    states = [
        (i, j, s)
        for i in range(most)
        for j in range(most)
        for s in (0, 1)
        if not (max(i, j) >= target and abs(i - j) >= 2) and abs(i - j) <= max(target, 2)
    ]
    place = {state: k for k, state in enumerate(states)}
    m, v = np.eye(len(states)), np.zeros(len(states))
    for (i, j, s), k in place.items():
        for winner, p in ((0, (a, b)[s]), (1, 1 - (a, b)[s])):
            x, y = i + (winner == 0), j + (winner == 1)
            if max(x, y) >= target and abs(x - y) >= 2:
                v[k] += p * (winner == 0)
            elif (x, y, winner) in place:
                m[k, place[(x, y, winner)]] -= p
    return np.linalg.solve(m, v)[place[(0, 0, 0)]]


@pytest.mark.parametrize(("a", "b"), [(0.5, 0.5), (0.6, 0.5), (0.7, 0.3)])
def test_an_independent_linear_solve_agrees(a, b):
    assert game_table(a, b).at((0, 0), 0) == pytest.approx(linear(a, b, most=22), abs=1e-4)


def test_exact_fractions():
    """STATS-REF 1.2."""
    assert game_table(0.6, 0.5).at((0, 0), 0) == pytest.approx(
        float(Fraction(100656136179, 145000000000)), rel=1e-12
    )
    tie = game_table(0.6, 0.4)
    assert (tie.at((10, 10), 0), tie.at((10, 10), 1)) == pytest.approx((5 / 9, 4 / 9), rel=1e-12)
    assert tie.at((15, 15), 0) == tie.at((10, 10), 0)
    assert game_table(0.55, 0.55).at((10, 10), 0) == pytest.approx(121 / 202, rel=1e-12)


def test_score_distribution():
    """STATS-REF 1.2."""
    even, _ = score_chances(0.5, 0.5)
    printed = {
        (11, 0): 0.00048828125,
        (11, 5): 0.0458221435546875,
        (11, 7): 0.074188232421875,
        (11, 8): 0.08346176147460938,
        (11, 9): 0.08809852600097656,
        (10, 10): 0.17619705200195312,
    }
    for score, chance in printed.items():
        assert even[score] == pytest.approx(chance, rel=1e-12)
        assert even[score[::-1]] == pytest.approx(chance, rel=1e-12)
    uneven, _ = score_chances(0.6, 0.5)
    for score, chance in {
        (11, 5): 0.08163214,
        (5, 11): 0.02522587,
        (11, 9): 0.08748217,
        (9, 11): 0.05902227,
    }.items():
        assert uneven[score] == pytest.approx(chance, abs=5.1e-9)
    assert sum(uneven.values()) == pytest.approx(1, rel=1e-12)


@pytest.mark.parametrize(
    ("target", "both", "edge"),
    [
        (9, 0.6714454272, 0.5201705148),
        (11, 0.6868130862, 0.5180732344),
        (15, 0.7133305010, 0.5153065312),
        (21, 0.7458375970, 0.5128267892),
    ],
)
def test_other_targets(target, both, edge):
    """STATS-REF 1.2: a = b = .55, and the first server's edge at (.6, .4)."""
    fmt = Format(target=target)
    assert game_table(0.55, 0.55, fmt).at((0, 0), 0) == pytest.approx(both, rel=1e-9)
    assert game_table(0.6, 0.4, fmt).at((0, 0), 0) == pytest.approx(edge, rel=1e-9)


def test_best_of_three():
    """STATS-REF 1.2."""
    assert match_table(0.55, 0.55, Format(best_of=3)).at((0, 0), (0, 0), 0) == pytest.approx(
        0.7671804013, rel=1e-9
    )


@pytest.mark.parametrize(
    ("games", "points", "server", "chance", "swing"),
    [
        ((1, 1), (9, 9), 0, 0.6253354872, 0.2458861356),
        ((2, 1), (8, 10), 1, 0.6545084960, 0.1261762085),
        ((0, 2), (0, 0), 1, 0.2129215448, 0.0618796608),
        ((2, 2), (10, 10), 0, 0.5614849188, 0.5104408353),
    ],
)
def test_states_within_a_match(games, points, server, chance, swing):
    """STATS-REF 1.2, a = .55, b = .50."""
    table = match_table(0.55, 0.50)
    assert table.at(games, points, server) == pytest.approx(chance, rel=1e-9)
    assert table.swing(games, points, server) == pytest.approx(swing, rel=1e-8)


@pytest.mark.parametrize("rates", [(0.6, 0.5), (0.6, 0.4), (0.7, 0.55)])
def test_who_serves_first_in_later_games_changes_nothing(rates):
    """STATS-REF 1.1: winner first, alternate and loser first give the same chance of the match."""
    chances = [
        match_table(*rates, first=first).at((0, 0), (0, 0), 0).item()
        for first in ("winner", "alternate", "loser")
    ]
    assert chances == pytest.approx([chances[0]] * 3, rel=1e-12)


# a, b, P(game) A first, B first, at 8-all: A serving to 9, to 10; B serving to 9, to 10; rallies A first
HAND_OUT = [
    (0.50, 0.50, 0.5351244911, 0.4648755089, (2 / 3, 16 / 27), (1 / 3, 11 / 27), 27.891335),
    (0.55, 0.55, 0.7556732691, 0.6969577206, (0.73089701, 0.69234383), (0.40199336, 0.51300619), 26.619884),
    (0.60, 0.60, 0.9034267531, 0.8693086416, (0.78947368, 0.78072605), (0.47368421, 0.61802012), 24.068320),
    (0.60, 0.50, 0.7520170894, 0.6826696298, (0.75, 0.703125), (0.375, 0.4921875), 23.912680),
    (0.60, 0.40, 0.5473310764, 0.4526689236, (0.71428571, 0.62682216), (0.28571429, 0.37317784), 22.658037),
    (0.70, 0.30, 0.5642216923, 0.4357783077, (0.76923077, 0.67364588), (0.23076923, 0.32635412), 18.754698),
    (0.40, 0.40, 0.1306913584, 0.0965732469, (0.52631579, 0.38197988), (0.21052632, 0.21927395), 25.295494),
    (0.65, 0.65, 0.9723618525, 0.9587148013, (0.84142395, 0.85394648), (0.54692557, 0.71613390), 21.067335),
]


@pytest.mark.parametrize("row", HAND_OUT)
def test_hand_out_scoring_to_nine(row):
    """STATS-REF 1.3."""
    a, b, first, second, a_serving, b_serving, rallies = row
    table = game_table(a, b, Format(system=System.HAND_OUT, target=9))
    assert table.at((0, 0), 0) == pytest.approx(first, rel=1e-9)
    assert table.at((0, 0), 1) == pytest.approx(second, rel=1e-9)
    assert table.rallies_at((0, 0), 0) == pytest.approx(rallies, abs=5.1e-7)
    assert table.at((8, 8), 0) == pytest.approx(min(a_serving), abs=5.1e-9)  # B chooses
    assert table.at((8, 8), 1) == pytest.approx(max(b_serving), abs=5.1e-9)  # A chooses


def test_hand_out_fraction_and_next_point():
    """STATS-REF 1.3: 69106064/129140163; p/(1-pq) and p^2/(1-pq) are printed in Beardon's article."""
    fmt = Format(system=System.HAND_OUT, target=9)
    assert game_table(0.5, 0.5, fmt).at((0, 0), 0) == pytest.approx(69106064 / 129140163, rel=1e-12)
    p, q = 0.6, 0.4
    item = game_table(p, p, Format(system=System.HAND_OUT, target=9))
    # one point from a game set to 10: the next point decides
    assert item.at((9, 9), 0) == pytest.approx(p / (1 - p * q), rel=1e-12)
    assert item.at((9, 9), 1) == pytest.approx(p * p / (1 - p * q), rel=1e-12)


@pytest.mark.parametrize(
    ("rates", "points", "moves"),
    [
        ((0.5, 0.5), (0, 0), 46189 / 262144),
        ((0.5, 0.5), (5, 5), 63 / 256),
        ((0.5, 0.5), (8, 8), 3 / 8),
        ((0.5, 0.5), (9, 9), 1 / 2),
        ((0.5, 0.5), (10, 9), 1 / 2),
        ((0.5, 0.5), (9, 10), 1 / 2),
        ((0.5, 0.5), (10, 10), 1 / 2),
        ((0.5, 0.5), (10, 8), 1 / 4),
        ((0.5, 0.5), (9, 5), 3 / 32),
        ((0.5, 0.5), (3, 8), 9 / 128),
        ((0.5, 0.5), (10, 5), 1 / 32),
        ((0.6, 0.5), (0, 0), 0.1591049748),
        ((0.6, 0.5), (5, 5), 0.2344655172),
        ((0.6, 0.5), (9, 9), 15 / 29),
        ((0.6, 0.5), (10, 10), 15 / 29),
        ((0.6, 0.5), (10, 9), 0.4310344828),
        ((0.6, 0.5), (9, 10), 0.6206896552),
        ((0.6, 0.5), (8, 10), 0.3724137931),
    ],
)
def test_importance_of_a_rally(rates, points, moves):
    """STATS-REF 1.4; it does not depend on who serves."""
    table = game_table(*rates)
    for server in (0, 1):
        assert importance(table, points, server) == pytest.approx(moves, rel=1e-9)


SLOPES = [
    (0.50, 0.50, 2.0262660980, 1.8500690460, 3.6671011448, 3.6010272503, 3.6340641975),
    (0.55, 0.50, 1.9574574385, 1.7914529303, 3.2884359935, 3.2393355848, 3.2645048603),
    (0.60, 0.50, 1.7950205357, 1.6263731671, 2.4139677438, 2.3574102770, 2.4096954647),
    (0.45, 0.45, 1.8268717597, 1.6378580932, 2.4481940356, 2.3610295681, 2.4262945052),
    (0.40, 0.40, 1.3083116961, 1.1523540105, 0.7093447391, 0.6723692932, 0.7030199918),
]


@pytest.mark.parametrize(("a", "b", "game_a", "game_b", "match_a", "match_b", "mean"), SLOPES)
def test_what_a_better_serve_is_worth(a, b, game_a, game_b, match_a, match_b, mean):
    """STATS-REF 1.5, first server A; the last column is the mean over both first servers."""
    found = slopes(a, b, first_server=0)
    assert [found[k] for k in ("game_a", "game_b", "match_a", "match_b")] == pytest.approx(
        [game_a, game_b, match_a, match_b], rel=1e-9
    )
    assert slopes(a, b)["match_a"] == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize(
    ("before", "after", "gain"),
    [
        ((0.5, 0.5), (0.51, 0.5), 0.0362599485),
        ((0.5, 0.5), (0.52, 0.5), 0.0721702051),
        ((0.5, 0.5), (0.55, 0.5), 0.1751386842),
        ((0.45, 0.5), (0.5, 0.5), 0.5 - 0.3233692518),
    ],
)
def test_finite_gains(before, after, gain):
    """STATS-REF 1.5, mean over both first servers."""

    def chance(rates):
        table = match_table(*rates)
        return sum(table.at((0, 0), (0, 0), s).item() for s in (0, 1)) / 2

    assert chance(after) - chance(before) == pytest.approx(gain, abs=5.1e-11)


def test_slope_is_visits_times_importance():
    """STATS-REF 1.4: dG/da is the sum over states with A serving of visits x importance; the tie by hand."""
    a, b = 0.6, 0.5
    table = game_table(a, b)
    _, visits = score_chances(a, b)
    below = sum(
        chance * importance(table, (i, j), s).item()
        for (i, j, s), chance in visits.items()
        if s == 0 and (i, j) != (10, 10)
    )
    step = 1e-30
    tie = sum(
        visits[(10, 10, s)]
        * game_table(np.asarray(a + 1j * step), np.asarray(b + 0j)).at((10, 10), s).imag
        / step
        for s in (0, 1)
    )
    assert below + tie == pytest.approx(1.7950205357, rel=1e-9)


def test_posterior_of_a_forecast_is_wide():
    """STATS-REF 1.5, simulated there with 8000 draws: mean 0.551, 5 to 95 in 100 from 0.098 to 0.948."""
    rng = np.random.default_rng(3)
    a, b = rng.beta(28, 24, 8000), rng.beta(25, 27, 8000)
    table = match_table(a, b)
    chance = (table.at((0, 0), (0, 0), 0) + table.at((0, 0), (0, 0), 1)) / 2
    assert chance.mean() == pytest.approx(0.551, abs=0.012)
    assert np.quantile(chance, [0.05, 0.95]) == pytest.approx([0.098, 0.948], abs=0.015)
    plug_in = match_table(28 / 52, 25 / 52)
    assert sum(plug_in.at((0, 0), (0, 0), s).item() for s in (0, 1)) / 2 == pytest.approx(
        0.5693026811, rel=1e-8
    )
