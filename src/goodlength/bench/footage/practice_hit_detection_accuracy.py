"""Benchmark of hit detection in simulated solo practice with known strikes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from goodlength.footage.audio.onset_detection import BLOCK_S, OnsetDetector, Onsets
from goodlength.footage.audio.practice_hit_detection import strikes_among_onsets
from goodlength.synthetic.simulated_court_audio import (
    NOISY,
    RATE,
    TYPICAL,
    SoundCondition,
    Wave,
    record_practice,
)

NEAR_S = 0.3


@dataclass(frozen=True)
class AttemptFigures:
    """How attempts were heard, by condition.

    `found` is the share of strikes with a sure attempt within 0.3 s, `offered` with a sure or doubtful one;
    `right` the share of sure attempts that are strikes; `error_p95_s` the 95th percentile of the distance.
    """

    attempts: dict[str, int]
    attempts_found: dict[str, float]
    attempts_offered: dict[str, float]
    attempts_right: dict[str, float]
    attempts_error_p95_s: dict[str, float]


def bench_attempts(
    seed: int = 20261125, recordings: int = 20, conditions: Iterable[SoundCondition] = (TYPICAL, NOISY)
) -> AttemptFigures:
    """Listen to `recordings` of two and a half minutes for each condition; without a file between."""
    out = AttemptFigures({}, {}, {}, {}, {})
    for k, condition in enumerate(conditions):
        rows = [_one(np.random.default_rng([seed, k, n]), condition) for n in range(recordings)]
        strikes, found, offered, sure, right = np.sum([row[:5] for row in rows], axis=0).tolist()
        errors = np.concatenate([row[5] for row in rows])
        out.attempts[condition.name] = strikes
        out.attempts_found[condition.name] = found / strikes
        out.attempts_offered[condition.name] = offered / strikes
        out.attempts_right[condition.name] = right / max(1, sure)
        out.attempts_error_p95_s[condition.name] = float(np.quantile(errors, 0.95)) if len(errors) else np.nan
    return out


def impacts(samples: Wave) -> Onsets:
    """Return all impacts of a sound at `RATE`."""
    listener, step = OnsetDetector(RATE, 0.0), round(BLOCK_S * RATE)
    parts = [listener.feed(samples[at : at + step]) for at in range(0, len(samples), step)]
    return Onsets.joined([*parts, listener.rest()])


def _one(
    rng: np.random.Generator, condition: SoundCondition
) -> tuple[int, int, int, int, int, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    samples, strikes = record_practice(rng, condition)
    truth = np.array(strikes)
    sure, doubtful = strikes_among_onsets(impacts(samples))
    every = np.concatenate([sure, doubtful])
    far = np.array([np.abs(sure - at).min(initial=np.inf) for at in truth])
    far_any = np.array([np.abs(every - at).min(initial=np.inf) for at in truth])
    right = sum(np.abs(truth - at).min() <= NEAR_S for at in sure)
    found = far <= NEAR_S
    return len(truth), int(found.sum()), int((far_any <= NEAR_S).sum()), len(sure), int(right), far[found]
