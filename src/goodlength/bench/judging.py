"""Findings measured: false alarms where nothing differs, coverage of ranges, time of one match."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from goodlength.bench.nulls import coverage, null_match, null_rates
from goodlength.findings import Names, find

TRIES = (5, 10, 20, 40)


@dataclass(frozen=True)
class JudgingFigures:
    """What `bench findings` prints; shares are 0 to 1."""

    null_matches: int
    null_any_clear: float
    null_any_clear_error: float
    null_any_leaning: float
    null_any_leaning_error: float
    questions_a_match: float
    coverage_90: float
    coverage_95: float
    coverage_90_worst: float
    coverage_95_worst: float
    match_s: float


def measure(seed: int = 20261125, matches: int = 400) -> JudgingFigures:
    """Null rates over invented matches, coverage over n = 5, 10, 20, 40, and the time of one match."""
    rng = np.random.default_rng(seed)
    null = null_rates(rng, matches)
    ranges = {level: [coverage(n, level) for n in TRIES] for level in (0.90, 0.95)}
    table = null_match(rng)
    names = Names("Imogen", "Petra")
    find(table, "a", names)  # warm
    taken = []
    for _ in range(5):
        began = time.perf_counter()
        find(table, "a", names)
        taken.append(time.perf_counter() - began)
    return JudgingFigures(
        null_matches=null.matches,
        null_any_clear=null.null_any_clear,
        null_any_clear_error=null.null_any_clear_error,
        null_any_leaning=null.null_any_leaning,
        null_any_leaning_error=null.null_any_leaning_error,
        questions_a_match=null.questions_a_match,
        coverage_90=float(np.mean([c.mean for c in ranges[0.90]])),
        coverage_95=float(np.mean([c.mean for c in ranges[0.95]])),
        coverage_90_worst=min(c.worst for c in ranges[0.90]),
        coverage_95_worst=min(c.worst for c in ranges[0.95]),
        match_s=float(np.median(taken)),
    )
