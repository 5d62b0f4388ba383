"""The player in a browser: scrubbing, frames, speeds, zoom and pan, loops, and full screen, by pointer and keys."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.files.library_layout import rally_files
from goodlength.footage.audio.multi_file_rally_detection import match_rally_detection_job
from goodlength.synthetic.simulated_court_audio import TYPICAL, record
from goodlength.synthetic.video_with_sound_writer import write_film

PAGE = "/matches/m1/rallies"
NOW = "document.querySelector('video.front').currentTime"
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def library_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A match of which the rallies were heard."""
    place = tmp_path_factory.mktemp("player")
    with tasks.open_library(place / "library") as library:
        for player in ("Imogen Vale", "Petra Lindqvist-Ode"):
            tasks.add_player(library, player, player_id=player[:3])
        tasks.new_match(library, ("Imo", "Pet"), match_id="m1")
        calm = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)
        made = record(np.random.default_rng(4), calm, 60.0)
        item = tasks.add_footage(library, "m1", write_film(place / "court.mp4", made.samples))
        film = {
            "id": item.id,
            "path": item.path,
            "starts_us": 0,
            "first_us": item.first_us,
            "end_us": item.end_us,
            "keep": None,
            "keep_motion": None,
        }
        match_rally_detection_job(
            match="m1",
            films=[film],
            to=str(rally_files(library.folder, "m1")[0]),
            progress=lambda *_: None,
            cancel=lambda: False,
        )
    return place / "library"


@pytest.fixture
def heard(served: Any) -> list[tasks.ListedRally]:
    """The rallies that were heard in the match of the library begun with."""
    return list(tasks.listed_rallies(tasks.open_match(served.library, "m1")).rallies)


def settled(page: Any) -> float:
    """Return the time shown once the picture is there."""
    page.wait_for_function(
        "() => { const v = document.querySelector('video.front'); return !v.seeking && v.readyState >= 2; }"
    )
    return float(page.evaluate(NOW))


def test_the_picture_is_where_the_lane_was_let_go(open_page: Any, heard: Any) -> None:
    """On a slow computer moves came while the picture still sought, and it stayed short of the place."""
    page = open_page(PAGE, wait="rallies")
    settled(page)
    bar = page.locator("#scrub-bar")
    box = bar.bounding_box()
    y = box["y"] + 15
    page.mouse.move(box["x"] + 0.2 * box["width"], y)
    page.mouse.down()
    settled(page)
    slow = "Object.defineProperty(document.querySelector('video.front'), 'seeking', {value: true, configurable: true})"
    page.evaluate(f"() => {{ {slow}; }}")
    page.mouse.move(box["x"] + 0.7 * box["width"], y)
    page.evaluate("() => { delete document.querySelector('video.front').seeking; }")
    page.mouse.up()
    at = settled(page)
    window = [int(bar.get_attribute(f"aria-{name}")) for name in ("valuemin", "valuemax")]
    assert abs(at - (window[0] + 0.7 * (window[1] - window[0]))) < 0.05 * (window[1] - window[0])


def test_the_lane_is_dragged_and_shows_what_is_there(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    settled(page)
    bar = page.locator("#scrub-bar")
    box = bar.bounding_box()
    y = box["y"] + 15
    page.mouse.move(box["x"] + 0.2 * box["width"], y)
    expect(page.locator("#scrub-bar .preview")).to_be_visible()
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], y, steps=6)
    page.mouse.up()
    at = settled(page)
    window = [int(bar.get_attribute(f"aria-{name}")) for name in ("valuemin", "valuemax")]
    assert abs(at - (window[0] + 0.7 * (window[1] - window[0]))) < 0.05 * (window[1] - window[0])
    assert abs(int(bar.get_attribute("aria-valuenow")) - at) <= 1
    page.mouse.move(5, 5)
    expect(page.locator("#scrub-bar .preview")).to_be_hidden()
    bar.focus()
    page.keyboard.press("Home")
    assert settled(page) == pytest.approx(window[0], abs=1.0)


def test_small_pictures_come_by_themselves(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    with page.expect_response(
        lambda answer: answer.url.endswith("/previews") and '"ready":true' in answer.text(), timeout=180_000
    ):
        pass
    box = page.locator("#scrub-bar").bounding_box()
    with page.expect_response("**/previews/0?of=*") as sheet:
        page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 15)
    assert sheet.value.status == 200
    expect(page.locator("#scrub-bar .preview i")).to_be_visible()


