"""Chance that a rally is missing in a pause: by its length, by who serves next, by a score that does not add up."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.measure import CoachAnswer, Observation, observe
from goodlength.measure.score.missing_rally_chances import (
    ASSUMED_MISSING,
    missing_by_pause,
    missing_chances,
)
from goodlength.scoring import Format, Outcome, Side, Start
from goodlength.synthetic.random_match_oracle import play_match

USUAL = [9.0, 10.0, 11.0, 12.0, 10.0, 9.0, 13.0, 10.0, 11.0]


def test_a_longer_pause_hides_a_rally_more_likely_but_not_for_sure() -> None:
    by_length = missing_by_pause(np.array([*USUAL, 16.0, 27.0]), 6.0)
    assert (by_length[: len(USUAL)] < ASSUMED_MISSING).all()
    assert by_length[: len(USUAL)].max() < by_length[-2] < by_length[-1] < 0.5


@pytest.mark.parametrize("pauses", [[10.0, 30.0], [np.nan] * 20, [], [0.0] * 12])
def test_pauses_of_no_known_length_say_nothing(pauses: list[float]) -> None:
    assert missing_by_pause(np.array(pauses), 6.0).tolist() == [ASSUMED_MISSING] * len(pauses)


def sheet_without(gone: int | None) -> tuple[list[Observation], list[CoachAnswer], int]:
    """A whole match of which one rally is missing: who was seen serving, the winners, and which stands there."""
    match = play_match(np.random.default_rng(3), let_share=0.0, conduct_share=0.0)
    events = [event for event in match.events if isinstance(event, Outcome)]
    seen, answers = [], []
    for n, (event, at) in enumerate(zip(events, match.truth, strict=True)):
        if n == gone:
            continue
        seen.append(observe(f"r{n}", at.server, at.box, server_error_rate=0.02, box_error_rate=0.02))
        answers.append(CoachAnswer(f"r{n}", winner=event.winner))
    return seen, answers, len(events)


def chances_of(gone: int | None) -> np.ndarray:
    seen, answers, _ = sheet_without(gone)
    return missing_chances(Format(), Start(), seen, answers, ASSUMED_MISSING, is_over=True)


def test_a_whole_sheet_hides_nothing() -> None:
    chances = chances_of(None)
    assert len(chances) == sheet_without(None)[2] + 1
    assert chances.max() < 0.05


def test_a_missing_point_is_found_where_who_served_next_contradicts_the_winners() -> None:
    """Not where the server of a new hand won it: without that point the next serve fits as well."""
    tried = range(1, sheet_without(None)[2] - 1, 6)
    found = [gone for gone in tried if gone in np.argsort(-chances_of(gone))[:2]]
    assert len(found) >= 0.7 * len(tried)
    assert chances_of(10)[10] > 0.8


def test_what_no_legal_match_holds_is_left_to_the_pauses() -> None:
    seen = [observe(f"r{n}", missed_before=0.2 if n == 2 else 0.0) for n in range(40)]
    answers = [CoachAnswer(each.key, winner=Side.A) for each in seen]
    chances = missing_chances(Format(), Start(), seen, answers, 0.0, is_over=True)
    assert chances[2] == pytest.approx(1 - np.exp(-0.2)) and chances[5] == 0.0


def test_nothing_on_the_sheet() -> None:
    assert missing_chances(Format(), Start(), [], [], 0.0, is_over=False).tolist() == [0.0]
