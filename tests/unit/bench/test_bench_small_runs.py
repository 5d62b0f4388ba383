"""The benches at a twentieth of their size: the same code, the same promises."""

from __future__ import annotations

import random
import sys

import numpy as np
import pytest

from goodlength.bench import speed_against_hardware_limits
from goodlength.bench.findings.false_alarm_rate import null_rates
from goodlength.bench.footage import clip_frame_accuracy
from goodlength.bench.large_library_response_times import OF_A_MATCH, bench_scale
from goodlength.bench.video_work_against_decoder import bench_video_work
from goodlength.synthetic.random_match_oracle import replay_many


def test_five_random_cuts_are_exact() -> None:
    told = clip_frame_accuracy.bench_clips(seed=3, cuts=5, spans=1, seconds=14)
    assert told.exact == 5, told.wrong


def test_null_matches_seldom_show_anything() -> None:
    told = null_rates(np.random.default_rng(11), 40)
    assert told.null_any_clear <= 0.15
    assert told.null_any_leaning <= 0.40


def test_random_matches_keep_every_law() -> None:
    told = replay_many(500, random.Random(4))
    assert not told.broken


def test_every_page_of_a_made_up_library_answers_and_takes_answers_from_several_devices() -> None:
    told = bench_scale(matches=10, times=2, clients=3, answers=2, rallies=30)
    assert told.entries > 10 * 60 * 7
    assert set(told.pages_p95_ms) >= {
        "matches",
        "player",
        "search",
        *(f"match: {name}" for name in OF_A_MATCH),
    }
    assert told.over_200_kb == ()
    if sys.platform == "linux":
        assert set(told.pages_processor_ms) == set(told.pages_p95_ms)
        assert told.answer_500_processor_ms is not None and told.answer_500_processor_ms > 0.0
    assert min(told.pages_kb.values()) > 1.0
    assert min(told.answer_500_p95_ms, told.score_500_p95_ms, told.first_reading_s) > 0.0


def test_flights_stand_beside_what_the_processor_can_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """At a hundredth of their size, one kind, each timed once; no seconds are asserted, but what cannot be is."""
    monkeypatch.setattr(speed_against_hardware_limits, "KINDS", speed_against_hardware_limits.KINDS[:1])
    found = speed_against_hardware_limits.bench_limits(seed=3, serves=1000, drag=False, runs=1, video=False)
    assert 0.0 < found.of_peak < 1.0
    assert found.flops_per_serve > 5000.0
    assert 0.0 < found.aim_moving_ms < found.aim_whole_ms
    assert found.drag is None
    assert found.copy_to_decode is None


def test_work_on_a_video_stands_beside_its_decoder() -> None:
    """At a third of the size, one second; no seconds are asserted, but what cannot be is."""
    found = bench_video_work(seed=3, seconds=1, wide=640)
    assert found.copy_to_decode_cpu > 1.0, "a copy decodes, too"
    assert min(found.track_cpu_s, found.faces_cpu_s) > found.decode_cpu_s > 0.0
