"""Practice through the tasks: a plan from the demo, sets that count once, words that are no stronger than the log."""

from __future__ import annotations

import re
import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from goodlength import tasks
from goodlength.bench.findings.practice_statistics_error_rates import bench_practice_progress
from goodlength.errors import InputError, NotFound, OutOfRange
from goodlength.findings import Grade
from goodlength.forms.practice.practice_progress_json import progress_form
from goodlength.practice.planning.practice_plan import Time, plan_form
from goodlength.practice.progress_sentences import progress_sentences
from goodlength.practice.statistics.drill_progress import (
    PracticeOrder,
    PracticeSet,
    progress_of,
)
from goodlength.synthetic.findings_of_simulated_matches import KINDS, generated
from goodlength.tasks.practice.practice_plans_and_log import LEADS, need_of

PLAYER = "demo-imogen-vale"
TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    made = tmp_path_factory.mktemp("library")
    shutil.copytree(demo_library, made, dirs_exist_ok=True)
    return made


@pytest.fixture
def library(folder: Path):
    with tasks.open_library(folder) as opened:
        yield opened


def test_the_demo_gives_a_plan_whose_items_name_their_finding(library) -> None:
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), begins=TODAY))
    keys = {finding.key for finding in tasks.find(library, "demo").all}
    assert 1 <= len(plan["items"]) <= 3
    assert all(item["finding"] in keys and item["shows"] for item in plan["items"])
    assert plan["check_on"] == "2026-12-16"
    assert plan["cautions"]


def test_a_kept_plan_comes_back_with_the_coachs_dose(library) -> None:
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), begins=TODAY))
    plan["items"][0]["sets"] = 2
    kept = tasks.save_plan(library, PLAYER, plan)
    assert tasks.plans_of(library, PLAYER)[0] == (kept, plan)


def test_an_edited_dose_that_cannot_be_is_refused(library) -> None:
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), begins=TODAY))
    plan["items"][0]["target"] = plan["items"][0]["attempts"] + 1
    with pytest.raises(OutOfRange, match="target"):
        tasks.save_plan(library, PLAYER, plan)


def test_a_finding_that_is_not_there_is_named(library) -> None:
    with pytest.raises(NotFound, match="a-juggling"):
        tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), keys=["a-juggling"])


def test_a_plan_gives_a_reason_and_not_a_question_alone(library) -> None:
    """Before: "Why: Does the body serve ... draw weak returns? (not enough data)"."""
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60)))
    asked = [item["why"] for item in plan["items"] if item["grade"] == "too-few"]
    assert asked == [
        "Does the body serve bouncing at the feet draw weak returns? "
        "Too few serves to judge, so practise and log more."
    ]


def test_every_finding_of_every_kind_gives_a_plan_a_reason() -> None:
    for finding in generated(np.random.default_rng(81), 150):
        if finding.question not in LEADS:
            continue
        need = need_of(finding, KINDS)
        if finding.grade is Grade.TOO_FEW and "follow the box" not in finding.headline:
            assert re.search(r"\b[Ll]og\b", need.reason), finding.headline
        else:
            assert not need.reason
        assert "?" not in need.reason


def test_a_set_logged_without_an_order_takes_the_drills_own(library) -> None:
    """Before: a drill that draws each shot was logged as blocked."""
    for drill_id, order in (("six-corners", PracticeOrder.MIXED), ("lob-to-the-box", PracticeOrder.BLOCKED)):
        tasks.log_set(library, PLAYER, drill_id, 5, 8, on=TODAY, set_id=f"own-{order}", today=TODAY)
        assert tasks.sets_of(library, PLAYER)[drill_id][-1].order is order
        tasks.undo_set(library, PLAYER, f"own-{order}")


def test_a_set_sent_twice_counts_once_and_can_be_taken_back(library) -> None:
    for _ in range(2):
        tasks.log_set(library, PLAYER, "six-corners", 5, 8, on=TODAY, set_id="once", today=TODAY)
    assert [(s.hits, s.attempts) for s in tasks.sets_of(library, PLAYER)["six-corners"]] == [(5, 8)]
    tasks.undo_set(library, PLAYER, "once")
    assert "six-corners" not in tasks.sets_of(library, PLAYER)


@pytest.mark.parametrize(
    ("hits", "attempts", "on", "kind", "said"),
    [
        (16, 15, TODAY, InputError, "16 hits in 15"),
        (0, 0, TODAY, OutOfRange, "1 to 500"),
        (1, 2, date(2026, 11, 26), OutOfRange, "in the future"),
    ],
)
def test_a_set_that_cannot_be_is_refused(library, hits, attempts, on, kind, said) -> None:
    with pytest.raises(kind, match=said):
        tasks.log_set(library, PLAYER, "six-corners", hits, attempts, on=on, today=TODAY)


def test_a_drill_that_is_not_there_is_refused(library) -> None:
    with pytest.raises(NotFound):
        tasks.log_set(library, PLAYER, "juggling", 1, 2, on=TODAY, today=TODAY)


def sets(*pairs: tuple[int, int], order: PracticeOrder = PracticeOrder.BLOCKED) -> list[PracticeSet]:
    return [PracticeSet(date(2026, 11, 1 + k), hits, n, order) for k, (hits, n) in enumerate(pairs)]


def test_a_clear_rise_is_called_better_and_a_small_one_is_not() -> None:
    assert progress_of(sets((10, 45), (35, 45))).verdict == "better"
    assert progress_of(sets((35, 45), (10, 45))).verdict == "worse"
    small = progress_of(sets((20, 45), (23, 45)))
    assert small.verdict == "cannot-tell"
    assert any(
        "cannot be settled" in words and "longer first day" in words for words in progress_sentences(small)
    )


