"""The bench of hearing, a twentieth of it: its figures are of the right kind and its truth is its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from goodlength.bench.footage import rally_detection_accuracy
from goodlength.bench.footage.rally_detection_accuracy import (
    measure_condition,
    measure_speed,
    share_together,
)
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, record


@pytest.mark.slow
def test_one_recording_is_measured(tmp_path: Path) -> None:
    figures = measure_condition(TYPICAL, 20261125, 1, tmp_path)
    assert figures.recordings == figures.usable == 1
    assert figures.rallies >= 5
    assert 0.7 <= figures.recall <= 1
    assert 0.7 <= figures.precision <= 1
    assert figures.missed == round((1 - figures.recall) * figures.rallies)
    assert 0.8 <= figures.hits_found <= 1


@pytest.mark.slow
def test_an_hour_is_scaled_from_less(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        rally_detection_accuracy, "TIMED_RUNS", 1
    )  # the least of five is for quoting, not for testing
    hour_s, peak_mb, ratio, cpu_ratio = measure_speed(np.random.default_rng(1), 2, tmp_path)
    assert 0 < hour_s < 200
    assert 50 < peak_mb < 500 or np.isnan(peak_mb)
    assert ratio > 0
    assert cpu_ratio > 0


def test_the_truth_of_a_recording_is_where_its_sound_is() -> None:
    """The direct sound of a hit stands at its time: the level rises there."""
    made = record(np.random.default_rng(2), replace(TYPICAL, neighbour_db=None, applause=0.0), 60.0)
    assert len(made.truth.rallies) == len(made.truth.hits) >= 1
    for rally, hits in zip(made.truth.rallies, made.truth.hits, strict=True):
        assert (hits[0], hits[-1]) == rally
        at = round(hits[0] * RATE)
        before, after = made.samples[at - 400 : at - 40], made.samples[at : at + 200]
        assert np.abs(after).max() > 3 * np.abs(before).max()


@pytest.mark.parametrize(
    ("a", "b", "share"),
    [((0, 9), (0, 9), 1.0), ((0, 9), (20, 30), 0.0), ((0, 4), (0, 9), 0.5), ((0, 9), (5, 9), 0.5)],
)
def test_common_part_of_spans(a: tuple[float, float], b: tuple[float, float], share: float) -> None:
    assert share_together(a, b) == pytest.approx(share)
