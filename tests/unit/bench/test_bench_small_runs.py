"""The benches at a twentieth of their size: the same code, the same promises."""

from __future__ import annotations

import random

import numpy as np

from goodlength.bench.findings.false_alarms import null_rates
from goodlength.bench.footage import clip_frame_accuracy
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
