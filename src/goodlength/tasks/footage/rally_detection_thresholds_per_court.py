"""Thresholds from which a detected rally counts as sure or is suggested, by court.

The bounds come with goodlength; a review by the coach may move them a little, within `SURE_BOUNDS` and
`OFFERED_BOUNDS`, for the court that was reviewed. A move is never worse on the coach's own answers, and can
be undone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

SETTING = "detection thresholds"
SURE_BOUNDS, OFFERED_BOUNDS = (0.75, 0.985), (0.12, 0.35)
STEPS = 40
WRONG_COST, SHY_COST = 3.0, 1.0  # a sure span that is no rally, a rally marked as doubtful
LOST_COST = 5.0  # a rally that is not offered any more
MOVE_COST = 0.4  # for each unit of log-odds: a few answers move little
LEAST_ANSWERS = 8


@dataclass(frozen=True)
class DetectionThresholds:
    """The chance from which a rally is sure, and from which it is offered; `answers` moved them."""

    sure_at: float
    offered_at: float
    answers: int = 0

    def marks(self, chance: float) -> str:
        """Return "sure", "doubtful" or "not offered" for a chance."""
        return (
            "sure" if chance >= self.sure_at else "doubtful" if chance >= self.offered_at else "not offered"
        )


@dataclass(frozen=True)
class ReviewedChance:
    """A detected rally that the coach looked at: its chance, and whether it was a rally in its place."""

    chance: float
    right: bool


def usual_thresholds() -> DetectionThresholds:
    """Return the bounds that come with goodlength."""
    from goodlength.footage.audio.network_rally_recognition import OFFERED, SURE

    return DetectionThresholds(SURE, OFFERED)


def court_key(opened: OpenMatch) -> str:
    """Return by which name the thresholds of a match's court are saved; matches without one share."""
    return opened.info.court.strip().lower()


def thresholds_of(opened: OpenMatch) -> DetectionThresholds | None:
    """Return the thresholds that reviews have set for a match's court; None where they are the usual ones."""
    saved = opened.settings.get(SETTING)
    plain = saved.get(court_key(opened)) if isinstance(saved, Mapping) else None
    if not isinstance(plain, Mapping):
        return None
    try:
        made = DetectionThresholds(
            float(plain["sure_at"]), float(plain["offered_at"]), int(plain.get("answers", 0))
        )
    except (KeyError, TypeError, ValueError):
        return None
    inside = SURE_BOUNDS[0] <= made.sure_at <= SURE_BOUNDS[1]
    return made if inside and OFFERED_BOUNDS[0] <= made.offered_at <= OFFERED_BOUNDS[1] else None


def save_thresholds(library: Library, court: str, thresholds: DetectionThresholds | None) -> None:
    """Save the thresholds of a court; None puts the usual ones back."""
    saved: dict[str, Any] = dict(library.settings().get(SETTING) or {})
    saved.pop(court, None)
    if thresholds is not None:
        saved[court] = asdict(thresholds)
    library.set_setting(SETTING, saved or None)


def cost_of(thresholds: DetectionThresholds, answers: Iterable[ReviewedChance]) -> float:
    """Return how bad thresholds are on answers: sure and wrong weighs most beside a rally lost."""
    cost = 0.0
    for answer in answers:
        marked = thresholds.marks(answer.chance)
        if marked == "sure" and not answer.right:
            cost += WRONG_COST
        elif marked == "not offered" and answer.right:
            cost += LOST_COST
        elif marked == "doubtful" and answer.right:
            cost += SHY_COST
        elif marked == "doubtful":
            cost += 0.25
    return cost


def adapted_thresholds(
    answers: list[ReviewedChance], now: DetectionThresholds, usual: DetectionThresholds
) -> DetectionThresholds:
    """Return thresholds that fit the answers better, within bounds; those of now where none do.

    They never mark more wrong spans as sure than those of now do, and never lose a rally that those of now
    offer.

    Examples
    --------
    >>> usual = DetectionThresholds(0.9, 0.12)
    >>> seen = [ReviewedChance(0.8, True)] * 6 + [ReviewedChance(0.95, True)] * 6
    >>> adapted_thresholds(seen, usual, usual).sure_at < 0.8
    True
    """
    if len(answers) < LEAST_ANSWERS:
        return now
    best, least = now, cost_of(now, answers) + _moved(now, usual)
    for sure_at in _grid(SURE_BOUNDS):
        for offered_at in _grid(OFFERED_BOUNDS):
            trial = DetectionThresholds(sure_at, offered_at, len(answers))
            cost = cost_of(trial, answers) + _moved(trial, usual)
            if cost < least - 1e-9 and not _worse(trial, now, answers):
                best, least = trial, cost
    return best


def _worse(trial: DetectionThresholds, now: DetectionThresholds, answers: list[ReviewedChance]) -> bool:
    def count(thresholds: DetectionThresholds, marked: str, right: bool) -> int:
        return sum(a.right is right and thresholds.marks(a.chance) == marked for a in answers)

    return any(count(trial, *kind) > count(now, *kind) for kind in (("sure", False), ("not offered", True)))


def _moved(thresholds: DetectionThresholds, usual: DetectionThresholds) -> float:
    pairs = ((thresholds.sure_at, usual.sure_at), (thresholds.offered_at, usual.offered_at))
    return MOVE_COST * sum(abs(_odds(a) - _odds(b)) for a, b in pairs)


def _odds(chance: float) -> float:
    return math.log(chance / (1 - chance))


def _grid(bounds: tuple[float, float]) -> list[float]:
    low, high = (_odds(bound) for bound in bounds)
    steps = [low + (high - low) * k / STEPS for k in range(STEPS + 1)]
    return [min(bounds[1], max(bounds[0], round(1 / (1 + math.exp(-step)), 4))) for step in steps]
