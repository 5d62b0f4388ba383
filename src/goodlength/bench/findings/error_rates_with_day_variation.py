"""Benchmark of the stated error rates where days differ: practice, before-and-after, transfer, effect
sizes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.bench.findings.practice_statistics_error_rates import transfer_coverage
from goodlength.findings.statistics.between_day_overdispersion import difference_with_form, form_of
from goodlength.findings.statistics.evidence_grades import LEANING_Q, holm
from goodlength.findings.statistics.exact_tests import fisher, risk_difference, stratified_exact
from goodlength.findings.text.effect_shrinkage import pooled_error, shrunk_gap
from goodlength.synthetic.progress_verdicts_on_simulated_practice import verdict_on_distances, verdict_on_hits
from goodlength.synthetic.simulated_before_after_counts import season

FORM, DAY_FORM, MOVED_M = 0.10, 0.12, 0.20
CARRY_MATCHES, CARRY_FORMS = (1, 2, 4, 8), (0.0, 0.05, 0.10, 0.12)


@dataclass(frozen=True)
class DayFigures:
    """Shares of simulated players and seasons; `graded_*` are gaps in shares, mean over graded ones."""

    random_state: int
    players: int
    hits_better: float
    hits_worse: float
    moved_aim_better: float
    moved_aim_worse: float
    before_after_any: float
    before_after_coverage: float
    transfer_coverage: float
    transfer_coverage_by_form: dict[str, float]
    found_three_tenths_more: float
    graded_true: float
    graded_seen: float
    graded_shown: float


def bench_day_variation(seed: int = 20261129, players: int = 400) -> DayFigures:
    """Simulate players who did not change but have good and bad days, and gaps of every size.

    Priors were chosen on other random states (3, 7 and 101).
    """
    rng = np.random.default_rng(seed)
    hits = np.array([verdict_on_hits(rng, rate, DAY_FORM) for _ in range(players) for rate in (0.3, 0.5)])
    aims = np.array([verdict_on_distances(rng, MOVED_M) for _ in range(players)])
    risen = np.array([before_after(rng, FORM) for _ in range(players)])
    found = np.array([verdict_on_hits(rng, 0.4, 0.05, 0.3) for _ in range(players)])
    true, seen, shown = graded_sizes(rng, 10 * players)
    return DayFigures(
        seed,
        players,
        float((hits > 0).mean()),
        float((hits < 0).mean()),
        float((aims > 0).mean()),
        float((aims < 0).mean()),
        float(risen[:, 0].mean()),
        float(risen[:, 1].mean()),
        transfer_coverage(rng, players, 2, 20, 20, FORM),
        carry_by_form(seed, players),
        float((found > 0).mean()),
        true,
        seen,
        shown,
    )


def carry_by_form(seed: int, players: int) -> dict[str, float]:
    """Return how often carry-over ranges hold, by matches on each side and form of a match."""
    return {
        f"{matches} and {matches} matches, form {form:.2f}": transfer_coverage(
            np.random.default_rng([seed, matches, round(100 * form)]), players, 2, 20, 20, form, matches
        )
        for matches in CARRY_MATCHES
        for form in CARRY_FORMS
    }


def before_after(rng: np.random.Generator, form: float) -> tuple[bool, float]:
    """Return whether any of five measures of an unchanged season seems changed, and how many ranges hold."""
    p, covered = [], 0
    for pairs, change in season(rng, form, 4, 4, 2):
        strata = []
        for old, new in pairs:
            (c, m), (a, n) = ((sum(y for y, _ in side), sum(of for _, of in side)) for side in (old, new))
            strata.append((a, n, c, m))
        gap = risk_difference(strata) or 0.0
        tested = difference_with_form(pairs, gap, form_of([part for pair in pairs for part in pair]))
        p.append(max(tested.p, stratified_exact(strata).mid_p))
        covered += tested.low <= change <= tested.high
    return bool((holm(p) <= LEANING_Q).any()), covered / len(p)


def graded_sizes(rng: np.random.Generator, pairs: int) -> tuple[float, float, float]:
    """Return mean true, seen and shown size of gaps that pass p .02; true gaps even from -.4 to .4."""
    rows = []
    for _ in range(pairs):
        middle, gap = rng.uniform(0.35, 0.65), rng.uniform(-0.4, 0.4)
        n, m = (int(rng.integers(8, 36)) for _ in range(2))
        high, low = (float(np.clip(middle + half, 0.02, 0.98)) for half in (gap / 2, -gap / 2))
        a, c = int(rng.binomial(n, high)), int(rng.binomial(m, low))
        if 0 < a + c < n + m and fisher(a, n, c, m).mid_p <= 0.02:
            seen = a / n - c / m
            rows.append((gap * np.sign(seen), abs(seen), abs(shrunk_gap(seen, pooled_error(a, n, c, m)))))
    true, seen, shown = np.mean(rows, axis=0)
    return float(true), float(seen), float(shown)
