"""Chances that hold under runs and under boxes, against every order written out and against invented servers."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from goodlength.findings.analyses.serve_advantage import (
    ASSUMED_RUN,
    p_against_runs,
    run_odds,
    serve_edge,
)
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.evidence_grades import GradeEvidence, grade
from goodlength.findings.statistics.exact_tests import fisher
from goodlength.findings.statistics.restricted_permutation_tests import (
    change_weight,
    drift_p,
    early_chances,
    independent_part,
    mid_p,
    repeats_within,
)
from goodlength.findings.statistics.serve_repetition_null import repeat_test
from goodlength.synthetic.simulated_matches import World, invent_match


@pytest.mark.parametrize(("early", "late", "ones"), [(4, 5, 3), (3, 3, 3), (5, 2, 6), (1, 6, 2)])
@pytest.mark.parametrize("weight", [1.0, 0.6, 0.25])
def test_chances_of_the_early_part_are_those_of_every_order_written_out(early, late, ones, weight):
    low, chances = early_chances(early, late, ones, weight)
    counted: dict[int, float] = {}
    for order in itertools.product((0, 1), repeat=early + late):
        if sum(order) == ones:
            runs = 1 + sum(a != b for a, b in itertools.pairwise(order))
            counted[sum(order[:early])] = counted.get(sum(order[:early]), 0.0) + weight**runs
    whole = sum(counted.values())
    assert [low + i for i in range(chances.size)] == sorted(counted)
    assert chances == pytest.approx([counted[k] / whole for k in sorted(counted)], rel=1e-12)


@pytest.mark.parametrize("serves", [5, 8, 10])
def test_equal_parts_are_no_drift_for_a_server_who_repeats(serves):
    """Where a server repeats much, all of a kind in one part is likelier than one in each: p was .3 to .4."""
    early = [True] + [False] * (serves - 1)
    assert drift_p(early, early[::-1]) == pytest.approx(1.0)


def test_a_number_of_repeats_beside_the_expected_one_is_not_rare():
    """7 repeats of 12 where 7.4 are expected: p was .30, each tail .42 and .58."""
    test = repeat_test(["LLLLSLLSLLLLS"])
    assert (test.seen, round(test.expected, 1)) == (7, 7.4)
    assert test.mid_p == pytest.approx(2 * 0.4195804)


def test_the_weight_of_a_run_is_that_of_the_chain():
    """A chain that repeats with chance r: odds of staying against changing, both ways round."""
    r, share = 0.35, 0.3
    stay = (r + (1 - r) * share) * (r + (1 - r) * (1 - share))
    change = (1 - r) * share * (1 - r) * (1 - share)
    assert float(change_weight(r, share)) ** 2 == pytest.approx(change / stay)


def _serves(rng, repeats, share=0.5):
    games = []
    for _ in range(4):
        serves: list[bool] = []
        for _ in range(int(rng.integers(7, 13))):
            again = serves and rng.random() < repeats
            serves.append(serves[-1] if again else bool(rng.random() < share))
        games.append(serves)
    return games


@pytest.mark.parametrize("repeats", [0.0, 0.35, 0.5])
def test_a_server_who_repeats_and_never_drifts_is_seldom_said_to(repeats):
    """Before: Fisher's p was at most .05 in 23 of 100 at r = .5; now in 4 to 6."""
    rng = np.random.default_rng(20260929)
    guarded, plain = [], []
    for _ in range(400):
        games = _serves(rng, repeats)
        early, late = games[0] + games[1], games[2] + games[3]
        guarded.append(drift_p(early, late))
        plain.append(fisher(sum(early), len(early), sum(late), len(late)).mid_p)
    assert np.mean(np.array(guarded) <= 0.05) <= 0.09
    if repeats == 0.5:
        assert np.mean(np.array(plain) <= 0.05) >= 0.15


def _edge_grades(world, matches, seed):
    rng = np.random.default_rng(seed)
    grades = []
    for _ in range(matches):
        view = RallyMasks(invent_match(rng, world).table)
        plain = serve_edge(view)
        evidence = GradeEvidence(
            min(1.0, 13.2 * plain.mid_p), 30, 1 - plain.mid_p / 2, True, checked_p=p_against_runs(view)
        )
        grades.append(grade(evidence))
    return grades


def test_serving_is_found_again_without_taking_a_run_of_winners_for_it():
    """Before: 5 Clear of 100 at .70 v .30, whatever else was asked; here judged beside twelve questions."""
    found = _edge_grades(World(serving=0.2), 60, 51)
    false = _edge_grades(World(run=0.12), 100, 52)
    assert np.mean([item is Grade.CLEAR for item in found]) >= 0.08
    assert np.mean([item in (Grade.CLEAR, Grade.LEANING) for item in found]) >= 0.25
    assert np.mean([item is Grade.CLEAR for item in false]) <= 0.04
    assert np.mean([item in (Grade.CLEAR, Grade.LEANING) for item in false]) <= 0.12