def test_speeds_are_shown_and_go_both_ways(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    rate = "document.querySelector('video.front').playbackRate"
    seen = []
    for key in ("s", "s", "s", "e", "e", "e", "e", "e", "s"):
        page.keyboard.press(key)
        seen.append((page.evaluate(rate), float(page.input_value("#rate"))))
    wanted = [0.5, 0.25, 1, 1.25, 1.5, 2, 1, 1.25, 1]
    assert seen == [(value, value) for value in wanted]
    page.select_option("#rate", "2")
    assert page.evaluate(rate) == 2


def test_the_picture_is_enlarged_moved_and_whole_again(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    transform = "document.querySelector('.picture').style.transform"
    page.keyboard.press("+")
    page.keyboard.press("+")
    expect(page.locator("#frame .scale")).to_have_text("2 times as large")
    before = page.evaluate(transform)
    page.focus("#frame")
    page.keyboard.press("ArrowRight")
    assert page.evaluate(transform) != before
    page.keyboard.press("0")
    assert page.evaluate(transform) == ""
    page.evaluate("document.activeElement.blur()")
    start = settled(page)
    page.keyboard.press("ArrowRight")  # two seconds, where nothing is enlarged
    assert settled(page) == pytest.approx(start + 2, abs=0.1)

    box = page.locator("#frame").bounding_box()
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -300)
    page.keyboard.up("Control")
    page.wait_for_function("() => document.querySelector('.picture').style.transform !== ''")
    before = page.evaluate(transform)
    page.mouse.down()
    page.mouse.move(box["x"] + 40, box["y"] + 60, steps=4)
    page.mouse.up()
    assert page.evaluate(transform) != before
    assert page.evaluate("document.querySelector('video.front').paused")  # dragging is no press


def test_two_fingers_enlarge_the_picture_on_a_phone(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, size=PHONE, wait="rallies", has_touch=True, is_mobile=True)
    page.locator("#frame").scroll_into_view_if_needed()
    box = page.locator("#frame").bounding_box()
    touch = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def fingers(kind: str, apart: float) -> None:
        points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}]
        touch.send(
            "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [] if kind == "touchEnd" else points}
        )

    fingers("touchStart", 20)
    for apart in (30, 45, 60):
        fingers("touchMove", apart)
    fingers("touchEnd", 60)
    page.wait_for_function("() => document.querySelector('.picture').style.transform.includes('scale')")
    assert page.evaluate("document.querySelector('video.front').paused")


