"""Summary benchmark of footage: detection, drafted scores, cameras, measured serves, people.

The plain keys are those of the typical condition; all conditions stand under `conditions`, with every
rally that was missed or false, under `cameras`, under `serves` and under `people`.
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import numpy as np

from goodlength.bench.footage import (
    proxy_encoding_speed,
    rally_detection_accuracy,
    score_draft_accuracy_against_baseline,
    tracking_pose_and_face_hiding_accuracy,
)
from goodlength.bench.footage.camera_calibration_accuracy import camera_table
from goodlength.bench.footage.serve_measurement_accuracy import serve_table
from goodlength.files.json_types import Json


def bench_footage(
    seed: int = 20261125,
    *,
    recordings: int = 20,
    minutes: int = 60,
    matches: int = 200,
    cameras: int = 200,
    serves: int = 100,
    rallies: int = 19,
    walkers: Path | None = None,
) -> dict[str, Json]:
    """Return all figures as plain values.

    Parameters
    ----------
    seed : int
        State of the draws.
    recordings, minutes : int
        As for `hearing.measure`.
    matches : int
        Simulated matches whose sheets are drafted from doubtful sightings.
    cameras, serves : int
        Random cameras solved from clicks, and simulated serves measured, of each condition; 0 leaves out.
    rallies : int
        Rallies of the demo's game in which both players are followed, at most 19; 0 leaves people out.
    walkers : Path, optional
        A film of people walking before a still camera: they are pasted over the demo's court.
    """
    found = rally_detection_accuracy.bench_rally_detection(seed, recordings, minutes)
    typical = found.conditions[0]
    rates = score_draft_accuracy_against_baseline.draft_rates(np.random.default_rng(seed), matches=matches)
    chance = np.random.default_rng(seed)
    solved = camera_table(chance, cameras) if cameras else ()
    measured = serve_table(chance, serves) if serves else ()
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
        **asdict(proxy_encoding_speed.bench_proxy()),
        "draft_winners_right": rates.winners_right,
        "draft_plain_right": rates.plain_right,
        "draft_stated": rates.stated,
        "draft_offered": rates.offered,
        "draft_offered_right": rates.offered_right,
        "conditions": [_plain(asdict(condition)) for condition in found.conditions],
        "cameras": [_plain(asdict(camera_rates)) for camera_rates in solved],
        "serves": [_plain(asdict(serve_rates)) for serve_rates in measured],
        "people": tracking_pose_and_face_hiding_accuracy.bench_player_tracking(seed, rallies, walkers)
        if rallies
        else {},
    }


def _plain(figures: dict[str, Json]) -> dict[str, Json]:
    """Return figures that could not be worked out (nothing was heard) as null."""
    return {
        name: None if isinstance(value, float) and not np.isfinite(value) else value
        for name, value in figures.items()
    }
