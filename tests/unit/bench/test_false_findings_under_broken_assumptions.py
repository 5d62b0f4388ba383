""" "It would still hold if ..." beside measured rates of wrong findings."""

from __future__ import annotations

import pytest

from goodlength.bench.findings.error_rates_by_scenario import WAYS, fingerprint
from goodlength.bench.findings.false_findings_under_broken_assumptions import (
    WAYS_OF,
    SurvivalRates,
    bench_survival,
)
from goodlength.findings.grade_robustness_to_other_match_models import SURVIVES

GRADED, CLEAR = 0.07, 0.03  # of one question: a share of the 20 and 5 in 100 promised over a match
RATES = SurvivalRates.from_file()
ENTRIES = [(ask, cause) for ask, causes in SURVIVES.items() for cause in causes]


@pytest.mark.parametrize(("ask", "cause"), ENTRIES)
def test_every_entry_is_borne_out_by_the_measured_rates(ask, cause):
    graded, clear = RATES.worst(cause, str(ask))
    assert graded <= GRADED, (ask, cause, graded)
    assert clear <= CLEAR, (ask, cause, clear)


def test_the_rates_are_of_every_way_that_a_cause_names():
    ways = {way for group in WAYS_OF.values() for way in group}
    assert ways <= set(WAYS)
    assert set(RATES.graded) == set(RATES.clear) == set(RATES.fingerprint) == ways
    assert RATES.matches >= 200


@pytest.mark.parametrize("way", sorted(RATES.fingerprint))
def test_the_kept_rates_are_of_the_tests_as_they_are(way):
    """If this fails, measure anew: `bench_survival().write()`, and look what changed."""
    assert fingerprint(way, RATES.random_state) == pytest.approx(RATES.fingerprint[way], abs=0.02)


def test_rates_are_written_and_read_again(tmp_path, monkeypatch):
    monkeypatch.setattr(
        "goodlength.bench.findings.false_findings_under_broken_assumptions.WAYS_OF",
        {"box": ("kinds-by-box",)},
    )
    found = bench_survival(3, 2)
    found.write(tmp_path / "rates.json")
    assert SurvivalRates.from_file(tmp_path / "rates.json") == found
    assert found.worst("box", "weak") >= (0.0, 0.0)
