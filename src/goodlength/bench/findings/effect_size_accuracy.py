"""Accuracy of the effect sizes shown for graded differences, against the record and the truth."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.exact_tests import Stratum, risk_difference
from goodlength.findings.text.effect_shrinkage import ASSUMED_GAPS, likely_gap
from goodlength.synthetic.simulated_matches import World, invent_match

GRADED = (Grade.CLEAR, Grade.LEANING)
HALF = (0.42, 0.38, 0.12, 0.08)  # mix with two kinds about as common
GAP_SD = 0.25  # spread of the planted gaps
MIDDLE = 0.45  # share of weak returns halfway between the two kinds
EVEN = 0.4  # the widest gap where all are equally frequent
REPLAYS = 20  # matches of the same world that show what a record of it holds
TURNED: dict[tuple[int, ...], int] = {(0, 1): 1, (1, 0): -1}  # of the kinds compared; others have no gap


@dataclass(frozen=True)
class GradedGap:
    """One graded difference, its sign the one seen: as counted, as shown, in the record, in truth."""

    seen: float
    shown: float
    recorded: float
    true: float


@dataclass(frozen=True)
class GapSizes:
    """Sizes of graded differences over the true ones, sums over sums; None where none was graded.

    `size_ratio` is the difference shown over the true one; its error is that of a ratio of means.
    `record_ratio` is the difference that many matches written down alike hold, over the true one: below one
    where the observer errs. `by_spread` is `size_ratio` where true differences are of other sizes.
    """

    graded: int
    size_ratio: float | None
    size_error: float | None
    seen_ratio: float | None
    record_ratio: float | None
    shown_over_record: float | None
    by_spread: dict[str, float]


def gap_sizes(gaps: Sequence[GradedGap]) -> GapSizes:
    """Return the sizes of these graded differences."""
    seen, shown, recorded, true = (
        np.array([getattr(gap, name) for gap in gaps]) for name in ("seen", "shown", "recorded", "true")
    )
    ratio = _over(shown, true)
    return GapSizes(
        len(gaps),
        ratio,
        None if ratio is None else _ratio_error(shown, true, ratio),
        _over(seen, true),
        _over(recorded, true),
        _over(shown, recorded),
        {} if ratio is None else _by_spread(shown, true),
    )


def _over(top: np.ndarray, bottom: np.ndarray) -> float | None:
    return float(top.sum() / bottom.sum()) if bottom.sum() > 0 else None


def _ratio_error(top: np.ndarray, bottom: np.ndarray, ratio: float) -> float:
    """Return the standard error of a ratio of sums (linear in both)."""
    return float(np.sqrt(((top - ratio * bottom) ** 2).sum()) / bottom.sum())


def _normal(gap: float, spread: float) -> float:
    return math.exp(-(gap**2) / (2 * spread**2)) / (spread * math.sqrt(2 * math.pi))


SPREADS: dict[str, Callable[[float], float]] = {
    "as assumed beforehand": lambda gap: sum(w * _normal(gap, spread) for w, spread in ASSUMED_GAPS),
    "half of them none": lambda gap: 0.5 * _normal(gap, 0.02) + 0.5 * _normal(gap, GAP_SD),
    "even to 40 points": lambda gap: 1 / (2 * EVEN) if abs(gap) <= EVEN else 0.0,
}


def _by_spread(shown: np.ndarray, true: np.ndarray) -> dict[str, float]:
    """Return the size where true differences are spread otherwise: each weighed by its density there."""
    sizes = {}
    for name, density in SPREADS.items():
        weight = np.array([density(gap) / _normal(gap, GAP_SD) for gap in true])
        if (bottom := float((weight * true).sum())) > 0:
            sizes[name] = float((weight * shown).sum()) / bottom
    return sizes


def bench_gap_sizes(worlds: Mapping[str, World], seed: int, matches: int) -> dict[str, GapSizes]:
    """Return the sizes of every world, and of all together under "all".

    Parameters
    ----------
    worlds : mapping
        The ways a match can be.
    seed, matches : int
        Random state; how many matches of each.
    """
    found = {
        name: list(graded_gaps(np.random.default_rng([seed, number, 1]), world, matches))
        for number, (name, world) in enumerate(worlds.items())
    }
    each = {name: gap_sizes(gaps) for name, gaps in found.items()}
    return {**each, "all": gap_sizes([gap for gaps in found.values() for gap in gaps])}


def graded_gaps(rng: np.random.Generator, world: World, matches: int) -> Iterator[GradedGap]:
    """Yield graded differences in weak returns of even pairs, a true gap being drawn for each match."""
    replays = rng.spawn(1)[0]
    for _ in range(matches):
        gap = float(rng.normal(0.0, GAP_SD))
        high, low = (float(np.clip(MIDDLE + half, 0.05, 0.95)) for half in (gap / 2, -gap / 2))
        planted = replace(world, mix=HALF, weak=(high, low))
        graded = [
            question_result
            for question_result in judge_all(RallyMasks(invent_match(rng, planted, 0.5, 11).table))
            if question_result.ask is Question.WEAK and question_result.grade in GRADED
        ]
        recorded = recorded_gap(replays, planted) if graded else 0.0
        for result in graded:
            turned = TURNED.get(result.kinds, 0)
            sign = 1 if result.gap > 0 else -1
            truth = sign * turned
            yield GradedGap(
                sign * result.gap, sign * likely_gap_of(result), truth * recorded, truth * (high - low)
            )


def recorded_gap(rng: np.random.Generator, world: World, matches: int = REPLAYS) -> float:
    """Return the gap in weak returns between the first two kinds, within boxes, that records of it hold."""
    counts = np.zeros((2, 4), dtype=np.int64)
    for _ in range(matches):
        view = RallyMasks(invent_match(rng, world).table)
        for box in (0, 1):
            for kind in (0, 1):
                here = view.return_known & (view.table.box == box) & (view.table.kind == kind)
                counts[box, 2 * kind : 2 * kind + 2] += (int((view.weak & here).sum()), int(here.sum()))
    strata: list[Stratum] = [(int(a), int(n), int(c), int(m)) for a, n, c, m in counts]
    return risk_difference(strata) or 0.0


def likely_gap_of(result: QuestionResult) -> float:
    """Return the gap a finding shows as the likely one, drawn in."""
    stratified = result.within_matches or result.within_boxes or (None, None)
    likely = likely_gap(result.first, result.second, *stratified) if result.second is not None else None
    return result.gap if likely is None else likely.gap
