"""Plans follow from what was found and the time there is, and say what was left out."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from goodlength.court import SINGLES
from goodlength.errors import InputError, NotFound
from goodlength.practice.planning.drill_library import (
    DRILLS,
    Company,
    DrillLevel,
    Theme,
    dose_for,
    drill,
)
from goodlength.practice.planning.practice_plan import Need, Time, plan_form, propose, target_hits
from goodlength.practice.planning.safety_cautions import (
    AT_THE_BODY,
    EYES,
    EYES_YOUNG,
    YOUNG,
    cautions_for,
)
from goodlength.practice.statistics.drill_progress import PracticeOrder

LOB = Need(
    "kinds-weak",
    "More weak returns came on her lob",
    "clear",
    Theme.SERVE,
    "loose returns on the lob",
    ("lob",),
)
BODY = Need("body", "The body serve may trouble Petra", "too-few", Theme.SERVE, "ten more", ("body-feet",))
NEXT = Need("next", "Loose returns did not turn into points", "leaning", Theme.SERVE_AND_NEXT, "rallies won")
MONDAY = date(2026, 11, 30)


def test_every_drill_stands_on_the_court_and_says_what_counts() -> None:
    assert len({element.id for element in DRILLS}) == len(DRILLS)
    for item in DRILLS:
        assert item.counts
        assert item.spots
        for spot in item.spots:
            assert 0 < spot.x_m < SINGLES.width.value_m, item.id
            assert 0 < spot.y_m < SINGLES.length.value_m, item.id


def test_there_is_a_drill_for_every_theme() -> None:
    assert {item.theme for item in DRILLS} == set(Theme)


def test_the_surest_finding_is_served_first_and_each_item_names_it() -> None:
    plan = propose([BODY, NEXT, LOB], Time(2, 60), MONDAY)
    assert plan.items[0].need is LOB
    assert plan.items[0].drill.id == "lob-to-the-box"
    assert plan.check_on == date(2026, 12, 21)


def test_sessions_begin_the_same_each_time_and_end_mixed() -> None:
    plan = propose([LOB], Time(2, 30, weeks=3), MONDAY)
    assert [item.order for item in plan.items] == [PracticeOrder.BLOCKED, PracticeOrder.MIXED]
    assert plan.items[0].sessions + plan.items[1].sessions == (1, 2, 3, 4, 5, 6)


def test_the_page_and_the_json_form_name_blocked_and_mixed_sessions_apart() -> None:
    """Before: all six sessions stood under "blocked", since the form looked for another word."""
    (item,) = plan_form(propose([LOB], Time(2, 30, weeks=3), MONDAY))["items"]
    assert item["same_in"] == [1, 2, 3]
    assert item["mixed_in"] == [4, 5, 6]


def test_a_drill_that_draws_each_shot_is_random_practice_from_the_first_session() -> None:
    """Before: the drill with a coin toss for every serve was "blocked (same shot)"."""
    plan = propose([], Time(2, 60), MONDAY, chosen=(drill("same-swing-two-serves"),))
    (item,) = plan_form(plan)["items"]
    assert item["same_in"] == []
    assert item["mixed_in"] == [1, 2, 3, 4, 5, 6]


def test_a_drill_whose_task_is_drawn_or_open_says_that_it_is_mixed() -> None:
    drawn = ("toss", "at random", "called or drawn", "short or wide", "Play from")
    assert {item.id for item in DRILLS if any(words in item.do for words in drawn)} == {
        item.id for item in DRILLS if item.mixed
    }


def test_alone_there_is_no_body_serve_and_the_plan_says_so() -> None:
    plan = propose([LOB, BODY], Time(2, 60, company=Company.SOLO), MONDAY)
    assert all(not item.drill.body_target for item in plan.items)
    assert any("Petra" in words for words in plan.left_out) or any(
        item.need is BODY and not item.drill.body_target for item in plan.items
    )


def test_a_body_serve_and_a_junior_bring_their_cautions() -> None:
    plan = propose([BODY], Time(1, 60), MONDAY, junior=True)
    assert plan.cautions[0] == AT_THE_BODY
    assert YOUNG in plan.cautions
    assert EYES_YOUNG in plan.cautions
    assert EYES not in plan.cautions


def test_every_caution_names_a_source_that_is_listed() -> None:
    listed = (Path(__file__).parents[3] / "docs" / "sources" / "practice.md").read_text("utf-8")
    every = {
        caution for junior in (False, True) for item in DRILLS for caution in cautions_for((item,), junior)
    }
    assert len(every) == 8
    for caution in every:
        assert caution.sources
        for key in caution.sources:
            assert f"- {key}:" in listed, key


def test_drills_for_two_and_drills_of_movement_bring_theirs() -> None:
    leads = [caution.lead for caution in cautions_for((drill("boast-and-drive"),), junior=False)]
    assert "Sharing the court." in leads
    assert "Movement." in leads


def test_ten_minutes_hold_no_second_drill() -> None:
    plan = propose([LOB, NEXT], Time(1, 13), MONDAY)
    assert {item.drill.id for item in plan.items} == {"lob-to-the-box"}
    assert plan.left_out == ("Loose returns did not turn into points (there is no time for it)",)


@pytest.mark.parametrize(
    ("time", "said"), [(Time(0, 60), "sessions"), (Time(2, 0), "minutes"), (Time(2, 60, 99), "weeks")]
)
def test_a_time_that_cannot_be_is_refused(time: Time, said: str) -> None:
    with pytest.raises(InputError, match=said):
        propose([LOB], time, MONDAY)


def test_a_drill_chosen_by_hand_stands_first_and_serves_no_finding() -> None:
    plan = propose([LOB], Time(2, 60), MONDAY, chosen=(drill("six-corners"),))
    assert plan.items[0].drill.id == "six-corners"
    assert plan.items[0].need.finding == ""
    assert {item.drill.id for item in plan.items} == {"six-corners", "lob-to-the-box"}


def test_a_drill_chosen_by_hand_needs_no_finding() -> None:
    plan = propose([], Time(2, 60), MONDAY, chosen=(drill("six-corners"),))
    assert plan.items[0].need.words == "Your choice: Six-corner ghosting"


def test_without_a_finding_there_is_no_plan() -> None:
    with pytest.raises(InputError, match="no finding"):
        propose([], Time(2, 60), MONDAY)


def test_juniors_do_less_and_rest_longer() -> None:
    item = drill("straight-length-alone")
    grown, young = dose_for(item, DrillLevel.CLUB, False), dose_for(item, DrillLevel.CLUB, True)
    assert young.sets < grown.sets
    assert young.rest_s > grown.rest_s


def test_a_target_is_a_step_above_what_was_hit() -> None:
    assert target_hits((22, 45), 15) == 9
    assert target_hits((45, 45), 15) == 14
    assert target_hits(None, 15) is None


def test_a_drill_that_is_not_there_is_named() -> None:
    with pytest.raises(NotFound, match="juggling"):
        drill("juggling")
