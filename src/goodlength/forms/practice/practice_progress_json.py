"""JSON form and sentences of practice plans and progress."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.practice.progress_sentences import progress_sentences
from goodlength.practice.statistics.drill_progress import Progress
from goodlength.tasks.practice.library_and_custom_drills import drill_named

if TYPE_CHECKING:
    from goodlength.record.store import Library

if TYPE_CHECKING:
    from goodlength.record.store import Library


def progress_words(library: Library, by_drill: Mapping[str, Progress]) -> dict[str, tuple[str, ...]]:
    """Return what each drill's progress says, in sentences."""
    return {
        key: progress_sentences(drill_progress, _target_words(library, key))
        for key, drill_progress in by_drill.items()
    }


def progress_form(drill_progress: Progress) -> dict[str, Json]:
    """Return progress of one drill as JSON values; shares 0 to 1."""
    return {
        "told": drill_progress.verdict,
        "evidence": drill_progress.evidence,
        "more_attempts": drill_progress.more,
        "sessions": [
            {"on": day.isoformat(), "hits": hits, "of": of, "interval": [rate.low, rate.high]}
            for day, (hits, of), rate in drill_progress.sessions
        ],
        "now": {
            "rate": drill_progress.now.rate,
            "interval": [drill_progress.now.low, drill_progress.now.high],
        },
        "by_order": {
            each.order.value: {"first": each.first, "since": each.since, "told": each.verdict}
            for each in drill_progress.by_order
        },
        "distances": {order.value: asdict(seen) for order, seen in drill_progress.distances},
        "scatter": scatter_form(drill_progress),
        "curve": drill_progress.curve.shape if drill_progress.curve else None,
    }


def scatter_form(drill_progress: Progress) -> dict[str, Json] | None:
    """Return bias and spread of one drill, metres; None with too few places."""
    seen = drill_progress.scatter
    if seen is None:
        return None
    return {
        "n": seen.n,
        "aim_m": drill_progress.aim,
        "middle_m": seen.middle_m,
        "bias_m": seen.bias_m,
        "covariance_m2": seen.covariance_m2.tolist(),
        "next_ball": asdict(seen.next_ball),
    }


def _target_words(library: Library, drill_id: str) -> str:
    return "the target" if drill_named(library, drill_id).place else ""
