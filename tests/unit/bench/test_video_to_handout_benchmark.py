"""The coach's hour: costs add up, a rally on the sheet is found in the truth, and what is wrong is counted."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any

import pytest

from goodlength.record.model import Ending
from goodlength.scoring.scoring_types import Box, Side
from robustness.coach_workflow.interaction_time_model import HandsOnCost
from robustness.coach_workflow.scoresheet_accuracy import wrong_answers
from robustness.coach_workflow.scripted_coach_in_browser import PageCoach
from robustness.coach_workflow.simulated_match_video import FilmedMatch


def plan(
    server: Side = Side.A, winner: Side = Side.A, kind: str = "lob", ending: Ending = Ending.WINNER
) -> Any:
    return SimpleNamespace(
        server=server, winner=winner, kind=kind, box=Box.LEFT, ending=ending, how=None, left=None
    )


def match_of(*spans: tuple[float, float], plans: tuple[Any, ...] = ()) -> FilmedMatch:
    rallies = tuple(SimpleNamespace(start_s=start, end_s=end) for start, end in spans)
    return FilmedMatch(1, plans or tuple(plan() for _ in spans), SimpleNamespace(rallies=rallies))  # type: ignore[arg-type]


def logged(start_s: float, end_s: float, server: Side, winner: Side, kind: str) -> Any:
    return SimpleNamespace(
        start_us=start_s * 1e6,
        end_us=end_s * 1e6,
        server=server,
        winner=winner,
        serve=SimpleNamespace(kind=kind),
    )


def test_minutes_are_presses_watching_and_looks_by_the_stated_costs():
    cost = HandsOnCost()
    cost.press("draft", 5)
    cost.watch("draft")
    cost.glance("court")
    assert cost.minutes == pytest.approx((5 * 1.2 + 14 + 5) / 60)
    assert [line["step"] for line in cost.table()] == ["draft", "court"]


@pytest.mark.parametrize(
    ("span", "found"), [((10.2, 19.5), 0), ((10, 30), 0), ((10, 31), None), ((25, 29), None), ((40, 52), 1)]
)
def test_a_span_is_the_rally_that_fills_half_of_the_union(span, found):
    assert match_of((10, 20), (40, 50)).rally_at(span[0] * 1e6, span[1] * 1e6) == found


@pytest.mark.parametrize(
    ("span", "found"),
    [((10.1, 10.15), 0), ((10.1, 12), 0), ((16, 18), 0), ((19, 22), None), ((25, 29), None)],
)
def test_a_part_of_a_rally_is_that_rally(span: tuple[float, float], found: int | None) -> None:
    """A coach who sees a serve where only its strike was detected answers the rally, and deletes nothing."""
    assert match_of((10, 20), (40, 50)).rally_in(span[0] * 1e6, span[1] * 1e6) == found


def test_the_rallies_within_a_pause_are_those_that_lie_in_it() -> None:
    match = match_of((10, 20), (40, 50), (70, 80))
    assert match.rallies_within(21e6, 69e6) == [1] and match.rallies_within(21e6, 39e6) == []


def test_a_rally_logged_in_part_counts_and_is_named_a_second_part_is_none() -> None:
    sheet = [logged(10.1, 10.2, Side.A, Side.A, "lob"), logged(17, 19, Side.A, Side.A, "lob")]
    figures = wrong_answers(sheet, match_of((10, 20)))
    assert (figures["right_of_100"], figures["logged_and_no_rally"]) == (100.0, 1)
    assert figures["logged_with_less_than_half_of_their_time"] == 1


def test_missing_invented_and_wrong_rallies_are_counted_each():
    match = match_of((10, 20), (40, 50), (70, 80))
    sheet = [
        logged(10, 20, Side.A, Side.A, "lob"),
        logged(40, 50, Side.B, Side.A, "hard"),
        logged(55, 60, Side.A, Side.A, "lob"),
        logged(11, 20, Side.A, Side.A, "lob"),
    ]
    figures = wrong_answers(sheet, match)
    assert figures["wrong"] == {"missing": 1, "server": 1, "winner": 0, "kind": 1}
    assert figures["right_of_100"] == pytest.approx(33.3)
    assert figures["logged_and_no_rally"] == 2


@pytest.mark.parametrize(
    ("question", "ending", "key"),
    [
        ("served", Ending.WINNER, "2"),
        ("served", Ending.SERVICE_FAULT, "9"),
        ("unknown", Ending.WINNER, "Enter"),
    ],
)
def test_the_script_presses_the_key_of_the_true_answer(question, ending, key):
    asked = {
        "id": "serve.kind" if question == "served" else "aim",
        "answers": [
            {"value": "hard", "key": "1"},
            {"value": "lob", "key": "2"},
            {"value": "service-fault", "key": "9"},
        ],
    }
    coach = PageCoach(None, match_of((0, 1)), HandsOnCost(), print)
    assert coach.key_for(asked, plan(ending=ending)) == key


@pytest.mark.parametrize(("colour", "side"), [("#c68531", Side.B), ("#314961", Side.A)])
def test_who_is_who_is_told_by_the_shirt(colour, side):
    assert match_of((0, 1)).side_in(colour) is side


def test_a_cost_written_down_is_read_back_and_counted_on():
    cost = HandsOnCost()
    cost.press("draft", 5)
    cost.glance("court")
    again = HandsOnCost.read(json.loads(json.dumps(cost.plain())))
    again.press("draft")
    assert again.minutes == pytest.approx(cost.minutes + 1.2 / 60)
    assert again.steps == ["draft", "court"]


@pytest.mark.parametrize(
    ("known", "found"), [([0, None, 2], 1), ([0, None, 1], None), ([0, 1, 2, None], None)]
)
def test_a_rally_without_a_time_is_the_one_missing_there(known, found):
    match = match_of((10, 20), (40, 50), (70, 80))
    coach = PageCoach(None, match, HandsOnCost(), print)
    spans = [(None, None) if n is None else (10e6 + 30e6 * n, 20e6 + 30e6 * n) for n in known]
    rallies = [{"key": f"r{n}", "start_us": a, "end_us": b} for n, (a, b) in enumerate(spans)]
    assert coach.true_rally({"rallies": rallies}, rallies[known.index(None)]) == found


def test_a_rally_written_in_without_a_time_counts_as_the_one_missing_there():
    match = match_of((10, 20), (40, 50), (70, 80))
    timeless = logged(0, 0, Side.A, Side.A, "lob")
    timeless.start_us = timeless.end_us = None
    sheet = [
        logged(10, 20, Side.A, Side.A, "lob"),
        timeless,
        logged(70, 80, Side.A, Side.A, "lob"),
    ]
    assert wrong_answers(sheet, match)["right_of_100"] == 100
