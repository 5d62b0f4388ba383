"""The Aim page in the browser: worked out, changed, moved by pointer, touch and arrow keys, at both sizes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
REFUSED = "Failed to load resource"  # asked for on purpose
TABLET, DESK = {"width": 820, "height": 1180}, {"width": 1440, "height": 900}


def faults_of(page: Any) -> list[str]:
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [f"{item['id']}: {item['help']} at {node['target']}" for item in found for node in item["nodes"]]


def worked_out(page: Any) -> None:
    page.wait_for_selector("#state:has-text('Calculated.')", timeout=30_000)


def on_wall(page: Any, across: float, up: float) -> tuple[float, float]:
    court = page.locator("#court svg")
    while (box := court.bounding_box()) is None:  # None where the drawing was put anew meanwhile
        pass
    x = box["x"] + (across * 1000 + 5100) / 16560 * box["width"]
    return x, box["y"] + (5560 - up * 1000) / 18640 * box["height"]


def test_by_pointer_and_keys_at_a_desk(open_page: Any) -> None:
    page = open_page("/aim", size=DESK, wait="aim")
    page.keyboard.press("Tab")
    page.click("text=Calculate the target")
    worked_out(page)
    assert "Of 100 lobs aimed here" in page.inner_text("#answer")
    assert not faults_of(page)
    page.click("text=Cold")
    page.wait_for_selector("text=assumed for a cold ball")
    worked_out(page)
    best = page.input_value("#f-speed")
    page.focus("#court")
    before = float(page.input_value("#f-above"))
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_selector("#best")
    assert float(page.input_value("#f-above")) == pytest.approx(before - 0.10, abs=0.011)
    assert float(page.input_value("#f-speed")) == pytest.approx(float(best) + 2, abs=0.6)  # km/h
    assert page.evaluate("document.activeElement.id") == "court"
    here, there = on_wall(page, 3.0, 3.6), on_wall(page, 2.8, 3.4)
    page.mouse.move(*here)
    page.mouse.down()
    page.mouse.move(*there, steps=4)
    assert float(page.input_value("#f-across")) == pytest.approx(2.8, abs=0.03)  # already while it is dragged
    page.mouse.up()
    page.wait_for_url("**across=2.*")
    page.click("#best")
    page.wait_for_selector("text=Practise this")
    assert "across" not in page.url


def test_by_touch_on_a_tablet(open_page: Any) -> None:
    page = open_page("/aim?kind=hard&box=left", size=TABLET, wait="aim", has_touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]
    assert not faults_of(page)
    page.touchscreen.tap(*on_wall(page, 3.3, 2.3))
    page.wait_for_selector("#best", timeout=30_000)
    assert float(page.input_value("#f-across")) == pytest.approx(3.3, abs=0.03)
    page.click("text=Assumptions")
    assert "guess" in page.inner_text("details.block")


def test_figures_follow_the_target_while_it_is_dragged(open_page: Any) -> None:
    """Before, the figures stood still until the pointer was let go. Grey until they are of the place shown."""
    page = open_page("/aim?kind=hard&box=right", size=DESK, wait="aim", expected=REFUSED)
    out, grey = page.locator("[data-part='out']"), page.locator("#answer.waits")
    seen = {out.inner_text()}
    # A pointer that rests is answered as if it were let go: so it is noted when the answer was one on the way.
    page.evaluate(
        "new MutationObserver(() => { window.onTheWay ||= document.querySelector('#answer.moving') !== null; })"
        ".observe(document.querySelector('#answer'), { attributes: true })"
    )
    # On a busy machine an answer takes longer than the page waits until it calls the pointer at rest
    page.evaluate(
        "() => { const timer = window.setTimeout; window.timer = timer;"
        " window.setTimeout = (work, ms) => timer(work, 50 * ms); }"
    )
    page.mouse.move(*on_wall(page, 2.9, 2.2))
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(*on_wall(page, 2.9 - 0.1 * step, 2.2 + 0.1 * step))
        page.wait_for_function(
            "(across) => Math.abs(Number(document.querySelector('#f-across').value) - across) < 0.045"
            " && !document.querySelector('#answer').matches('.waits')",
            arg=2.9 - 0.1 * step,
        )
        seen.add(out.inner_text())
    assert len(seen) >= 6  # and the pointer is still down
    assert page.evaluate("window.onTheWay") is True
    page.evaluate("() => { window.setTimeout = window.timer; }")
    page.mouse.up()
    worked_out(page)
    assert page.locator("#answer.moving").count() == 0
    settled = out.inner_text()
    dropped: list[str] = []

    def drop(route: Any) -> None:
        dropped.append(route.request.url)
        route.abort()

    page.route("**/aim/answer*", drop)
    page.focus("#court")
    page.keyboard.press("ArrowUp")
    page.wait_for_selector("text=The connection dropped")
    while len(dropped) < 2:  # the figures at once, and all of it once nothing moves
        page.wait_for_timeout(20)
    assert grey.count() == 1 and out.inner_text() == settled
    page.unroute("**/aim/answer*")
    page.fill("#f-across", "7")
    page.click("text=Show the result")
    page.wait_for_selector("#state:has-text('from 0.1 to 6.3')")
    assert grey.count() == 1 and out.inner_text() == settled


def test_an_answer_to_an_earlier_question_is_never_shown_as_new(open_page: Any) -> None:
    """The first of two answers is held back until the second question was asked: grey, then the second."""
    page = open_page("/aim?kind=hard&box=right", size=DESK, wait="aim")
    held: list[Any] = []
    page.route("**/aim/answer*", lambda route: held.append(route) if not held else route.continue_())
    page.locator("#speed-range").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("#answer.waits")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(100)
    speed = page.input_value("#f-speed")
    assert len(held) == 1  # the second waits for the first
    assert not faults_of(page)  # grey figures can still be read
    held[0].continue_()
    worked_out(page)
    assert f"{speed} km/h" in page.inner_text("[data-part='out']")
    assert page.locator("#answer.waits").count() == 0


def test_the_map_follows_and_compares_a_second_serve(open_page: Any) -> None:
    page = open_page("/aim?kind=hard&box=right", size=TABLET, wait="aim")
    page.wait_for_selector("#map:not(.waits) svg", timeout=30_000)
    first = page.inner_html("#map")
    page.select_option("#compare", "lob")
    page.wait_for_selector("#map .key-dash", timeout=30_000)
    assert "Lob" in page.inner_text("#map")
    page.click("text=Cold")
    page.wait_for_selector("#map.waits", state="attached")
    page.wait_for_selector("#map:not(.waits) .key-dash", timeout=30_000)
    assert page.inner_html("#map") != first
    assert not faults_of(page)