def test_one_session_compares_nothing() -> None:
    assert progress_of(sets((10, 45))).verdict == "one-session"


def test_mixed_and_later_sets_are_said_apart() -> None:
    told = progress_of(
        [*sets((10, 45), (30, 45)), PracticeSet(date(2026, 11, 9), 4, 15, PracticeOrder.RETENTION)]
    )
    assert any(
        "Retention (first thing on a later day): 4 of 15" in words for words in progress_sentences(told)
    )


def test_mixed_sets_are_never_held_against_the_same_each_time() -> None:
    """Forty of 45 alike and then ten of 45 mixed is not "worse": mixing is harder."""
    alike, mixed = sets((40, 45))[0], PracticeSet(date(2026, 11, 9), 10, 45, PracticeOrder.MIXED)
    told = progress_of([alike, mixed])
    assert told.verdict == "unlike"
    later = [PracticeSet(date(2026, 11, 12 + n), 34, 45, PracticeOrder.MIXED) for n in range(3)]
    again = progress_of([alike, mixed, *later])
    assert again.verdict == "better"


def test_the_rate_now_leans_to_the_last_sets() -> None:
    told = progress_of(sets((5, 45), (40, 45)))
    assert told.now.rate > 0.7
    assert any(
        words.startswith("Current rate (recent balls count more)") for words in progress_sentences(told)
    )


def test_level_sessions_draw_no_curve_and_say_so() -> None:
    told = progress_of(sets(*[(20, 40)] * 6))
    assert told.curve is not None
    assert told.curve.shape == "flat"
    assert any("no clear learning curve" in words for words in progress_sentences(told))


def placed(day: int, off_m: float, rng: np.random.Generator, n: int = 15) -> PracticeSet:
    spots = rng.normal(0.0, off_m, size=(n, 2)) + np.array([1.2, 2.9])
    places = tuple((float(x), float(z)) for x, z in spots)
    return PracticeSet(date(2026, 11, day), n // 2, n, places=places, aim=(1.2, 2.9))


def test_distance_is_preferred_to_hits_where_places_are_logged() -> None:
    rng = np.random.default_rng(5)
    told = progress_of([placed(1, 0.6, rng), placed(2, 0.15, rng), placed(3, 0.15, rng)])
    assert told.verdict == "better"  # by distance: the hits have not changed at all
    assert [order for order, _ in told.distances] == [PracticeOrder.BLOCKED]
    assert told.distances[0][1].high_m < 0
    assert progress_sentences(told)[0].startswith("Distance from the aim:")
    assert any("tell more than hit or miss" in words for words in progress_sentences(told))
    assert told.scatter is not None
    assert told.scatter.bias_m == pytest.approx((0.0, 0.0), abs=0.15)


def test_places_without_an_aim_give_a_scatter_and_no_distance() -> None:
    item = PracticeSet(date(2026, 11, 1), 1, 3, places=((1.0, 2.0), (1.2, 2.1), (1.1, 2.4)))
    told = progress_of([item])
    assert told.distances == ()
    assert told.scatter is not None
    assert told.scatter.bias_m is None


@pytest.mark.parametrize(
    ("drill", "places", "said"),
    [
        ("lob-to-the-box", [[7.0, 2.0]], "outside the front wall"),
        ("straight-length-alone", [[1.0, 9.9]], "outside the floor"),
        ("lob-to-the-box", [[1.0, 2.0]] * 3, "one place for each of the 2"),
        ("lob-to-the-box", [[1.0]], "two numbers"),
        ("six-corners", [[1.0, 2.0]], "no place to hit"),
    ],
)
def test_a_place_that_cannot_be_is_refused(library, drill, places, said) -> None:
    with pytest.raises(InputError, match=said):
        tasks.log_set(library, PLAYER, drill, 1, 2, on=TODAY, places=places, today=TODAY)


def test_places_come_back_with_their_set(library) -> None:
    places = [[1.0, 2.5], [1.25, 3.0], [0.9, 2.75]]
    tasks.log_set(
        library,
        PLAYER,
        "lob-to-the-box",
        2,
        3,
        on=TODAY,
        places=places,
        aim=[1.1, 2.8],
        set_id="p1",
        today=TODAY,
    )
    kept = next(item for item in tasks.sets_of(library, PLAYER)["lob-to-the-box"] if item.id == "p1")
    assert [list(place) for place in kept.places] == places
    form = progress_form(tasks.practice_progress(library, PLAYER)["lob-to-the-box"])
    assert form["scatter"]["bias_m"] == pytest.approx([-0.05, -0.05])
    tasks.undo_set(library, PLAYER, "p1")


def test_false_better_stays_under_one_in_twenty_however_often_one_looks() -> None:
    """A fiftieth of `goodlength bench practice`."""
    told = bench_practice_progress(seed=1, players=40)
    assert told.false_better_most <= 0.05
    assert max(told.distance_false_better, told.both_false_better) <= 0.10  # ten players each
    assert all(0.90 < held < 0.99 for held in told.next_ball_coverage.values())
    assert told.usual_ellipse_coverage["5"] < 0.85  # why the usual ellipse is not drawn
    assert all(held > 0.8 for held in told.transfer_coverage.values())
    assert told.found_three_to_six_tenths > 0.6


def test_a_plan_without_its_days_is_refused_and_not_stored_unseen(library) -> None:
    player = PLAYER
    plan = {"items": [], "sessions": 2, "check_on": "2026-12-16", "cautions": []}
    before = tasks.plans_of(library, player)
    with pytest.raises(OutOfRange, match="the days on which it begins"):
        tasks.save_plan(library, player, plan)
    assert tasks.plans_of(library, player) == before
