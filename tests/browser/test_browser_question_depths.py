"""What a rally asks at other depths and in other formats, and what happens between rallies."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.record.model import Depth, EntryKind
from goodlength.scoring.scoring_types import Format, Side, Start, System
from goodlength.synthetic.numbered_frame_video import Recipe, draw


@pytest.fixture
def begin(served: Any) -> Any:
    """Begin a match of the invented pair."""
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(served.library, name, player_id=player_id)

    def begin_match(**details: Any) -> None:
        start = details.pop("start", Start(server=Side.A))
        tasks.new_match(served.library, ("iv", "plo"), match_id="m1", start=start, **details)

    return begin_match


def press(page: Any, keys: str) -> None:
    for key in keys.split():
        page.keyboard.press(key)


def saved(page: Any) -> None:
    page.wait_for_selector('html[data-waiting="0"]')


def question(page: Any) -> str:
    return str(page.inner_text("#question"))


def test_every_shot(served: Any, open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SHOTS)
    page = open_page("/matches/m1/record", wait="record")
    press(page, "1 1")
    assert question(page) == "What did Petra play?"
    press(page, "4 2")
    assert question(page) == "Shot 3: what did Imogen play?"
    press(page, "1")
    assert question(page) == "Shot 4: what did Petra play?"
    press(page, "3")
    press(page, "Backspace")
    assert question(page) == "Shot 4: what did Petra play?"
    press(page, "2 9 1 1")
    saved(page)
    (rally,) = tasks.show_match(served.library, "m1").rallies
    assert [(shot.n, shot.by, shot.stroke) for shot in rally.shots] == [
        (3, "a", "drive"),
        (4, "b", "cross-court"),
    ]
    assert (rally.shots_in_all, rally.complete) == (4, True)


def test_score_only_asks_two_questions(open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SCORE)
    page = open_page("/matches/m1/record", wait="record")
    assert question(page) == "Who won the rally?"
    press(page, "2 1")
    page.wait_for_selector(".call:not(.waits)")
    assert "Hand-out, 1–love" in page.inner_text(".call")


def test_extra_questions_are_passed_with_enter(served: Any, open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SCORE)
    served.library.set_setting("extras", ["ending.stroke", "ending.place"])
    page = open_page("/matches/m1/record", wait="record")
    press(page, "1 1")
    assert question(page) == "With which shot?"
    assert "skip" in page.inner_text(".ask")
    press(page, "4 Enter")
    saved(page)
    (rally,) = tasks.show_match(served.library, "m1").rallies
    assert (rally.ending_stroke, rally.ending_place) == ("drop", None)
    assert "ending.place" in rally.skipped
    assert "with a drop" in page.inner_text(".rally-sentence")


def test_the_receiver_chooses_at_eight_all(served: Any, open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SCORE, format=Format(System.HAND_OUT, 9), start=Start(points=(8, 7), server=Side.B))
    tasks.answer(served.library, "m1", "r1", EntryKind.WINNER, "b")
    tasks.answer(served.library, "m1", "r1", EntryKind.ENDING, "winner")
    page = open_page("/matches/m1/record", wait="record")
    assert question(page) == "What did Imogen choose to play to?"
    press(page, "2 2 1")
    saved(page)
    assert tasks.show_match(served.library, "m1").rallies[1].set_to == 10


def test_conduct_and_retired_stand_between_rallies(served: Any, open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SCORE)
    page = open_page("/matches/m1/record", wait="record")
    press(page, "1 1 c 8 1 1")  # a conduct stroke, to Imogen
    saved(page)
    assert tasks.show_match(served.library, "m1").next.points == (2, 0)
    press(page, "c 8 3 2")  # retired: Petra
    saved(page)
    match = tasks.show_match(served.library, "m1")
    assert (match.winner, match.how_over) == (Side.A, "retired")
    page.wait_for_function("() => document.querySelector('#card').textContent.includes('Imogen Vale won')")


def test_a_forgotten_rally_is_put_in_and_a_wrong_one_taken_out(
    served: Any, open_page: Any, begin: Any
) -> None:
    begin(depth=Depth.SCORE)
    for n in (1, 2, 3):
        tasks.answer(served.library, "m1", f"r{n}", EntryKind.WINNER, "a")
        tasks.answer(served.library, "m1", f"r{n}", EntryKind.ENDING, "winner")
    page = open_page("/matches/m1/record", wait="record")
    press(page, "g ArrowUp ArrowUp Enter")  # the second rally
    page.click("text=Add a missing rally after this")
    press(page, "2 1")
    saved(page)
    match = tasks.show_match(served.library, "m1")
    assert [rally.key for rally in match.rallies] == ["r1", "r2", "r4", "r3"]
    assert [rally.winner for rally in match.rallies] == ["a", "a", "b", "a"]
    press(page, "Enter g ArrowUp ArrowUp Enter")
    page.click("text=Delete this rally")
    saved(page)
    assert [rally.key for rally in tasks.show_match(served.library, "m1").rallies] == ["r1", "r2", "r3"]


def test_an_answer_is_changed_by_pressing_it_in_the_sentence(served: Any, open_page: Any, begin: Any) -> None:
    begin()
    page = open_page("/matches/m1/record", wait="record")
    press(page, "1 2 2 1 1")
    page.click(".rally-sentence >> text=a lob")
    assert question(page) == "What was served?"
    press(page, "3")
    assert "a hard serve" in page.inner_text(".rally-sentence")
    page.click(".rally-sentence >> text=Imogen served")
    assert question(page) == "Who served?"
    press(page, "2")
    saved(page)
    match = tasks.show_match(served.library, "m1")
    assert match.rallies[0].serve.kind == "hard"
    assert match.rallies[0].server is Side.B
    assert any(fault.key == "r1" for fault in match.faults)  # the rules say Imogen
    page.wait_for_selector(".faults")


def test_score_on_a_tablet_is_one_press_a_rally(served: Any, open_page: Any, begin: Any) -> None:
    begin(depth=Depth.SCORE)
    tablet = {"width": 820, "height": 1180}
    page = open_page("/matches/m1/record", size=tablet, wait="record", has_touch=True, is_mobile=True)
    for n, side in enumerate((1, 2, 2), 1):
        page.tap(f"#card .answers li:nth-child({side}) button")
        saved(page)
        assert question(page) == "Who won the rally?", n
    match = tasks.show_match(served.library, "m1")
    assert [rally.winner for rally in match.rallies] == ["a", "b", "b"]
    assert [rally.ending for rally in match.rallies] == [None] * 3
    page.tap('.touch.large [data-action="back"]')
    saved(page)
    assert [rally.winner for rally in tasks.show_match(served.library, "m1").rallies] == ["a", "b"]
    page.tap(".more-keys summary")
    page.tap('[data-action="winner-only"]')
    page.tap("#card .answers li:nth-child(1) button")
    assert question(page) != "Who won the rally?"


OF_CARD = """() => {
  const box = (one) => one.getBoundingClientRect();
  const hints = [...document.querySelectorAll('#card .note button')].map(box);
  const parts = ['#question', '#card .answers button', '#card .note button', '.below-video button'];
  const top = (selector) => Math.min(...[...document.querySelectorAll(selector)].map(box).filter((one) => one.height > 0).map((one) => one.top));
  const shown = parts.filter((selector) => Number.isFinite(top(selector)));
  const place = (selector) => [...document.querySelectorAll('*')].indexOf(document.querySelector(selector));
  return {
    order: [shown.toSorted((a, b) => top(a) - top(b)), shown.toSorted((a, b) => place(a) - place(b))],
    lowest: Math.max(...[...document.querySelectorAll('#card .answers button')].map((one) => box(one).bottom)),
    caps: [...document.querySelectorAll('#card kbd')].filter((one) => box(one).width > 0).length,
    touching: hints.filter((one, n) => hints.some((two, m) => m > n && one.right + 4 > two.left
      && two.right + 4 > one.left && one.bottom + 4 > two.top && two.bottom + 4 > one.top)).length,
    wide: document.documentElement.scrollWidth,
  };
}"""


def test_on_a_phone_all_answers_are_in_one_view_without_caps_of_keys(
    served: Any, open_page: Any, begin: Any, tmp_path: Path
) -> None:
    """The fifth and sixth answer lay below the edge, and the controls beside the question touched."""
    begin(depth=Depth.SERVE)
    tasks.add_footage(served.library, "m1", draw(tmp_path / "one.mp4", Recipe(tuple(range(60)), sound="")))
    phone = {"width": 390, "height": 844}
    page = open_page("/matches/m1/record", size=phone, wait="record", has_touch=True, is_mobile=True)
    asked = []
    while page.locator("#question").count() and len(asked) < 9:
        found = page.evaluate(OF_CARD)
        assert found["lowest"] <= phone["height"], (question(page), found)
        assert found["order"][0] == found["order"][1]  # Tab goes the way the eye goes
        assert len(found["order"][0]) == 4
        assert (found["caps"], found["touching"], found["wide"]) == (0, 0, phone["width"])
        asked.append(question(page))
        page.tap("#card .answers li:nth-child(1) button")
        saved(page)
    assert "How good was the return?" in asked and len(asked) >= 5
