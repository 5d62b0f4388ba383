"""Record after a draft: the picture and the card show one rally, and answers land on the rally seen."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import axe_playwright_python
import numpy as np
import pytest

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.numbered_frame_video import Recipe, draw, read_card
from oracles.awaited_value import comes_to

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
SECOND = 1_000_000
FPS, APART_S, LONG_S, COUNT = 5, 6, 3, 12  # a rally every six seconds, three seconds long
RECORD = "/matches/m1/record"
LUMA = """() => {
  const video = document.querySelector('video.front');
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
  const pen = canvas.getContext('2d');
  pen.drawImage(video, 0, 0);
  const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
  return [canvas.height, canvas.width, Array.from({ length: data.length / 4 }, (_, i) => data[4 * i])];
}"""


@pytest.fixture(scope="module")
def library_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A match with a film whose pictures carry their number, and twelve rallies marked in it."""
    place = tmp_path_factory.mktemp("record")
    with tasks.open_library(place / "library") as library:
        for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(library, name, player_id=player_id)
        tasks.new_match(library, ("iv", "plo"), match_id="m1", start=Start(server=Side.A))
        stamps = tuple(range(FPS * APART_S * (COUNT + 1)))
        recipe = Recipe(stamps, base=Fraction(1, FPS), key_every=5, b_frames=0, sound="")
        tasks.add_footage(library, "m1", draw(place / "numbered.mp4", recipe))
        for n in range(COUNT):
            start = (2 + n * APART_S) * SECOND
            tasks.add_rally(tasks.open_match(library, "m1"), start, start + LONG_S * SECOND)
    return place / "library"


@pytest.fixture
def heard(served: Any) -> Any:
    """The library begun with: twelve rallies marked, none drafted."""
    return served.library


@pytest.fixture
def drafted(heard: Any) -> Any:
    """The same with a draft accepted: times and winners are on the sheet, the other questions are open."""
    for n, item in enumerate(tasks.listed_rallies(tasks.open_match(heard, "m1")).rallies):
        side = "a" if n % 4 < 2 else "b"
        tasks.correct_rally(
            tasks.open_match(heard, "m1"),
            item.id,
            seen=f"{side}-{'left' if n % 2 else 'right'}",
            state="kept",
        )
    tasks.accept_draft(tasks.open_match(heard, "m1"))
    assert len(tasks.show_match(heard, "m1").rallies) == COUNT
    return heard


@pytest.fixture
def confirmed(drafted: Any) -> Any:
    """The same once a person has confirmed the winners that the draft was in doubt of."""
    pen = EntryWriter("m1", "coach/t1")
    for facts in tasks.open_match(drafted, "m1").answers.facts:
        winner = facts.latest[EntryKind.WINNER, 0]
        pen.write(facts.key, EntryKind.WINNER, winner.value, winner.id)
    tasks.record_answers(drafted, "m1", pen.entries)
    return drafted


