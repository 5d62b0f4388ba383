"""Scenarios of how a match can be played and recorded, and the error rates of the findings in each.

Seeds and ways here are for judging. Thresholds were chosen on other seeds (2, 3, 5 and 7 of this module's
generator), and the guesses in `findings.analyses.serve_advantage` and
`findings.statistics.restricted_permutation_tests` on no data at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace

import numpy as np

from goodlength.bench.findings.effect_size_accuracy import (
    GRADED,
    HALF,
    GapSizes,
    bench_gap_sizes,
    gap_sizes,
    graded_gaps,
)
from goodlength.files.json_types import Json
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade
from goodlength.synthetic.simulated_matches import World, invent_match

HABIT = frozenset({Question.REPEAT, Question.AFTER})
PLANTED = (0.7, 0.25)  # shares of weak returns planted in each way to see its power
OF_FINGERPRINT = 2  # matches


@dataclass(frozen=True)
class MatchWay:
    """One way a match can be, the questions truly answered "yes" in it, and true gaps that are not zero."""

    world: World
    true: frozenset[Question] = frozenset()
    gaps: Mapping[Question, float] = field(default_factory=dict)


def _runs(world: World, true: frozenset[Question] = frozenset()) -> MatchWay:
    """Simulate points in runs: serving and receiving differ, but not because of the serve."""
    return MatchWay(world, true, {Question.SERVE_EDGE: 2 * world.run})


WAYS: dict[str, MatchWay] = {
    "independent": MatchWay(World()),
    "repeats-serve-.2": MatchWay(World(repeats=0.2), HABIT),
    "repeats-serve-.35": MatchWay(World(repeats=0.35), HABIT),
    "repeats-serve-.5": MatchWay(World(repeats=0.5), HABIT),
    "alternates-serve": MatchWay(World(repeats=-0.6), HABIT),
    "points-in-runs-.06": _runs(World(run=0.06)),
    "points-in-runs-.12": _runs(World(run=0.12)),
    "serves-and-points-in-runs": _runs(World(run=0.12, repeats=0.35), HABIT),
    "form-by-game": MatchWay(World(form_sd=0.12)),
    "kinds-by-box": MatchWay(World(by_box=0.6)),
    "kinds-and-returns-by-box": MatchWay(
        World(by_box=0.6, weak_by_box=0.3), frozenset({Question.BOX_WEAK}), {Question.BOX_WEAK: 0.3}
    ),
    "kinds-by-score": MatchWay(World(by_score=0.6)),
    "kinds-by-score-form-by-game": MatchWay(World(by_score=0.6, form_sd=0.12)),
    "fatigue": MatchWay(World(fatigue=0.25)),
    "receivers-learn": MatchWay(World(learning=0.4)),
    "observer-errs": MatchWay(World(kind_errors=0.1, return_errors=0.12)),
    "good-returns-unwritten": MatchWay(World(unwritten=0.4)),
    "good-returns-of-one-kind-unwritten": MatchWay(World(unwritten_first=0.3)),
    "half-unwritten": MatchWay(World(unwritten_half=0.5)),
}
# What is planted to see how often each question finds it, and the question.
EFFECTS: dict[str, tuple[World, Question]] = {
    "weak .70 v .25": (World(mix=HALF, weak=(0.7, 0.25)), Question.WEAK),
    "weak .60 v .35": (World(mix=HALF, weak=(0.6, 0.35)), Question.WEAK),
    "won .70 v .30": (World(mix=HALF, won=(0.7, 0.3)), Question.WON),
    "won .60 v .40": (World(mix=HALF, won=(0.6, 0.4)), Question.WON),
    "mix .80 to .20": (World(mix=(0.5, 0.3, 0.2), drift=(0.8, 0.2)), Question.DRIFT),
    "mix .65 to .35": (World(mix=(0.5, 0.3, 0.2), drift=(0.65, 0.35)), Question.DRIFT),
    "repeats .5": (World(repeats=0.5), Question.REPEAT),
    "repeats .3": (World(repeats=0.3), Question.REPEAT),
    "serving .60 v .40": (World(serving=0.1), Question.SERVE_EDGE),
    "serving .70 v .30": (World(serving=0.2), Question.SERVE_EDGE),
    "serving .80 v .20": (World(serving=0.3), Question.SERVE_EDGE),
    "long rallies .625 v .375": (World(long=0.125), Question.LONG),
    "changing .60 v .40": (World(changing=0.1), Question.CHANGE),
}


@dataclass(frozen=True)
class FalseRates:
    """What is found wrongly in one way, shares 0 to 1.

    `any_clear` and `any_leaning` count matches with a false finding of that grade (or a better one) among
    all questions of both players. `ranges` is how often ranges of a difference promised at 95 in 100 hold
    the true one. `fingerprint` sums every p of the first two matches: another one means that the tests have
    changed.
    """

    any_clear: float
    any_leaning: float
    ranges: float
    false_by_question: dict[str, float]
    false_clear_by_question: dict[str, float]
    fingerprint: float


@dataclass(frozen=True)
class WayFigures(FalseRates):
    """What findings do in one way.

    `size` is the gap shown over the true gap, and over the gap the record holds, of findings graded in
    matches whose true gap is drawn anew each time. `power` is how often a planted gap in weak returns is
    graded.
    """

    size: GapSizes
    power: dict[str, float]


def judge(rng: np.random.Generator, world: World, even: bool = False) -> tuple[QuestionResult, ...]:
    """Return everything asked of one invented match, graded; `even` pairs to 11, else as they come."""
    share_a = 0.5 if even else float(rng.uniform(0.4, 0.6))
    target = 11 if even else int(rng.choice((11, 11, 15)))
    return judge_all(RallyMasks(invent_match(rng, world, share_a, target).table))


def way_figures(name: str, seed: int, matches: int) -> WayFigures:
    """Return the figures of one way over so many invented matches, and a third of that for each plant.

    Parameters
    ----------
    name : str
        One of `WAYS`.
    seed, matches : int
        Random state; how many matches.
    """
    world, number = WAYS[name].world, list(WAYS).index(name)
    return WayFigures(
        **asdict(false_rates(name, seed, matches)),
        size=gap_sizes(
            list(graded_gaps(np.random.default_rng([seed, number, 1]), world, max(1, matches // 3)))
        ),
        power=power_in(np.random.default_rng([seed, number, 2]), world, max(1, matches // 3)),
    )


def false_rates(name: str, seed: int, matches: int) -> FalseRates:
    """Return what is found wrongly in one way; parameters as of `way_figures`."""
    way = WAYS[name]
    rng = np.random.default_rng([seed, list(WAYS).index(name)])
    false: Counter[str] = Counter()
    false_clear: Counter[str] = Counter()
    clear = leaning = 0
    covered: list[bool] = []
    for _ in range(matches):
        asked = judge(rng, way.world)
        wrong = [result for result in asked if result.ask not in way.true and result.grade in GRADED]
        clear_ones = {str(result.ask) for result in wrong if result.grade is Grade.CLEAR}
        false_clear.update(clear_ones)
        clear += bool(clear_ones)
        leaning += bool(wrong)
        false.update({str(result.ask) for result in wrong})
        covered += _coverage(way, asked)
    return FalseRates(
        clear / matches,
        leaning / matches,
        sum(covered) / max(len(covered), 1),
        {ask: count / matches for ask, count in false.most_common()},
        {ask: count / matches for ask, count in false_clear.most_common()},
        fingerprint(name, seed),
    )


def fingerprint(name: str, seed: int) -> float:
    """Return the sum of every p in the first matches of a way."""
    rng = np.random.default_rng([seed, list(WAYS).index(name)])
    asked = [result for _ in range(OF_FINGERPRINT) for result in judge(rng, WAYS[name].world)]
    return round(sum(result.p + result.checked_p for result in asked if result.p is not None), 3)


def _coverage(way: MatchWay, asked: Sequence[QuestionResult]) -> list[bool]:
    """Return whether each range of a difference holds the true one, where the truth is known."""
    return [
        result.effect.low <= _true_gap(way, result) <= result.effect.high
        for result in asked
        if result.effect is not None
        and result.p is not None
        and (result.ask not in way.true or result.ask in way.gaps)
    ]


def _true_gap(way: MatchWay, result: QuestionResult) -> float:
    return way.gaps.get(result.ask, 0.0)


def power_in(rng: np.random.Generator, world: World, matches: int) -> dict[str, float]:
    """Return how often a planted gap in weak returns is Clear, and at least Leaning, in such a world."""
    planted = replace(world, mix=HALF, weak=PLANTED)
    return seen(rng, planted, Question.WEAK, matches)


def seen(rng: np.random.Generator, world: World, ask: Question, matches: int) -> dict[str, float]:
    """Return how often a question is graded, either player's counting, of even pairs to 11."""
    clear = leaning = 0
    for _ in range(matches):
        grades = {result.grade for result in judge(rng, world, even=True) if result.ask is ask}
        clear += Grade.CLEAR in grades
        leaning += bool(grades & set(GRADED))
    return {"clear": clear / matches, "leaning": leaning / matches}


def sizes(seed: int, matches: int) -> dict[str, dict[str, Json]]:
    """Return how wide graded differences are shown in every way, and in all of them together."""
    worlds = {name: way.world for name, way in WAYS.items()}
    return {name: asdict(size) for name, size in bench_gap_sizes(worlds, seed, matches).items()}


def effects(seed: int, matches: int) -> dict[str, dict[str, float]]:
    """Return how often each planted effect is graded where nothing else is going on."""
    return {
        name: seen(np.random.default_rng([seed, 99, number]), world, ask, matches)
        for number, (name, (world, ask)) in enumerate(EFFECTS.items())
    }


def as_form(figures: WayFigures) -> dict[str, Json]:
    """Return the figures as plain values."""
    return asdict(figures)
