"""Does serving help: the count of legal orders, and which games can be used."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from goodlength.findings.analyses.serve_advantage import over, serve_edge, server_wins
from goodlength.findings.rally_masks import RallyMasks
from goodlength.synthetic.simulated_matches import World, invent_match


def written_out(start, end, server, target):
    """Every order of points, one by one."""
    a, b = end[0] - start[0], end[1] - start[1]
    counts = np.zeros(a + b + 1)
    for order in set(itertools.permutations([0] * a + [1] * b)):
        points, serving, wins, legal = list(start), server, 0, True
        for winner in order:
            legal = legal and not over(points[0], points[1], target)
            wins += winner == serving
            serving = winner
            points[winner] += 1
        counts[wins] += legal
    return counts / counts.sum()


@pytest.mark.parametrize(
    ("start", "end", "server", "target"),
    [
        ((0, 0), (3, 1), 0, 3),
        ((0, 0), (1, 3), 0, 3),
        ((0, 0), (5, 3), 1, 3),
        ((2, 0), (3, 2), 1, 11),
        ((1, 1), (1, 1), 0, 11),
    ],
)
def test_orders_against_every_one_written_out(start, end, server, target):
    assert server_wins(start, end, server, target) == pytest.approx(written_out(start, end, server, target))


def test_no_legal_order():
    assert server_wins((0, 0), (4, 1), 0, 3) is None


def game(winners, first="a", number=1):
    """Rows of one game from its winners."""
    rows, server = [], first
    for winner in winners:
        rows.append({"game": number, "server": server, "winner": winner})
        server = winner
    return rows


def test_a_server_who_always_wins_stands_out(make):
    test = serve_edge(RallyMasks(make(game("a" * 9 + "b" * 9))))
    assert test is not None
    assert test.seen == 17
    assert test.p < 0.001


def test_a_game_with_a_rally_missing_drops_out(make):
    rows = game("abbaab")
    del rows[3]
    table = make(rows)
    assert serve_edge(RallyMasks(table)) is None


def test_lets_are_passed_over(make):
    rows = game("abba")
    rows.insert(2, {"game": 1, "server": "b", "let": True})
    test = serve_edge(RallyMasks(make(rows)))
    assert test is not None
    assert test.seen == serve_edge(RallyMasks(make(game("abba")))).seen


@pytest.mark.parametrize("first", "ab")
def test_p_of_serving_is_never_below_its_smaller_tail(make, first):
    """Totals of one parity are likelier: "7 of 10 serving and 3 of 5 receiving" was said to be rare."""
    for winners in itertools.product("ab", repeat=7):
        test = serve_edge(RallyMasks(make(game(winners, first=first))))
        assert test is not None
        mid_lower = test.lower - (test.upper - test.mid_upper)
        assert test.p == pytest.approx(min(1.0, 2 * min(test.upper, test.lower)))
        assert test.mid_p == pytest.approx(min(1.0, 2 * min(test.mid_upper, mid_lower)))


def test_hand_out_scoring_is_not_asked(make):
    """In hand-out scoring the score stands still when the receiver wins, so the rows do not add up."""
    table = make(game("abba"))
    still = np.zeros(4, dtype=np.int16)
    assert serve_edge(RallyMasks(type(table)(**{**vars(table), "score_a": still, "score_b": still}))) is None


def test_two_thousand_rallies_stay_within_the_numbers_there_are():
    """Before: over about 1,450 rallies of a season p beside runs was no number (overflow)."""
    table = invent_match(np.random.default_rng(5), World(serving=0.1), games_to=70).table
    view = RallyMasks(table)
    assert view.n > 2000
    plain, in_runs = serve_edge(view), serve_edge(view, 0.12)
    assert 0 <= plain.mid_p < in_runs.mid_p <= 1
    assert in_runs.expected > plain.expected
