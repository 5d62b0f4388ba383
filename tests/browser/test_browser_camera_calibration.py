"""The camera marked by clicks in the page: marks set, moved, left out, cleared, solved, kept and shown again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.footage.court_detection.court_detection_in_image import marks_in_view
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.synthetic.simulated_camera_clicks import plain_clicks
from goodlength.tasks.footage.camera_calibration import camera_log, save_camera
from oracles.drawn_court import camera_of, draw_court, draw_spotted_court, write_court_video

SIZE = (480, 360)


@pytest.fixture
def film(served: Any, tmp_path: Path) -> str:
    """A match with one file on whose pictures the court can be marked."""
    library = served.library
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player)
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    recipe = Recipe(tuple(range(12)), sound="", width=SIZE[0], height=SIZE[1])
    return tasks.add_footage(library, "m1", draw(tmp_path / "one.mp4", recipe)).id


def test_a_camera_is_marked_by_clicks_and_kept(served: Any, open_page: Any, film: str) -> None:
    # the first few marks alone may give no camera: the server says so with 422
    page = open_page("/matches/m1/camera", wait="camera", expected="422")
    names = [
        mark["name"]
        for mark in page.evaluate("JSON.parse(document.querySelector('#point-picking').dataset.begin).marks")
    ]
    rows = page.locator("#rows tr")
    clicks = plain_clicks()
    for click in clicks:
        rows.nth(names.index(click["mark"])).locator("button").click()
        box = page.locator(".over-picture").bounding_box()
        page.mouse.click(
            box["x"] + click["u"] / SIZE[0] * box["width"], box["y"] + click["v"] / SIZE[1] * box["height"]
        )
    page.wait_for_function("() => !document.querySelector('#keep').disabled", timeout=60_000)
    assert page.locator("#rows tr.set").count() == len(clicks)
    # the mark in hand moves with the arrow keys, half a pixel at a press
    first = rows.nth(names.index(clicks[0]["mark"]))
    first.locator("button").click()
    page.focus("#frame")
    assert page.inner_text("#hand-state").startswith("Set")
    drawn = "() => [...document.querySelectorAll('#frame .picks .mark')].map((mark) => mark.getAttribute('d')).join()"
    before = page.evaluate(drawn)
    page.keyboard.press("ArrowRight")
    assert page.evaluate(drawn) != before
    page.keyboard.press("ArrowLeft")
    assert page.evaluate(drawn) == before
    # cleared, it is open; Enter sets it again where the cross stands, and takes up the next
    page.click('[data-action="clear"]')
    assert page.locator("#rows tr.set").count() == len(clicks) - 1
    page.focus("#frame")
    page.keyboard.press("Enter")
    assert page.locator("#rows tr.set").count() == len(clicks)
    assert "now" not in (first.get_attribute("class") or "")
    # enlarged about the cross, a click is as exact as the picture is large
    first.locator("button").click()
    for _ in range(4):
        page.keyboard.press("+")
    page.click('[data-action="clear"]')
    box = page.locator(".over-picture").bounding_box()
    assert box["width"] > 3.5 * page.locator("#frame").bounding_box()["width"]
    u, v = clicks[0]["u"], clicks[0]["v"]
    page.mouse.click(box["x"] + u / SIZE[0] * box["width"], box["y"] + v / SIZE[1] * box["height"])
    page.click("#keep")
    page.wait_for_selector("#saved-rows li", timeout=60_000)
    (span,) = camera_log(served.library, film).spans
    (saved,) = (click for click in span.camera.clicks if click.mark == clicks[0]["mark"])
    assert (saved.u, saved.v) == pytest.approx((u, v), abs=0.2)
    again = open_page("/matches/m1/camera", wait="camera")
    assert again.locator("#rows tr.set").count() == len(clicks)


def test_the_court_found_by_itself_takes_one_press(open_page: Any, served: Any, tmp_path: Path) -> None:
    library = served.library
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player)
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    tasks.add_footage(library, "m1", write_court_video(tmp_path / "court.mp4", draw_court(camera_of())))
    page = open_page("/matches/m1/camera", wait="camera")
    page.wait_for_function(
        "() => document.querySelector('#state').textContent.startsWith('The court was detected')",
        timeout=180_000,
    )
    assert page.locator("#rows tr.set").count() >= 12
    assert page.locator("#saved-rows li").count() == 0
    page.click("#keep")
    page.wait_for_selector("#saved-rows li", timeout=60_000)
    assert page.inner_text("#state").startswith("Saved.")


def test_after_a_knock_the_court_is_found_again_from_there(
    open_page: Any, served: Any, film: str, tmp_path: Path
) -> None:
    knock = np.array([0.012, -0.02, 0.008, 0.0, 0, 0, 0, 0, 0, 0, 0, 0])
    pictures = draw_spotted_court(camera_of()), draw_spotted_court(camera_of().moved(knock))
    video = write_court_video(tmp_path / "knocked.mp4", pictures[0], 30, knocked=pictures[1])
    footage = tasks.add_footage(served.library, "m1", video).id
    clicks = [{"mark": m.mark, "u": m.u, "v": m.v, "detected": True} for m in marks_in_view(camera_of())]
    save_camera(served.library, footage, 300_000, clicks)
    page = open_page(f"/matches/m1/camera?file={footage}", wait="camera")
    page.wait_for_function("() => !document.querySelector('#keep').disabled", timeout=60_000)
    page.click("#moved")
    page.wait_for_function(
        "() => document.querySelector('#state').textContent.startsWith('The court was detected')",
        timeout=180_000,
    )
    assert "The camera moved" in page.inner_text("#moved-words")
    page.click("#keep")
    page.wait_for_function("() => document.querySelectorAll('#saved-rows li').length === 2", timeout=60_000)
    first, second = camera_log(served.library, footage).spans
    assert 1_000_000 < second.from_us < 2_000_000 and first.until_us == second.from_us
    spot = np.array([[3.2, 5.5, 0.0]])
    off = second.camera.lens.project(spot)[0] - camera_of().moved(knock).project(spot)[0]
    assert np.abs(off).max() < 2.0
