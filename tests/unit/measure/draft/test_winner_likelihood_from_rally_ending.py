"""The end of a rally as evidence of who won it, and the end given who won."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.measure import Observation, ScoreDraft, draft_scores, observe
from goodlength.measure.draft.winner_likelihood_from_rally_ending import (
    ASSUMED_INTERFERENCE,
    COUNT_RIGHT,
    EndingSeen,
    ending_seen,
)
from goodlength.measure.shots.followed_ball_types import FollowedRally
from goodlength.scoring import Format, Side, Start
from tests.oracles.followed_shots import made_rally
from tests.unit.measure.test_answers_from_ball_path import rally

A, B = Side.A, Side.B


def test_the_end_says_who_won_by_who_struck_last() -> None:
    """A served; three shots: A struck last. Into the tin B won, after two bounces A."""
    down, twice = EndingSeen("tin", 0.95, 3, A), EndingSeen("second-bounce", 0.95, 3, A)
    assert down.fit(A, B) > 0.85 and down.fit(A, A) == pytest.approx(1.0 - down.fit(A, B))
    assert twice.fit(A, A) > 0.8
    # if B served, the count says that B struck last and the tracks that A did: nothing is known
    assert twice.fit(B, A) == pytest.approx(0.5) and twice.fit(B, B) == pytest.approx(0.5)
    unnamed = EndingSeen("second-bounce", 0.95, 4)
    assert unnamed.fit(A, B) == pytest.approx(unnamed.fit(B, A)) and unnamed.fit(A, B) > 0.8
    assert all(row[2] == 0.5 and row[0] + row[1] == pytest.approx(1.0) for row in twice.table())


def test_the_last_striker_named_by_the_tracks_is_no_second_witness_beside_the_count() -> None:
    """Strikes are taken in turn: the last striker follows from the first and the count."""
    for word, won in (("tin", B), ("second-bounce", A)):
        named, unnamed = (EndingSeen(word, 1.0, 3, striker).fit(A, won) for striker in (A, None))
        assert named == unnamed <= COUNT_RIGHT


def test_a_second_bounce_may_be_play_that_stopped_for_interference() -> None:
    """A stroke goes to the other player, so a second bounce fits a winner less well than a ball down does."""
    down, twice = EndingSeen("tin", 1.0, 3), EndingSeen("second-bounce", 1.0, 3)
    assert twice.fit(A, A) < down.fit(A, B)
    assert twice.chance_given(A, A) < 1.0 - 0.5 * ASSUMED_INTERFERENCE < down.chance_given(A, B)
    assert twice.chance_given(A, B) < 0.9  # whoever else won it, it was a stroke as often as not


def test_an_end_that_is_unsure_hardly_speaks_and_a_winner_that_fits_makes_it_surer() -> None:
    unsure, sure = EndingSeen("tin", 0.5, 3, A), EndingSeen("tin", 0.99, 3, A)
    assert 0.5 < unsure.fit(A, B) < sure.fit(A, B)
    assert unsure.chance_given(A, B) > unsure.chance > unsure.chance_given(A, A)


def test_ends_are_read_from_paths_and_nothing_from_none() -> None:
    seen = ending_seen(rally())
    assert seen is not None and (seen.word, seen.shots) == ("tin", 3)
    nothing: FollowedRally = made_rally()  # its last shot has no path
    assert ending_seen(nothing) is None


def test_an_end_seen_settles_a_rally_after_which_nobody_saw_who_served() -> None:
    """9-9 in the fifth: A serves, then nobody is seen. The end of the first rally says who won it."""
    seen = [observe("1", A, None), Observation("2"), Observation("3")]

    def winner(ending: EndingSeen | None) -> tuple[Side | None, float]:
        table = None if ending is None else ending.table()
        first = Observation("1", seen[0].likely, ending=table)
        sheet = draft_scores(Format(), Start(games=(2, 2), points=(9, 9)), [first, *seen[1:]])
        assert isinstance(sheet, ScoreDraft)
        return sheet.proposals[0].winner, sheet.proposals[0].chance

    assert winner(None)[1] < 0.7
    for word, won in (("tin", B), ("second-bounce", A)):
        side, chance = winner(EndingSeen(word, 0.97, 3, A))
        assert side is won and chance > 0.7


def test_a_next_server_that_contradicts_an_end_leaves_the_rally_in_doubt() -> None:
    seen = [observe("1", A, None, server_error_rate=0.01), observe("2", A, None, server_error_rate=0.05)]
    tin = EndingSeen("tin", 0.97, 3, A).table()  # B won; yet A was seen serving next
    sheets = [
        draft_scores(
            Format(),
            Start(points=(3, 3)),
            [Observation("1", seen[0].likely, ending=ending), seen[1]],
        )
        for ending in (None, tin)
    ]
    plain, torn = (sheet.proposals[0] for sheet in sheets if isinstance(sheet, ScoreDraft))
    assert plain.winner is A and plain.chance > 0.8
    assert torn.chance < 0.65
    assert np.isfinite(torn.chance)
