"""Progress of a drill: sets done, the rate now, and whether it is better than at first."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import groupby

import numpy as np

from goodlength.errors import InputError
from goodlength.practice import input_validation
from goodlength.practice.statistics.attempt_scatter import FEWEST as FEWEST_PLACES
from goodlength.practice.statistics.attempt_scatter import AttemptScatter, scatter_of
from goodlength.practice.statistics.change_evidence_with_day_effects import (
    distance_evidence_over_days,
    evidence_over_days,
)
from goodlength.practice.statistics.discounted_beta_hit_rate import (
    HitRate,
    hit_rate,
    hit_rate_of_sets,
)
from goodlength.practice.statistics.learning_curve_model_comparison import (
    FEWEST_SESSIONS,
    LearningCurve,
    learning_curve,
)
from goodlength.practice.statistics.miss_distance_change import FEWEST as FEWEST_DISTANCES
from goodlength.practice.statistics.miss_distance_change import (
    DistanceChange,
    distance_change,
    distances_m,
)

ENOUGH = 20.0  # Ville's inequality: a true rate passes this at most once in 20, however often one looks
MOST_ATTEMPTS_NAMED = 2000
MOST_DAYS_NAMED = 100
_MOST = math.exp(300.0)  # evidence is not counted beyond this
Counts = tuple[int, int]
Place = tuple[float, float]


class PracticeOrder(StrEnum):
    """In what order the attempts were made; the last blocked set flatters."""

    BLOCKED = "blocked"  # the same each time
    MIXED = "mixed"  # among other drills or kinds
    RETENTION = "retention"  # first thing on a later day, before practising


@dataclass(frozen=True)
class PracticeSet:
    """One set as logged; `places` are where attempts went, metres, and `aim` where they should have gone."""

    on: date
    hits: int
    attempts: int
    order: PracticeOrder = PracticeOrder.BLOCKED
    places: tuple[Place, ...] = ()
    aim: Place | None = None
    id: str = ""


@dataclass(frozen=True)
class OrderComparison:
    """Sets of one order: the first day of it, and every later day."""

    order: PracticeOrder
    first: Counts
    since: Counts
    evidence: float
    verdict: str


@dataclass(frozen=True)
class Progress:
    """What the sets of one drill say.

    `now` is the rate with older attempts fading. `by_order` compares like with like: sets of one order
    with the first day of the same order. `evidence` is how many times likelier the hits are if the rate
    changed than if it did not, over all orders. `verdict` is "better", "worse", "cannot-tell", "unlike" (only
    sets of different orders could be compared) or "one-session". `more` is about how many more attempts
    would tell, None if settled or beyond what anyone would log. `distances` from the
    aim are there, order by order, where places and aim were logged; then evidence is the mean of theirs and
    of the hits'.

    Limits
    ------
    One judgement a drill holds false "better" to 1 in 20, also where days differ by 12 points in 100 or the
    aim moves by 20 cm (docs/bench.md). Three drills are three judgements.
    """

    sessions: tuple[tuple[date, Counts, HitRate], ...]
    whole: Counts
    now: HitRate
    by_order: tuple[OrderComparison, ...]
    evidence: float
    verdict: str
    more: int | None
    curve: LearningCurve | None
    distances: tuple[tuple[PracticeOrder, DistanceChange], ...]
    scatter: AttemptScatter | None
    places: tuple[Place, ...]
    aim: Place | None

    @property
    def shown_curve(self) -> LearningCurve | None:
        """The learning curve where a change is shown; without one a rising line would deny that."""
        moves = self.curve is not None and self.curve.shape != "flat"
        return self.curve if moves and self.verdict in ("better", "worse") else None


def progress_of(sets: Sequence[PracticeSet]) -> Progress:
    """Return what the logged sets of one drill say so far.

    Parameters
    ----------
    sets : sequence of PracticeSet
        In any order; days are put in order here, and sets of one day stay as they come.

    Raises
    ------
    InputError
        No set at all, or a set that cannot be.
    """
    if not sets:
        raise InputError("Nothing has been logged for this drill yet. Log a set first.")
    for practice_set in sets:
        input_validation.counts(practice_set.hits, practice_set.attempts)
    ordered = sorted(sets, key=lambda practice_set: practice_set.on)
    days = [
        (day, _added(of_day)) for day, of_day in groupby(ordered, key=lambda practice_set: practice_set.on)
    ]
    by_order = tuple(
        _compared(order, ordered) for order in PracticeOrder if any(s.order is order for s in ordered)
    )
    distances = _distances(ordered)
    verdict, evidence = _judged(by_order, distances, len(days))
    places, aim = _places(ordered)
    return Progress(
        tuple((day, pair, hit_rate(*pair)) for day, pair in days),
        _added(ordered),
        hit_rate_of_sets([(set_item.hits, set_item.attempts) for set_item in ordered]),
        by_order,
        evidence,
        verdict,
        _more(by_order, ordered) if verdict == "cannot-tell" else None,
        learning_curve(*zip(*(pair for _, pair in days), strict=True)) if _has_curve(days) else None,
        distances,
        scatter_of(places, aim) if len(places) >= FEWEST_PLACES else None,
        places,
        aim,
    )


def _added(sets: Iterable[PracticeSet]) -> Counts:
    chosen = list(sets)
    return sum(practice_set.hits for practice_set in chosen), sum(
        practice_set.attempts for practice_set in chosen
    )


def _split(
    order: PracticeOrder, ordered: Sequence[PracticeSet]
) -> tuple[list[PracticeSet], list[PracticeSet]]:
    """Return sets of one order: those of its first day, and the later ones."""
    like = [practice_set for practice_set in ordered if practice_set.order is order]
    return [s for s in like if s.on == like[0].on], [s for s in like if s.on > like[0].on]


def _compared(order: PracticeOrder, ordered: Sequence[PracticeSet]) -> OrderComparison:
    first, since = (_added(part) for part in _split(order, ordered))
    evidence = min(evidence_over_days(*_by_day(order, ordered)), _MOST) if since[1] else 1.0
    return OrderComparison(
        order, first, since, evidence, _verdict(evidence, _gap(first, since), bool(since[1]))
    )


def _by_day(order: PracticeOrder, ordered: Sequence[PracticeSet]) -> tuple[list[Counts], list[Counts]]:
    """Return counts of one order day by day: those of its first day, and the later ones."""
    first, later = (
        [_added(of_day) for _, of_day in groupby(part, key=lambda practice_set: practice_set.on)]
        for part in _split(order, ordered)
    )
    return first, later


def _gap(first: Counts, since: Counts) -> float:
    return since[0] / since[1] - first[0] / first[1] if since[1] and first[1] else 0.0


def _verdict(evidence: float, gap: float, comparable: bool) -> str:
    if not comparable:
        return "one-session"
    if evidence < ENOUGH or gap == 0:
        return "cannot-tell"
    return "better" if gap > 0 else "worse"


def _judged(
    by_order: Sequence[OrderComparison], distances: Sequence[tuple[PracticeOrder, DistanceChange]], days: int
) -> tuple[str, float]:
    """Return one verdict and its evidence.

    Each factor is fair by itself, and no set is in two of them: over orders their product is fair too. Hits
    and distances are of the same balls: their mean is fair, whatever hangs together.
    """
    comparable = [comparison for comparison in by_order if comparison.since[1]]
    if not comparable:
        return ("unlike" if days > 1 else "one-session"), 1.0
    by_hits = min(math.prod(comparison.evidence for comparison in comparable), _MOST)
    gap = sum(_gap(comparison.first, comparison.since) * comparison.since[1] for comparison in comparable)
    if not distances:
        return _verdict(by_hits, gap, True), by_hits
    by_distance = min(math.prod(change.evidence for _, change in distances), _MOST)
    nearer = -sum(change.change_m * change.since for _, change in distances)
    evidence = (by_hits + by_distance) / 2
    return _verdict(evidence, nearer if by_distance >= by_hits else gap, True), evidence


def _has_curve(days: Sequence[tuple[date, Counts]]) -> bool:
    return len(days) >= FEWEST_SESSIONS and all(pair[1] > 0 for _, pair in days)


def _more(by_order: Sequence[OrderComparison], ordered: Sequence[PracticeSet]) -> int | None:
    """Attempts still to make until the evidence is enough, if hits go on as they have since the first day.

    On further days as long as those so far, in the order that has the most attempts; None where even
    `MOST_ATTEMPTS_NAMED` would not be enough.
    """
    comparison = max((c for c in by_order if c.since[1]), key=lambda c: c.since[1])
    others = math.prod(c.evidence for c in by_order if c is not comparison)
    first, later = _by_day(comparison.order, ordered)
    each = max(5, round(comparison.since[1] / len(later)))
    day = (round(each * comparison.since[0] / comparison.since[1]), each)
    for days in range(1, min(MOST_ATTEMPTS_NAMED // each, MOST_DAYS_NAMED) + 1):
        if others * evidence_over_days(first, [*later, *[day] * days]) >= ENOUGH:
            return days * each
    return None


def _distances(ordered: Sequence[PracticeSet]) -> tuple[tuple[PracticeOrder, DistanceChange], ...]:
    """Return distances from the aim in each order that has enough of them: like with like."""
    found = []
    for order in PracticeOrder:
        marked = [
            practice_set
            for practice_set in ordered
            if practice_set.places and practice_set.aim and practice_set.order is order
        ]
        if not marked:
            continue
        days = [
            [
                np.concatenate([_offsets(practice_set) for practice_set in day])
                for _, day in groupby(part, key=lambda practice_set: practice_set.on)
            ]
            for part in _split(order, marked)
        ]
        first, since = (np.concatenate(part) if part else np.zeros(0) for part in days)
        if min(first.size, since.size) >= FEWEST_DISTANCES:
            change = distance_change(first, since)
            found.append((order, replace(change, evidence=distance_evidence_over_days(*days))))
    return tuple(found)


def _offsets(practice_set: PracticeSet) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return distances_m(practice_set.places, practice_set.aim or (0.0, 0.0))


def _places(ordered: Sequence[PracticeSet]) -> tuple[tuple[Place, ...], Place | None]:
    """Return every place of the newest aim; places without an aim only where no set has one."""
    aim = next(
        (practice_set.aim for practice_set in reversed(ordered) if practice_set.aim and practice_set.places),
        None,
    )
    return tuple(
        place for practice_set in ordered if practice_set.aim == aim for place in practice_set.places
    ), aim
