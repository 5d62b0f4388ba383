"""What a player's practice log says, drill by drill."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from goodlength.practice.progress import Progress, progress_of
from goodlength.practice.telling import telling
from goodlength.tasks.drills import drill_named
from goodlength.tasks.practice import sets_of

if TYPE_CHECKING:
    from goodlength.record.store import Library


def practice_progress(library: Library, player_id: str) -> dict[str, Progress]:
    """What the log says, drill by drill."""
    return {drill_id: progress_of(sets) for drill_id, sets in sets_of(library, player_id).items()}


def progress_words(library: Library, told: Mapping[str, Progress]) -> dict[str, tuple[str, ...]]:
    """What each drill's progress says, in sentences."""
    return {key: telling(one, _target_words(library, key)) for key, one in told.items()}


def progress_form(one: Progress) -> dict[str, Any]:
    """Progress of one drill as JSON values; shares 0 to 1."""
    return {
        "told": one.told,
        "evidence": one.evidence,
        "more_attempts": one.more,
        "sessions": [
            {"on": day.isoformat(), "hits": hits, "of": of, "interval": [rate.low, rate.high]}
            for day, (hits, of), rate in one.sessions
        ],
        "now": {"rate": one.now.rate, "interval": [one.now.low, one.now.high]},
        "by_order": {
            each.order.value: {"first": each.first, "since": each.since, "told": each.told}
            for each in one.by_order
        },
        "distances": {order.value: asdict(seen) for order, seen in one.distances},
        "scatter": scatter_form(one),
        "curve": one.curve.shape if one.curve else None,
    }


def scatter_form(one: Progress) -> dict[str, Any] | None:
    """Bias and spread of one drill, metres; None with too few places."""
    seen = one.scatter
    if seen is None:
        return None
    return {
        "n": seen.n,
        "aim_m": one.aim,
        "middle_m": seen.middle_m,
        "bias_m": seen.bias_m,
        "covariance_m2": seen.covariance_m2.tolist(),
        "next_ball": asdict(seen.next_ball),
    }


def _target_words(library: Library, drill_id: str) -> str:
    return "the target" if drill_named(library, drill_id).place else "what counts"
