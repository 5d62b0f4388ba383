"""Questions about places: what is counted, what is found when planted, and what nothing gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.bench.findings.simulated_shot_place_generator import PlaceWorld, simulate_places
from goodlength.errors import OutOfRange
from goodlength.findings.result_types import Grade
from goodlength.findings.shot_places.shot_length_tightness_and_spread import place_facts
from goodlength.findings.shot_places.shot_place_questions import (
    PlaceAnswer,
    PlaceQuestion,
    graded_places,
    independent_of_clusters,
    place_questions,
)
from goodlength.findings.shot_places.shot_place_report import find_places
from goodlength.findings.shot_places.shot_table import PlacedMatch, ShotRow, empty_shots, shot_table_of
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES, RallyTable
from goodlength.synthetic.simulated_matches import World, invent_match, null_match

DRIVE, DROP, CROSS_COURT = (
    STROKES.index(stroke) for stroke in (ShotType.DRIVE, ShotType.DROP, ShotType.CROSS_COURT)
)


@pytest.fixture
def table() -> RallyTable:
    """A match in which A wins the first ten rallies and B all others."""
    made = null_match(np.random.default_rng(3))
    order = np.arange(len(made.key))
    winner = np.where(order < 10, 0, 1).astype(np.int16)
    return replace(made, winner=winner, let=np.zeros(len(order), dtype=np.bool_))


def drive(rally: int, number: int, x: float, y: float, **more: object) -> ShotRow:
    return ShotRow(
        rally,
        number,
        0,
        DRIVE,
        usable=True,
        seen=True,
        bounce=(x, y),
        bounce_error=(0.1, 0.1),
        end=(x, min(y + 1, 9.7)),
        end_error=(0.1, 0.1),
        struck_back=True,
        **more,  # type: ignore[arg-type]
    )


def four_games(seed: int) -> RallyTable:
    rng = np.random.default_rng(seed)
    while True:
        table = invent_match(rng, World(mix=(0.5, 0.5)), 0.5).table
        if int(table.game.max()) == 4:
            return table


def test_length_and_tightness_are_counted_by_the_lines(table: RallyTable) -> None:
    rows = [
        drive(0, 3, 0.3, 7.2),  # past the line, tight
        drive(0, 5, 5.8, 7.0),  # short of it, 60 cm from the right wall
        drive(1, 3, 6.1, 9.0),
        ShotRow(1, 5, 0, DRIVE, seen=True),  # not sure
        ShotRow(1, 7, 0),  # no path
        replace(drive(1, 9, 2.0, 3.0), stroke=DROP),
        drive(2, 1, 2.0, 8.0),  # a serve
        replace(drive(2, 3, 0.4, 8.0), bounce=(np.nan, np.nan), bounce_error=(np.nan, np.nan)),
    ]
    facts = place_facts([PlacedMatch(table, shot_table_of(rows, 30, 3), 0)], 0)
    assert (facts.length.count, facts.length.of) == (2, 3)
    assert (facts.tight.count, facts.tight.of) == (3, 4)
    assert facts.volleyed == 1
    assert (facts.counts.shots, facts.counts.usable, facts.counts.unsure, facts.counts.unseen) == (8, 6, 1, 1)
    assert [(share.count, share.of) for share in facts.sides] == [(1, 1), (1, 2)]
    assert facts.from_wall_m.median == pytest.approx(0.35)
    nobody = place_facts([PlacedMatch(table, shot_table_of(rows, 30, 3), 0)], 1)
    assert nobody.counts.shots == 0 and nobody.length.of == 0


def test_the_measuring_error_is_taken_out_of_the_spread() -> None:
    table, rng = four_games(5), np.random.default_rng(5)
    both = simulate_places(rng, table, PlaceWorld(error_m=0.25, usable=1.0))
    seen, true = (place_facts([PlacedMatch(table, shots, 0)], 0) for shots in (both.shots, both.true))
    assert seen.tight_spread is not None and true.tight_spread is not None
    assert seen.tight_spread.measured_m > true.tight_spread.true_m + 0.03
    assert seen.tight_spread.true_m == pytest.approx(true.tight_spread.true_m, abs=0.03)
    assert seen.length.seen == pytest.approx(true.length.seen, abs=0.05)


@pytest.mark.parametrize(
    ("world", "ask"),
    [
        (PlaceWorld(short_off_kind_m=2.5, usable=1.0, volleyed=0.0), PlaceQuestion.RETURN_LENGTH),
        (PlaceWorld(tired_m=1.6), PlaceQuestion.LENGTH_FADE),
        (PlaceWorld(loose_cost_m=1.5), PlaceQuestion.LOOSE_COST),
    ],
)
def test_a_strong_habit_is_possible_and_never_clear(world: PlaceWorld, ask: PlaceQuestion) -> None:
    table = four_games(10)
    shots = simulate_places(np.random.default_rng(10), table, world).shots
    found = find_places([PlacedMatch(table, shots, 0)], "Imogen", "Petra")
    first = found.all[0]
    assert (first.answer.ask, first.grade) == (ask, Grade.LEANING)
    assert {finding.grade for finding in found.all} <= {Grade.LEANING, Grade.TOO_FEW}
    assert f"{first.answer.first.count} of {first.answer.first.of}" in first.words
    assert first.answer.first.low <= (first.answer.first.seen or 0) <= first.answer.first.high


def test_small_null_worlds_show_little() -> None:
    """A run of 40; `bench findings --places` judges more."""
    rng, shown = np.random.default_rng(20261131), 0
    for _ in range(40):
        table = null_match(rng)
        match = PlacedMatch(table, simulate_places(rng, table, PlaceWorld()).shots, 0)
        answers = graded_places([*place_questions([match], 0), *place_questions([match], 1)])
        assert {answer.grade for answer in answers} <= {Grade.LEANING, Grade.TOO_FEW}
        shown += any(answer.grade is Grade.LEANING for answer in answers)
    assert shown <= 4


def loose_cost(match: PlacedMatch, side: int) -> PlaceAnswer:
    return next(each for each in place_questions([match], side) if each.ask is PlaceQuestion.LOOSE_COST)


def test_the_cost_of_a_loose_drive_counts_one_drive_a_rally(table: RallyTable) -> None:
    rows = []
    for rally in range(20):
        loose = rally >= 10  # A wins the first ten, so a loose last drive goes with a lost rally
        rows += [drive(rally, 3, 0.2 if loose else 2.0, 8.0), drive(rally, 5, 2.0 if loose else 0.2, 8.0)]
        rows.append(replace(drive(rally, 7, 0.2 if loose else 2.0, 8.0), stroke=CROSS_COURT))
    match = PlacedMatch(table, shot_table_of(rows, 30, 20), 0)
    cost = loose_cost(match, 0)
    assert (cost.first.count, cost.first.of, cost.second.count, cost.second.of) == (0, 10, 10, 10)
    assert cost.smaller_side == 10 and cost.p is not None and cost.p < 1e-3
    assert loose_cost(match, 1).p is None


def test_a_ball_measured_later_because_it_won_is_no_tighter_for_that(table: RallyTable) -> None:
    """Cross-courts 72 cm from the wall where struck back, 32 cm at the second bounce, as the outcome has it."""
    rows = []
    for rally in range(20):
        rows.append(drive(rally, 3, 0.2 if rally % 2 else 1.0, 8.0))
        last = replace(drive(rally, 5, 0.32 if rally < 10 else 0.72, 8.0), struck_back=rally >= 10)
        rows.append(replace(last, stroke=CROSS_COURT))
    cost = loose_cost(PlacedMatch(table, shot_table_of(rows, 30, 20), 0), 0)
    assert (cost.first.count, cost.first.of, cost.second.count, cost.second.of) == (5, 10, 5, 10)
    assert cost.gap == 0


def test_a_ball_that_goes_on_to_the_wall_makes_no_cost_of_its_own() -> None:
    """Without a habit the gap in rallies won is nought on average (asked of all shots to length: -5 points)."""
    rng, gaps = np.random.default_rng(20261218), []
    for _ in range(60):
        table = null_match(rng)
        world = PlaceWorld(goes_on=True, usable=1.0, wall_m=0.8)
        match = PlacedMatch(table, simulate_places(rng, table, world).shots, 0)
        gaps += [loose_cost(match, side).gap for side in (0, 1)]
    error = float(np.std(gaps, ddof=1)) / len(gaps) ** 0.5
    assert abs(float(np.mean(gaps))) < 2.5 * error < 0.05, (np.mean(gaps), error)


def test_nothing_followed_is_said_and_asks_nothing(table: RallyTable) -> None:
    found = find_places([PlacedMatch(table, empty_shots(30, stale=4), 0)], "Imogen", "Petra")
    assert found.shots == 0 and found.asked == 0 and found.lines == ()
    assert "4 followed rallies are out of date" in found.caution
    assert {finding.grade for finding in found.all} == {Grade.TOO_FEW}
    with pytest.raises(OutOfRange, match="at least one match"):
        find_places([], "Imogen", "Petra")


def test_several_matches_compare_within_each() -> None:
    """More length in the second match only: no gap between last games and the ones before."""
    first, second = four_games(11), four_games(12)
    rng = np.random.default_rng(13)
    matches = [
        PlacedMatch(table, simulate_places(rng, table, PlaceWorld(depth_m=depth)).shots, side)
        for table, depth, side in ((first, 6.6, 0), (second, 8.2, 1))
    ]
    found = find_places(matches, "Imogen", "the other player")
    assert found.matches == 2 and all(finding.scope == "over 2 matches" for finding in found.all)
    fade = next(each for each in found.all if each.answer.ask is PlaceQuestion.LENGTH_FADE)
    assert fade.grade is Grade.TOO_FEW
    assert {rally.split("/")[0] for rally in fade.answer.first.rallies} == {first.match, second.match}


def test_shots_of_one_rally_widen_the_range() -> None:
    assert independent_of_clusters([(5, 5), (0, 5), (5, 5), (0, 5)]) < 0.3
    assert independent_of_clusters([(3, 5), (2, 5), (3, 5), (2, 5)]) == 1.0
