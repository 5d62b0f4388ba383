"""A twentieth of the bench: what the draft gets right on simulated matches."""

from __future__ import annotations

import numpy as np

from goodlength.bench.footage.score_draft_accuracy_against_baseline import draft_rates
from goodlength.synthetic.simulated_server_observations import CONDITIONS


def test_drafts_of_ten_even_matches_keep_what_is_promised() -> None:
    """Issue: 94 % of winners right with scores, 99 % of those offered; here with the error of ten matches."""
    rates = draft_rates(np.random.default_rng(7), CONDITIONS[0], 10)
    error = (0.94 * 0.06 / rates.rallies) ** 0.5
    assert rates.undrafted == 0
    assert rates.winners_right >= 0.94 - 2 * error
    assert rates.winners_right > rates.plain_right
    assert rates.offered_right >= 0.985 and rates.offered >= 0.3
    assert abs(rates.stated - rates.outcomes_right) < 0.025
    assert sum(b.rallies for b in rates.calibration) == rates.rallies
    assert "winners right" in rates.line


def test_lets_lost_and_false_rallies_are_survived_and_beat_a_plain_reading() -> None:
    rates = draft_rates(np.random.default_rng(8), CONDITIONS[4], 4)
    assert rates.undrafted == 0
    assert rates.outcomes_right > rates.plain_outcomes_right
    assert abs(rates.stated - rates.outcomes_right) < 0.06


def test_ten_answers_of_the_coach_settle_more_than_ten_rallies() -> None:
    before = draft_rates(np.random.default_rng(9), CONDITIONS[0], 1)
    after = draft_rates(np.random.default_rng(9), CONDITIONS[-1], 1)
    wrong_before = (1.0 - before.outcomes_right) * before.rallies
    wrong_after = (1.0 - after.outcomes_right) * after.rallies
    assert wrong_after < 0.6 * wrong_before
    assert after.offered > before.offered
