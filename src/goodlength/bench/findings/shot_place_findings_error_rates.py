"""Findings from places on simulated matches: false alarms with all other findings, habits found, bias."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from goodlength.bench.findings.error_rates_by_scenario import WAYS
from goodlength.bench.findings.simulated_shot_place_generator import PlaceWorld, simulate_places
from goodlength.files.json_types import Json, JsonObject
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade
from goodlength.findings.shot_places.shot_length_tightness_and_spread import place_facts
from goodlength.findings.shot_places.shot_place_questions import (
    PlaceAnswer,
    PlaceQuestion,
    graded_places,
    place_questions,
)
from goodlength.findings.shot_places.shot_table import PlacedMatch
from goodlength.record.tables.rally_table import RallyTable
from goodlength.synthetic.simulated_matches import World, invent_match

# Worlds without a habit: how places are drawn, and how rallies are (a name of `WAYS`).
NULL_WORLDS: Mapping[str, tuple[PlaceWorld, str]] = {
    "plain": (PlaceWorld(), "independent"),
    "rallies alike": (PlaceWorld(rally_sd_m=0.8), "independent"),
    "long rallies": (PlaceWorld(shots=16.0, rally_sd_m=0.5), "independent"),
    "large errors": (PlaceWorld(error_m=0.3, bias_m=0.1), "observer-errs"),
    "half unseen, deep ones more": (PlaceWorld(usable=0.6, hidden_deep=0.25), "independent"),
    "points in runs": (PlaceWorld(), "points-in-runs-.12"),
    "kinds by box": (PlaceWorld(), "kinds-by-box"),
    "the ball goes on to the wall": (PlaceWorld(goes_on=True), "independent"),
}
HABITS: Mapping[str, tuple[PlaceWorld, PlaceQuestion]] = {
    "returns of one kind 0.5 m shorter": (PlaceWorld(short_off_kind_m=0.5), PlaceQuestion.RETURN_LENGTH),
    "returns of one kind 1 m shorter": (PlaceWorld(short_off_kind_m=1.0), PlaceQuestion.RETURN_LENGTH),
    "tired fourth game, 0.5 m shorter": (PlaceWorld(tired_m=0.5), PlaceQuestion.LENGTH_FADE),
    "tired fourth game, 1 m shorter": (PlaceWorld(tired_m=1.0), PlaceQuestion.LENGTH_FADE),
    "rallies lost after a drive 0.3 m looser": (PlaceWorld(loose_cost_m=0.3), PlaceQuestion.LOOSE_COST),
    "rallies lost after a drive 0.6 m looser": (PlaceWorld(loose_cost_m=0.6), PlaceQuestion.LOOSE_COST),
}


@dataclass(frozen=True)
class PlaceRates:
    """Shares of matches, 0 to 1: any Clear, any Possible or Clear, and any Possible from places alone."""

    matches: int
    any_clear: float
    any_leaning: float
    any_leaning_error: float
    places_leaning: float
    questions: float


def bench_places(seed: int, matches: int) -> dict[str, Json]:
    """Return rates of null worlds, how often planted habits are found, and the bias of what is measured.

    Parameters
    ----------
    seed : int
        Random state; each world draws from its own.
    matches : int
        Of each world.
    """
    null: dict[str, Json] = {}
    for number, name in enumerate(NULL_WORLDS):
        null[name] = vars(null_world_rates(np.random.default_rng([seed, 1, number]), name, matches)).copy()
    habits: dict[str, Json] = {}
    for number, name in enumerate(HABITS):
        habits[name] = habit_rates(np.random.default_rng([seed, 2, number]), name, matches)
    return {
        "matches": matches,
        "null_worlds": null,
        "habits": habits,
        "matches_together": together_rates(np.random.default_rng([seed, 4]), matches),
        "bias": measuring_bias(np.random.default_rng([seed, 3]), max(10, matches // 4)),
    }


def null_world_rates(rng: np.random.Generator, name: str, matches: int) -> PlaceRates:
    """Judge matches without any habit by all questions of the page, old and new, of both players."""
    places, way = NULL_WORLDS[name]
    clear = leaning = of_places = asked = 0
    for _ in range(matches):
        table = invent_match(rng, WAYS[way].world, float(rng.uniform(0.4, 0.6))).table
        old = {result.grade for result in judge_all(RallyMasks(table))}
        answers = _answers(rng, table, places)
        new = {answer.grade for answer in answers}
        clear += Grade.CLEAR in old | new
        leaning += bool({Grade.CLEAR, Grade.LEANING} & (old | new))
        of_places += Grade.LEANING in new
        asked += sum(answer.p is not None for answer in answers)
    share = leaning / matches
    return PlaceRates(
        matches,
        clear / matches,
        share,
        math.sqrt(max(share, 1 / matches) * (1 - share) / matches),
        of_places / matches,
        asked / matches,
    )


def habit_rates(rng: np.random.Generator, name: str, matches: int) -> JsonObject:
    """Return how often a planted habit is graded, and how often the wrong way round."""
    places, ask = HABITS[name]
    found = wrong = 0
    for _ in range(matches):
        table = _four_games(rng)
        for answer in _answers(rng, table, places):
            # the habit is A's own; that of the serve shows in returns of whoever served the kind
            if answer.ask is ask and answer.grade is Grade.LEANING and answer.side == 0:
                sign = -1.0 if answer.ask is not PlaceQuestion.RETURN_LENGTH or answer.kind == FIRST else 1.0
                found += answer.gap * sign > 0
                wrong += answer.gap * sign < 0
    return {"matches": matches, "found": found / matches, "wrong": wrong / matches}


def together_rates(rng: np.random.Generator, matches: int) -> JsonObject:
    """Return how often the questions of places show any Possible over `TOGETHER` matches: null and tired."""
    null = found = 0
    for _ in range(matches):
        null += any(answer.grade is Grade.LEANING for answer in _together(rng, PlaceWorld()))
        tired = _together(rng, HABITS[TIRED][0])
        found += any(
            answer.grade is Grade.LEANING and answer.side == 0 and answer.gap < 0
            for answer in tired
            if answer.ask is PlaceQuestion.LENGTH_FADE
        )
    return {"matches": TOGETHER, "places_leaning": null / matches, f"found: {TIRED}": found / matches}


def _together(rng: np.random.Generator, world: PlaceWorld) -> tuple[PlaceAnswer, ...]:
    tables = [_four_games(rng) for _ in range(TOGETHER)]
    matches = [PlacedMatch(table, simulate_places(rng, table, world).shots, 0) for table in tables]
    return graded_places([*place_questions(matches, 0), *place_questions(matches, 1)])


TOGETHER, TIRED = 3, "tired fourth game, 0.5 m shorter"
FIRST = "lob"  # the first kind of simulated matches


def _answers(rng: np.random.Generator, table: RallyTable, places: PlaceWorld) -> tuple[PlaceAnswer, ...]:
    match = PlacedMatch(table, simulate_places(rng, table, places).shots, 0)
    return graded_places([*place_questions([match], 0), *place_questions([match], 1)])


def _four_games(rng: np.random.Generator) -> RallyTable:
    """Return a match of four games, its commonest kind the first."""
    while True:
        table = invent_match(rng, World(mix=(0.45, 0.35, 0.2)), 0.5).table
        if int(table.game.max()) == 4:
            return table


def measuring_bias(rng: np.random.Generator, matches: int) -> JsonObject:
    """Return how far length and tightness are off, and the spread with and without the error taken out."""
    world = PlaceWorld(error_m=0.15)
    rows = []
    for _ in range(matches):
        table = _four_games(rng)
        both = simulate_places(rng, table, world)
        seen, true = (place_facts([PlacedMatch(table, shots, 0)], 0) for shots in (both.shots, both.true))
        if seen.tight_spread is None or true.tight_spread is None:
            continue
        rows.append(
            (
                (seen.length.seen or 0.0) - (true.length.seen or 0.0),
                (seen.from_wall_m.median or 0.0) - (true.from_wall_m.median or 0.0),
                seen.tight_spread.measured_m - true.tight_spread.measured_m,
                seen.tight_spread.true_m - true.tight_spread.measured_m,
                true.tight_spread.measured_m,
            )
        )
    length, wall, plain, taken, true_sd = np.mean(np.array(rows), axis=0)
    return {
        "matches": len(rows),
        "error_m": world.error_m,
        "length_share_off": float(length),
        "from_wall_median_off_m": float(wall),
        "spread_off_m": float(plain),
        "spread_less_error_off_m": float(taken),
        "true_spread_m": float(true_sd),
    }
