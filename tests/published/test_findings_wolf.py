"""How often findings cry wolf, and how often ranges hold the truth."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.bench.findings.false_alarm_rate import coverage, null_rates


@pytest.mark.slow
def test_null_matches_show_few_false_findings():
    """Architecture 4: at most 5 in 100 any Clear and 20 in 100 any Leaning; here with 4 standard errors."""
    rates = null_rates(np.random.default_rng(11), 120)
    assert rates.null_any_clear <= 0.05 + 4 * 0.02
    assert rates.null_any_leaning <= 0.20 + 4 * 0.037
    assert rates.questions_a_match > 20


@pytest.mark.parametrize("tries", [5, 10, 20, 40])
@pytest.mark.parametrize("method", ["jeffreys", "wilson"])
def test_ranges_hold_the_truth_as_often_as_they_say(tries, method):
    """Averaged over shares .05 to .95: 90 in 100 within 88 to 94, 95 in 100 within 93 to 97."""
    assert 0.88 <= coverage(tries, 0.90, method).mean <= 0.94
    assert 0.93 <= coverage(tries, 0.95, method).mean <= 0.97
