"""`bench findings --places`: small runs, the same with the same state; paths beside their truth."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.bench.ball.length_and_tightness_accuracy import PlaceTally, judge_places
from goodlength.bench.ball.simulated_ball_candidate_generator import TrueContact, TrueShot
from goodlength.bench.findings import shot_place_findings_error_rates
from goodlength.bench.findings.shot_place_findings_error_rates import (
    habit_rates,
    measuring_bias,
    null_world_rates,
    together_rates,
)
from tests.unit.tasks.test_place_findings_task import rally


def test_null_worlds_count_old_and_new_questions() -> None:
    rates = null_world_rates(np.random.default_rng(3), "plain", 3)
    again = null_world_rates(np.random.default_rng(3), "plain", 3)
    assert rates == again
    assert rates.places_leaning <= rates.any_leaning and 4 <= rates.questions <= 8


def test_a_planted_habit_is_found_and_not_the_wrong_way() -> None:
    found = habit_rates(np.random.default_rng(3), "tired fourth game, 1 m shorter", 4)
    assert found["found"] > 0.2 and found["wrong"] == 0  # type: ignore[operator]


def test_matches_together_and_the_bias(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shot_place_findings_error_rates, "TOGETHER", 2)
    assert together_rates(np.random.default_rng(3), 2)["matches"] == 2
    bias = measuring_bias(np.random.default_rng(3), 4)
    assert abs(bias["spread_less_error_off_m"]) < bias["spread_off_m"]  # type: ignore[arg-type, operator]


class _Truth:
    """A rally's truth: strikes a second apart as those of `rally`, all 10 cm off what was followed."""

    end_s = 6.5
    shots = tuple(
        TrueShot(
            2.0 + n,
            n % 2,
            "drive",
            (0.5, 6.0, 1.0),
            30.0,
            (TrueContact("floor", 2.9 + n, (x, y, 0.02)),) if n != 2 else (),
        )
        for n, (x, y) in enumerate(((1.0, 8.0), (0.3, 7.4), (0.4, 6.0), (5.5, 6.8)))
    )


def test_places_are_held_against_the_truth() -> None:
    tally = PlaceTally()
    judge_places(_Truth(), rally("r:0"), tally)  # type: ignore[arg-type]
    assert [(round(seen, 2), was) for seen, was, _ in tally.depth] == [(7.5, 7.4), (6.9, 6.8)]
    assert tally.played_depth == [7.4, 6.8] and tally.wrong == 0
    assert tally.figures() == {"shots": 2, "walls": 0}
