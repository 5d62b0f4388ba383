"""The bench of attempts at a twentieth: strikes of invented practice are found."""

from __future__ import annotations

from goodlength.bench.footage.practice_hit_detection_accuracy import bench_attempts
from goodlength.synthetic.simulated_court_audio import TYPICAL


def test_strikes_of_an_invented_practice_are_heard() -> None:
    figures = bench_attempts(recordings=1, conditions=(TYPICAL,))
    assert figures.attempts["typical"] >= 8
    assert figures.attempts_offered["typical"] >= 0.85
    assert figures.attempts_right["typical"] >= 0.7
    assert figures.attempts_error_p95_s["typical"] <= 0.02
