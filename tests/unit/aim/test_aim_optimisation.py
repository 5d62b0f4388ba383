"""The aim room: tasks turned to box and hand, odds that add up, windows, brute force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.aim.aim_optimisation import AimPoint, best_aim, odds_of
from goodlength.aim.serve_goals import KINDS, Goal, task_of, with_goal
from goodlength.aim.serve_launch_window import middle_of_window, window_of
from goodlength.aim.serve_scatter_on_front_wall import AimScatter, evenly, spread_of
from goodlength.ball import Ball, PlayConditions
from goodlength.bench.aim_optimisation import agrees
from goodlength.errors import InputError, OutOfRange
from goodlength.tasks.aim.serve_aim import aim_serve

CLUB = AimScatter.of_level("club")
WARM = PlayConditions()


def test_left_box_is_the_right_box_in_a_mirror() -> None:
    right, left = task_of("lob", "right", "right"), task_of("lob", "left", "left")
    assert left.contact_m == pytest.approx((6.4 - right.contact_m[0], *right.contact_m[1:]))
    aim = AimPoint(3.0, 4.0, 19.0)
    seen = window_of(right, WARM, aim)
    turned = window_of(left, WARM, replace(aim, across_m=3.4))
    assert (seen.met == turned.met[::-1]).mean() > 0.999


@pytest.mark.parametrize("kind", [item.kind for item in KINDS])
@pytest.mark.parametrize("warmth", ["hot", "club", "cold"])
def test_every_kind_has_a_window_with_every_ball(kind: str, warmth: str) -> None:
    task, setting = task_of(kind, "right"), PlayConditions(Ball(warmth=warmth))
    aim = middle_of_window(task, setting)
    assert aim is not None
    window = window_of(task, setting, aim)
    assert window.edges is not None
    assert 0 < window.share < 0.7
    assert [edge.way for edge in window.edges][:2] == ["too far left", "too far right"]
    assert all(edge.distance > 0 for edge in window.edges)


def test_odds_add_up_and_the_band_holds_the_middle() -> None:
    odds = odds_of(task_of("mid-height", "right"), WARM, AimPoint(3.0, 3.5, 19.0), CLUB, worlds=40, throws=40)
    assert odds.good.of_100 + odds.fault.of_100 == pytest.approx(100)
    assert sum(odds.faults.values()) == pytest.approx(odds.fault.of_100)
    assert odds.goal.of_100 <= odds.dies.of_100 <= odds.good.of_100
    for share in (odds.good, odds.dies, odds.volley, odds.off_back, odds.goal):
        assert 0 <= share.low <= share.of_100 <= share.high <= 100
    again = odds_of(
        task_of("mid-height", "right"), WARM, AimPoint(3.0, 3.5, 19.0), CLUB, worlds=40, throws=40
    )
    assert again == odds


def test_a_looser_player_is_worth_less_and_faults_cost() -> None:
    task = task_of("lob", "right")
    best = best_aim(task, WARM, CLUB, factors=(0.5, 1.0, 2.0))
    worths = [item.worth for item in best.moved]
    assert worths == sorted(worths, reverse=True)
    left, low, wide, tall = best.box
    assert left <= best.aim.across_m <= left + wide
    assert low <= best.aim.up_m <= low + tall
    loose = odds_of(task, WARM, best.aim, CLUB.times(2), worlds=40, throws=40)
    assert loose.fault.of_100 > odds_of(task, WARM, best.aim, CLUB, worlds=40, throws=40).fault.of_100


def test_nothing_said_beside_the_aim_beats_it() -> None:
    """Misses and the aim are judged in the same worlds: none is worth much more than the best aim."""
    answer = aim_serve(task_of("lob", "right"), WARM, CLUB)
    best = answer.odds.worth
    assert all(miss.odds.worth < best + 0.02 for miss in answer.misses)
    (same,) = [item for item in answer.best.moved if item.factor == 1.0] if answer.best else [None]
    assert same is not None
    assert same.aim == answer.aim


def test_many_small_sets_do_not_look_tighter_than_one() -> None:
    """Two balls a set, each set about its own middle: the pooled spread is still the true one."""
    rng = np.random.default_rng(20261127)
    groups = [rng.normal((n, 0.0), (0.2, 0.3), (2, 2)).tolist() for n in range(400)]
    across, up, balls = spread_of(groups)
    assert (across, up) == pytest.approx((0.2, 0.3), rel=0.12)
    assert balls == 401
    assert spread_of([[(1.0, 1.0)]]) == (0.0, 0.0, 1)


def test_the_aim_rises_where_a_fault_below_costs_more() -> None:
    """The hard serve is near the service line: the dearer the fault, the higher the aim."""
    task = task_of("hard", "right")
    cheap, dear = (best_aim(task, WARM, CLUB, fault_cost=cost, factors=()).aim.up_m for cost in (0.2, 5.0))
    assert dear > cheap


def test_the_search_agrees_with_brute_force() -> None:
    """A twentieth of `bench aim`, which does twenty."""
    found = agrees(3, candidates=250)
    assert found.gap < 0.04


def test_what_cannot_be_is_said() -> None:
    with pytest.raises(InputError, match="kind of serve must be one of lob"):
        task_of("moonball", "right")
    with pytest.raises(OutOfRange, match="height"):
        Goal(above_m=9.0)
    never = with_goal(task_of("lob", "right"), there_within_s=0.3)
    with pytest.raises(InputError, match="Relax the goal"):
        best_aim(never, WARM, CLUB)
    with pytest.raises(OutOfRange, match="speed off the racket"):
        AimPoint(3.0, 3.0, 400.0)
    with pytest.raises(OutOfRange, match="scatter"):
        AimScatter(5.0, 0.1, 1.0)


def test_even_points_fill_the_cube() -> None:
    points = evenly(1000, 3, np.random.default_rng(1))
    counts, _ = np.histogramdd(points, bins=(5, 5, 5), range=[(0, 1)] * 3)
    assert counts.min() >= 4
    assert counts.max() <= 14
