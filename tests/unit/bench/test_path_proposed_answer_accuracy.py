"""Whom the end of a rally speaks for is counted beside who won, and stopped rallies have draws of their own."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from goodlength.bench.ball import path_proposed_answer_accuracy as measured
from goodlength.bench.ball.path_proposed_answer_accuracy import DraftTally, judge_draft, true_answers
from goodlength.bench.ball.simulated_ball_candidate_generator import (
    CONDITIONS,
    RallyWithTruth,
    rally_plan,
    simulate_rally,
)
from goodlength.measure.draft.winner_likelihood_from_rally_ending import EndingSeen
from goodlength.measure.shots.followed_ball_types import FollowedRally, PathAnswerKind
from goodlength.record.model import Ending

NOTHING_FOLLOWED = FollowedRally("s:0", "f", 0, 1, ())


@pytest.fixture(scope="module")
def rally() -> RallyWithTruth:
    return simulate_rally(np.random.default_rng(5), CONDITIONS[0], varied=False)


def tally_of(
    monkeypatch: pytest.MonkeyPatch, rally: RallyWithTruth, seen: EndingSeen | None, **changed: object
) -> DraftTally:
    tally = DraftTally()
    monkeypatch.setattr(measured, "ending_seen", lambda _: seen)
    judge_draft(replace(rally, **changed), NOTHING_FOLLOWED, tally)  # type: ignore[arg-type]
    return tally


def test_an_end_speaks_for_a_player_who_won_or_did_not(
    monkeypatch: pytest.MonkeyPatch, rally: RallyWithTruth
) -> None:
    server = rally.shots[0].by
    twice = EndingSeen("second-bounce", 0.99, 3)  # an odd count: the server struck last
    for winner, right in ((server, 1), (1 - server, 0)):
        figures = tally_of(monkeypatch, rally, twice, winner=winner, ending="winner").figures()["winner"]
        of = figures["winner"]  # type: ignore[index,call-overload]
        assert (of["n"], of["read"], of["speaks"], of["speaks_right"], of["right"]) == (1, 1, 1, right, right)
        assert 0.8 <= of["mean_fit"] < 1.0
    figures = tally_of(monkeypatch, rally, twice, winner=None, ending="let").figures()["winner"]
    assert figures["let"]["speaks"] == 1 and figures["let"]["speaks_right"] == 0  # type: ignore[index,call-overload]


def test_an_end_that_was_not_read_speaks_for_nobody(
    monkeypatch: pytest.MonkeyPatch, rally: RallyWithTruth
) -> None:
    figures = tally_of(monkeypatch, rally, None, ending="winner").figures()["winner"]
    assert figures["winner"]["read"] == figures["winner"]["speaks"] == 0  # type: ignore[index,call-overload]


def test_stopped_rallies_are_half_of_their_family_and_none_of_the_others() -> None:
    rng = np.random.default_rng(20261130)
    endings = Counter(rally_plan(rng, stopped=True).ending for _ in range(80))
    assert all(endings[ending] > 5 for ending in (Ending.SERVICE_FAULT, Ending.LET, Ending.STROKE))
    assert endings[Ending.WINNER] + endings[Ending.FORCED_ERROR] + endings[Ending.UNFORCED_ERROR] > 25
    others = {rally_plan(rng).ending for _ in range(40)}
    assert not others & {Ending.SERVICE_FAULT, Ending.LET, Ending.STROKE}


def test_the_end_of_play_that_stopped_is_no_answer(rally: RallyWithTruth) -> None:
    assert PathAnswerKind.ENDED in true_answers(rally)
    assert PathAnswerKind.ENDED not in true_answers(replace(rally, ended="let", ending="let"))