def test_a_loop_plays_again_until_it_is_switched_off(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    start = settled(page)
    page.keyboard.press("l")
    assert "The loop starts at" in page.inner_text("#state")
    page.evaluate("(s) => { document.querySelector('video.front').currentTime = s; }", start + 0.5)
    settled(page)
    page.keyboard.press("l")
    seen = []
    for _ in range(24):
        page.wait_for_timeout(100)
        seen.append(page.evaluate(NOW))
    assert any(b < a for a, b in pairwise(seen)), seen
    assert start - 0.1 <= min(seen) and max(seen) < start + 1.0, seen
    page.keyboard.press("l")
    expect(page.locator('[data-action="loop"]').first).to_have_attribute("aria-pressed", "false")


def test_serve_return_and_the_last_two_shots_alone_are_played(open_page: Any, heard: Any) -> None:
    longest = max(range(len(heard)), key=lambda n: len(heard[n].hits_us))
    rally = heard[longest]
    hits = [us / 1e6 for us in rally.hits_us]
    assert len(hits) >= 6, hits
    page = open_page(PAGE, wait="rallies")
    page.keyboard.press("q")
    page.wait_for_selector("#state:has-text('last two shots')")
    page.select_option("#rate", "2")
    page.locator("#rows tr").nth(longest).get_by_role("button").click()
    seen = []
    for _ in range(150):
        page.wait_for_timeout(60)
        seen.append(page.evaluate(NOW))
        if seen[-1] > rally.end_us / 1e6:
            break
    skipped = [s for s in seen if hits[2] + 0.3 < s < hits[-2] - 1.1]
    assert not skipped, (hits, skipped)
    assert any(s < hits[1] + 0.5 for s in seen) and any(s > hits[-2] for s in seen)


def test_jumping_goes_from_hit_to_hit(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    page.click("#more-button")
    page.select_option("#impact-kind", "racket")
    page.evaluate("document.activeElement.blur()")
    for us in heard[0].hits_us[:3]:
        page.keyboard.press("j")
        page.wait_for_selector("#state:has-text('Hit at')")
        page.wait_for_function(f"(s) => Math.abs({NOW} - s) < 0.02", arg=us / 1e6)
    page.keyboard.press("h")
    page.wait_for_function(f"(s) => Math.abs({NOW} - s) < 0.02", arg=heard[0].hits_us[1] / 1e6)


def test_every_button_is_44_pixels_and_nothing_is_cut_off_at_360(open_page: Any, heard: Any) -> None:
    page = open_page(PAGE, size={"width": 360, "height": 740}, wait="rallies", has_touch=True, is_mobile=True)
    page.click("#more-button")
    page.click('.bar [data-action="draw"]')
    small = page.evaluate(
        """() => [...document.querySelectorAll('.bar button, .bar select, .more button, .more select, #scrub-bar')]
             .map((one) => [one.getAttribute('data-action') ?? one.id, one.getBoundingClientRect()])
             .filter(([, box]) => Math.min(box.width, box.height) < 43.9 || box.right > innerWidth + 1)
             .map(([name, box]) => [name, box.width, box.height, box.right])"""
    )
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def drag(page: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Drag on the picture, by shares of its width and height."""
    box = page.locator(".over-picture").bounding_box()
    page.mouse.move(box["x"] + start[0] * box["width"], box["y"] + start[1] * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + end[0] * box["width"], box["y"] + end[1] * box["height"], steps=5)
    page.mouse.up()


def test_what_is_drawn_stays_with_its_frame_and_each_piece_can_be_removed_and_brought_back(
    open_page: Any, served: Any, heard: Any
) -> None:
    from goodlength.tasks.playback import frame_drawings

    page = open_page(PAGE, wait="rallies")
    settled(page)
    page.keyboard.press("t")
    expect(page.locator("#draw-panel")).to_be_visible()
    hint = page.locator("#draw-hint")
    drag(page, (0.2, 0.2), (0.6, 0.5))
    expect(hint).to_contain_text("Line saved")
    for n, name in ((2, "Arrow"), (4, "Circle"), (5, "Freehand"), (7, "Spotlight")):
        page.keyboard.press(str(n))
        drag(page, (0.3, 0.3), (0.4, 0.6))
        expect(hint).to_contain_text(f"{name} saved")
    page.keyboard.press("6")
    page.locator("#draw-words").fill("more width")
    drag(page, (0.5, 0.8), (0.5, 0.8))
    expect(hint).to_contain_text("Text saved")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("3")
    for corner in ((0.2, 0.7), (0.4, 0.7), (0.4, 0.4)):
        drag(page, corner, corner)
    expect(hint).to_contain_text("Angle saved")
    kinds = [drawing.kind for drawing in frame_drawings(served.library, "m1")]
    assert kinds == ["line", "arrow", "circle", "freehand", "spotlight", "text", "angle"]

    page.keyboard.press("8")
    drag(page, (0.2, 0.2), (0.2, 0.2))  # on the line
    expect(hint).to_contain_text("Line removed")
    page.keyboard.press("Backspace")
    expect(hint).to_contain_text("Back again")
    page.get_by_role("button", name="Remove text").click()
    expect(page.locator("#draw-list li")).to_have_count(6)
    page.keyboard.press("Escape")
    expect(page.locator("#draw-panel")).to_be_hidden()

    count = "document.querySelectorAll('.drawing > *').length"
    assert page.evaluate(count) > 0
    page.keyboard.press("]")
    page.wait_for_function(f"() => {count} === 0")
    page.keyboard.press("[")
    page.wait_for_function(f"() => {count} > 0")
    page.reload()
    page.wait_for_selector('html[data-ready="rallies"]')
    page.wait_for_function(f"() => {count} > 0")


def test_a_line_is_drawn_by_keys_alone_and_answers_are_left_alone(
    open_page: Any, served: Any, heard: Any
) -> None:
    from goodlength.tasks.playback import frame_drawings

    page = open_page(PAGE, wait="rallies")
    settled(page)
    for key in ("t", "2", "ArrowLeft", "Shift+ArrowLeft", "Enter", "Shift+ArrowUp", "Shift+ArrowUp", "Enter"):
        page.keyboard.press(key)
    expect(page.locator("#draw-hint")).to_contain_text("Arrow saved")
    (arrow,) = frame_drawings(served.library, "m1")
    assert arrow.points == ((0.445, 0.5), (0.445, 0.4))
    assert all(
        rally.state == "" for rally in tasks.listed_rallies(tasks.open_match(served.library, "m1")).rallies
    )


def test_a_finger_draws_on_a_phone(open_page: Any, served: Any, heard: Any) -> None:
    page = open_page(PAGE, size=PHONE, wait="rallies", has_touch=True, is_mobile=True)
    page.locator('.bar [data-action="draw"]').tap()
    page.locator('[data-tool="circle"]').tap()
    page.locator("#frame").scroll_into_view_if_needed()
    box = page.locator(".over-picture").bounding_box()
    touch = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for kind, by in (("touchStart", 0), ("touchMove", 20), ("touchMove", 40), ("touchEnd", 40)):
        points = [] if kind == "touchEnd" else [{"x": x + by, "y": y, "id": 0}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    expect(page.locator("#draw-hint")).to_contain_text("Circle saved")
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_the_volume_is_set_by_its_slider_and_the_sound_switched_by_its_key(open_page: Any) -> None:
    page = open_page(PAGE, wait="rallies")
    settled(page)
    sound = "(() => { const v = document.querySelector('video.front'); return [v.volume, v.muted]; })()"
    assert page.evaluate(sound) == [1, False]
    page.click("#more-button")
    page.focus("#volume")
    page.keyboard.press("Home")
    assert page.evaluate(sound) == [0, True]
    expect(page.locator('#more [data-action="sound"]')).to_have_attribute("aria-pressed", "false")
    page.evaluate(
        "(() => { const v = document.querySelector('#volume'); v.value = 40; "
        "v.dispatchEvent(new Event('input', { bubbles: true })); })()"
    )
    assert page.evaluate(sound) == [0.4, False]
    page.locator("#volume").blur()
    page.keyboard.press("v")
    assert page.evaluate(sound) == [0.4, True]
    expect(page.locator("#volume")).to_have_value("0")
    page.keyboard.press("v")
    assert page.evaluate(sound) == [0.4, False]
    expect(page.locator("#volume")).to_have_value("40")
