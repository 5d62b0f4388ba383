"""What `goodlength bench footage` measures, put together: hearing, its speed, and drafted sheets.

The plain keys are those of the typical condition; all conditions stand under `conditions`, with every
rally that was missed or false.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from goodlength.bench import drafts, hearing


def measure(
    seed: int = 20261125, *, recordings: int = 20, minutes: int = 60, matches: int = 200
) -> dict[str, Any]:
    """All figures as plain values.

    Parameters
    ----------
    seed : int
        State of the draws.
    recordings, minutes : int
        As for `hearing.measure`.
    matches : int
        Simulated matches whose sheets are drafted from doubtful sightings.
    """
    found = hearing.measure(seed, recordings, minutes)
    typical = found.conditions[0]
    rates = drafts.draft_rates(np.random.default_rng(seed), matches=matches)
    return {
        "recall": typical.recall,
        "precision": typical.precision,
        "start_error_p95_s": typical.start_error_p95_s,
        "hits_found": typical.hits_found,
        "hit_error_p90_s": typical.hit_error_p90_s,
        "hour_s": found.hour_s,
        "peak_mb": found.peak_mb,
        "ratio_to_decoder": found.ratio_to_decoder,
        "cpu_ratio_to_decoder": found.cpu_ratio_to_decoder,
        "draft_winners_right": rates.winners_right,
        "draft_plain_right": rates.plain_right,
        "draft_stated": rates.stated,
        "draft_offered": rates.offered,
        "draft_offered_right": rates.offered_right,
        "conditions": [_plain(asdict(one)) for one in found.conditions],
    }


def _plain(figures: dict[str, Any]) -> dict[str, Any]:
    """Figures that could not be worked out (nothing was heard) as null."""
    return {
        name: None if isinstance(value, float) and not np.isfinite(value) else value
        for name, value in figures.items()
    }