def test_a_drift_without_runs_is_still_found():
    early, late = [True, True, False, True] * 4, [False, False, True, False] * 4
    assert drift_p(early, late) < 0.02


@pytest.mark.parametrize(
    ("early", "late"), [([], [True]), ([True], []), ([True] * 5, [True] * 5), ([False] * 5, [False] * 5)]
)
def test_where_nothing_can_differ_p_is_one(early, late):
    assert drift_p(early, late) == 1.0


@pytest.mark.parametrize("repeats", [0.0, 0.2, 0.5])
def test_ranges_of_the_mix_hold_whether_a_server_repeats_or_not(repeats):
    """Of 95: the plain range held 76 at r = .5; by one kind's order 98.3, 96.9 and 93.6 at 0, .2 and .5."""
    from goodlength.findings.statistics.proportion_intervals import jeffreys_share

    rng, mix, held = np.random.default_rng([17, int(100 * repeats)]), np.array([0.4, 0.3, 0.2, 0.1]), []
    for _ in range(300):
        games: list[list[int]] = []
        for _ in range(4):
            serves: list[int] = []
            for _ in range(int(rng.integers(6, 12))):
                again = serves and rng.random() < repeats
                serves.append(serves[-1] if again else int(rng.choice(4, p=mix)))
            games.append(serves)
        every, part = np.concatenate(games), independent_part(games)
        for kind in range(3):
            item = jeffreys_share(int((every == kind).sum()), every.size, independent=part)
            held.append(item.low <= mix[kind] <= item.high)
    assert 0.92 <= np.mean(held) <= 0.975  # 95 promised; standard error about 1


def test_one_kind_alone_or_no_serve_counts_whole():
    assert independent_part([[3] * 9, [3]]) == independent_part([]) == independent_part([[]]) == 1.0


def test_orders_within_boxes_are_all_orders_within_boxes():
    kinds, boxes = [[0, 1, 0, 2, 1, 0]], [[0, 1, 0, 1, 1, 0]]
    drawn = repeats_within(kinds, boxes, 20_000, np.random.default_rng(1))
    right = [0, 2, 5]
    left = [1, 3, 4]
    counted = []
    for a in itertools.permutations([kinds[0][i] for i in right]):
        for b in itertools.permutations([kinds[0][i] for i in left]):
            order = [0] * 6
            for i, kind in zip(right, a, strict=True):
                order[i] = kind
            for i, kind in zip(left, b, strict=True):
                order[i] = kind
            counted.append(sum(x == y for x, y in itertools.pairwise(order)))
    assert drawn.repeats[0] == 0
    assert np.mean(drawn.repeats[1:]) == pytest.approx(np.mean(counted), abs=0.02)
    assert np.mean(drawn.repeats[1:] == 0) == pytest.approx(np.mean(np.array(counted) == 0), abs=0.015)


def test_a_value_among_drawn_ones_is_never_certain():
    assert mid_p(5.0, np.arange(5)) == pytest.approx(2 * 0.5 / 6)
    assert mid_p(2.0, np.arange(5)) == 1.0


def test_many_serves_are_read_off_the_spread():
    few = repeats_within([[0, 0, 0, 0, 1, 1, 1, 1]] * 40, [[0, 1] * 4] * 40, 4000)
    many = repeats_within([[0, 0, 0, 0, 1, 1, 1, 1]] * 60, [[0, 1] * 4] * 60, 4000)
    assert not few.many
    assert many.many
    assert many.p_repeats() < 1e-6


def test_serving_against_runs_weighs_orders_as_runs_do():
    """Winners on runs of .12 by themselves: p of serving up to .05 in at most 5 of 100; before, in 35 or so."""
    rng = np.random.default_rng(8)
    guarded, plain = [], []
    for _ in range(120):
        view = RallyMasks(invent_match(rng, World(run=ASSUMED_RUN), 0.5).table)
        guarded.append(serve_edge(view, ASSUMED_RUN).mid_p)
        plain.append(serve_edge(view).mid_p)
    assert np.mean(np.array(guarded) <= 0.05) <= 0.08
    assert np.mean(np.array(plain) <= 0.05) >= 0.25
    assert run_odds(0.0) == 1.0


def test_fewer_rallies_won_serving_than_luck_are_held_against_luck_alone():
    view = RallyMasks(invent_match(np.random.default_rng(3), World(serving=-0.3), 0.5).table)
    assert serve_edge(view, ASSUMED_RUN) == serve_edge(view)


@pytest.mark.parametrize("part", [1 / 3, 0.7134, 0.93])
def test_fewer_independent_serves_never_count_more_than_all(part):
    """Before: 22 of 22 with a part of .297 was refused, as 6.53862 of 6.53862 by rounding."""
    from goodlength.findings.statistics.proportion_intervals import jeffreys_share

    for of in range(1, 60):
        assert jeffreys_share(of, of, independent=part).high == 1.0
        assert jeffreys_share(0, of, independent=part).low == 0.0