def rally_seen(page: Any) -> int:
    """The number, from 1, of the rally whose picture is shown (a little before it counts as it)."""
    page.wait_for_function(
        "() => { const v = document.querySelector('video.front'); return !v.seeking && v.readyState >= 2; }"
    )
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    height, width, luma = page.evaluate(LUMA)
    number = read_card(np.array(luma, np.uint8).reshape(height, width))
    assert number is not None
    return int((number / FPS - 2 + 1.6) // APART_S) + 1


def rally_on_card(page: Any) -> str:
    """The key of the rally in hand, from the open line of the sheet."""
    return str(page.get_attribute("tr.open [data-rally]", "data-rally"))


def assert_both_show(page: Any, n: int) -> None:
    """Picture and card come to rally n, and still show it at another look."""
    wanted = (n, f"r{n}")
    assert comes_to(lambda: (rally_seen(page), rally_on_card(page)), wanted) == wanted


def stop(page: Any) -> None:
    page.evaluate("document.querySelector('video.front').pause()")


def saved(page: Any) -> None:
    page.wait_for_selector('html[data-waiting="0"]')


def test_after_a_draft_ten_rallies_are_answered_on_the_rally_seen(open_page: Any, drafted: Any) -> None:
    page = open_page(RECORD, wait="record")
    said, confirmed = {}, 0
    for n in range(10):
        assert_both_show(page, n + 1)
        seen = rally_seen(page)
        kind, how, left = seen % 4 + 1, seen % 3 + 1, seen % 2 + 1
        for key in (kind, how, left):
            page.keyboard.press(str(key))
        if page.inner_text("#question") == "Who won the rally?":
            assert page.locator(".answers .proposed").inner_text() == "proposed by the draft"
            page.keyboard.press("Enter")
            confirmed += 1
        page.keyboard.press("1")
        page.wait_for_selector(".call:not(.waits)")
        said[seen] = (kind, how, left)
        page.keyboard.press("Enter")
        page.wait_for_function(
            "(key) => document.querySelector('tr.open [data-rally]')?.dataset.rally === key", arg=f"r{n + 2}"
        )
        stop(page)
    saved(page)
    kinds = [kind.id for kind in drafted.kinds()]
    hows = ["volleyed", "after-the-side-wall", "after-the-bounce"]
    stored = {
        rally.n: (
            kinds.index(rally.serve.kind) + 1,
            hows.index(rally.ret.how) + 1,
            ["tight", "loose"].index(rally.ret.left) + 1,
        )
        for rally in tasks.show_match(drafted, "m1").rallies
        if rally.complete
    }
    assert stored == said
    assert confirmed > 0


def test_record_opens_at_the_first_rally_with_open_questions(open_page: Any, confirmed: Any) -> None:
    for key in ("r1", "r2", "r4"):
        for what, value in (
            ("serve.kind", "lob"),
            ("return.how", "volleyed"),
            ("return.left", "tight"),
            ("ending", "winner"),
        ):
            tasks.answer(confirmed, "m1", key, EntryKind(what), value)
    page = open_page(RECORD, wait="record")
    assert_both_show(page, 3)
    for key in "1111":
        page.keyboard.press(key)
    page.wait_for_selector(".call:not(.waits)")
    page.keyboard.press("Enter")  # over rally 4, which has its answers
    stop(page)
    assert_both_show(page, 5)


def test_the_keys_to_the_rally_before_and_after_move_picture_and_card(open_page: Any, drafted: Any) -> None:
    page = open_page(RECORD, wait="record")
    for n in (2, 3, 4):
        page.keyboard.press("Shift+ArrowRight")
        assert_both_show(page, n)
    page.keyboard.press("Shift+ArrowLeft")
    assert_both_show(page, 3)
    # three steps of two seconds pass the next rally's start: the card goes along with the picture
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    assert_both_show(page, 4)
    # a step back over answers takes the picture along too
    for key in "1111":
        page.keyboard.press(key)
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("1")
    for _ in range(2):
        page.keyboard.press("Backspace")
    assert comes_to(lambda: rally_on_card(page) == f"r{rally_seen(page)}", True)


def test_the_picture_stops_at_the_end_of_the_rally_in_hand(open_page: Any, confirmed: Any) -> None:
    page = open_page(RECORD, wait="record")
    page.keyboard.press("Space")
    page.wait_for_function("() => !document.querySelector('video.front').paused")
    page.wait_for_function("() => document.querySelector('video.front').paused", timeout=30_000)
    assert 5.0 <= page.evaluate("document.querySelector('video.front').currentTime") < 6.2
    assert rally_on_card(page) == "r1"
    for key in "1111":
        page.keyboard.press(key)
    page.wait_for_selector(".call:not(.waits)")
    page.keyboard.press("Enter")  # the next one plays, as this one did
    page.wait_for_function("() => !document.querySelector('video.front').paused")
    stop(page)
    assert_both_show(page, 2)


def test_rallies_heard_and_not_drafted_are_answered_in_turn(open_page: Any, heard: Any) -> None:
    page = open_page(RECORD, wait="record")
    for n in range(3):
        assert_both_show(page, n + 1)
        for key in "11111":
            page.keyboard.press(key)
        page.wait_for_selector(".call:not(.waits)")
        page.keyboard.press("Enter")
        page.wait_for_function(
            "(key) => document.querySelector('tr.open [data-rally]')?.dataset.rally === key", arg=f"r{n + 2}"
        )
        stop(page)
    page.keyboard.press("Shift+ArrowRight")  # the fourth heard is passed over
    page.keyboard.press("1")
    saved(page)
    starts = [rally.start_us for rally in tasks.show_match(heard, "m1").rallies]
    assert starts == [2 * SECOND, 8 * SECOND, 14 * SECOND, 26 * SECOND]
    page.keyboard.press("Shift+ArrowLeft")
    assert_both_show(page, 3)


@pytest.mark.parametrize("path", ["record", "rallies", "draft"])
def test_no_page_of_rallies_scrolls_sideways_on_a_phone(open_page: Any, heard: Any, path: str) -> None:
    page = open_page(f"/matches/m1/{path}", size={"width": 390, "height": 844}, wait=path, has_touch=True)
    for width in (390, 360):
        page.set_viewport_size({"width": width, "height": 740})
        for key in ("", "1", "c") if path == "record" else ("",):
            if key:
                page.keyboard.press(key)
            wide = page.evaluate("Math.max(document.documentElement.scrollWidth, document.body.scrollWidth)")
            assert wide <= width, (path, width, wide, key)
        assert page.evaluate("document.querySelector('header nav').scrollWidth") <= width


def test_rows_of_the_sheet_are_44_pixels_high_on_touch(open_page: Any, drafted: Any) -> None:
    page = open_page(
        RECORD, size={"width": 820, "height": 1180}, wait="record", has_touch=True, is_mobile=True
    )
    heights = page.evaluate(
        "() => [...document.querySelectorAll('.game.wide [data-rally]')]"
        ".map((one) => one.closest('tr').getBoundingClientRect().height)"
    )
    assert len(heights) == COUNT and min(heights) >= 44


def test_a_finished_match_has_a_heading_and_its_sheet_takes_focus(open_page: Any, confirmed: Any) -> None:
    tasks.answer(confirmed, "m1", "retired-1", EntryKind.RETIRED, {"side": "b", "why": "retired"})
    for n in range(COUNT):
        for what, value in (
            ("serve.kind", "lob"),
            ("return.how", "volleyed"),
            ("return.left", "tight"),
            ("ending", "winner"),
        ):
            tasks.answer(confirmed, "m1", f"r{n + 1}", EntryKind(what), value)
    for size in ({"width": 1440, "height": 900}, {"width": 820, "height": 1180}):
        page = open_page(RECORD, size=size, wait="record", bypass_csp=True)
        page.wait_for_selector(".call")
        assert page.locator("h1").count() == 1
        page.evaluate(AXE)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        assert not found, [(item["id"], [node["target"] for node in item["nodes"]]) for item in found]


def test_enter_takes_one_found_mark_after_the_other_after_the_button(
    served: Any, open_page: Any, heard: Any
) -> None:
    page = open_page("/matches/m1/camera", wait="camera")
    asked = []

    def solved(route: Any) -> None:
        body = route.request.post_data_json
        asked.append([item["mark"] for item in body["clicks"]])
        marks = page.evaluate(
            "JSON.parse(document.querySelector('#point-picking').dataset.begin).marks.map((m) => m.name)"
        )
        found = [{"mark": marks[n], "u": 20.0 + n, "v": 30.0, "edges": 2} for n in (9, 12, 15)]
        route.fulfill(
            json={
                "words": ["ok"],
                "not_known": [],
                "residuals": [],
                "suspects": [],
                "strokes": [],
                "cameras": [],
                "suggestions": found if body.get("suggest") else [],
            }
        )

    page.route(
        "**/camera", lambda route: solved(route) if route.request.method == "POST" else route.continue_()
    )
    for _ in range(8):
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
    page.wait_for_selector("#suggest:not([disabled])")
    page.click("#suggest")
    page.wait_for_function(
        "() => document.querySelector('#state').textContent.includes('3 marks were found')"
    )
    for _ in range(3):
        page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelectorAll('#rows tr.set').length === 11")


def test_the_lines_of_a_finished_game_are_a_stop_for_the_keyboard_once_they_lose_their_room(
    open_page: Any, served: Any
) -> None:
    for n in range(25):
        tasks.answer(served.library, "m1", f"r{n + 1}", EntryKind.WINNER, "b" if n % 11 == 5 else "a")
    page = open_page(RECORD, wait="record", size={"width": 1440, "height": 1400}, bypass_csp=True)
    lines = page.get_by_role("group", name="Lines of game 2")
    assert lines.get_attribute("tabindex") is None
    page.set_viewport_size({"width": 1440, "height": 620})
    page.wait_for_selector('[aria-label="Lines of game 2"][tabindex="0"]')
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    assert [fault["id"] for fault in found] == []
    page.set_viewport_size({"width": 1440, "height": 1400})
    page.wait_for_selector('[aria-label="Lines of game 2"]:not([tabindex])')
