"""A serve measured by clicks in the page, nudged by keys, kept, and found again."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.synthetic.simulated_camera_clicks import plain_clicks
from goodlength.tasks.footage import camera_calibration

SIZE = (480, 360)
SERVE = (
    ("ball at the racket", 1.0, (5.8, 5.85, 1.05)),
    ("front wall", 1.375922, (3.4701, 0.02, 4.1483)),
    ("left side wall", 2.399332, (0.02, 6.7356, 2.7339)),
)


@pytest.fixture
def match_id(served: Any, tmp_path: Path) -> str:
    """One serve on four seconds of film, and the camera known."""
    library = served.library
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player)
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    recipe = Recipe(tuple(range(100)), base=Fraction(1, 25), width=SIZE[0], height=SIZE[1], sound="")
    film = tasks.add_footage(library, "m1", draw(tmp_path / "film.mp4", recipe))
    tasks.answer(
        library, "m1", "r0", EntryKind.SPAN, {"start_us": 1_000_000, "end_us": 3_000_000, "how": "marked"}
    )
    tasks.answer(library, "m1", "r0", EntryKind.WINNER, "a")
    camera_calibration.save_camera(library, film.id, 500_000, plain_clicks())
    return "m1"


def test_a_serve_is_measured_by_clicks(served: Any, open_page: Any, match_id: str) -> None:
    library = served.library
    (film,) = library.footage(match_id)
    lens = camera_calibration.camera_at(library, film.id, 1_000_000).camera.lens  # type: ignore[union-attr]
    page = open_page(f"/matches/{match_id}/measure", wait="measure")
    for words, at_s, place in SERVE:
        page.click(f'#rows button:text-is("{words}")')
        page.fill("#time", f"{at_s + 0.001:.3f}")
        page.press("#time", "Enter")
        wanted = int((at_s + 0.001) * 25) * 40_000
        page.wait_for_function(
            "(us) => document.querySelector('#frame .exact').src.endsWith(`us=${us}`)", arg=wanted
        )
        (u, v), _ = (item[0] for item in lens.project(np.array([place])))
        box = page.locator(".over-picture").bounding_box()
        page.mouse.click(box["x"] + u / SIZE[0] * box["width"], box["y"] + v / SIZE[1] * box["height"])
    page.wait_for_function(
        "() => document.querySelector('#lines').innerText.includes('km/h')", timeout=60_000
    )
    assert page.locator("#court svg").count() == 1
    assert page.locator('#rows button:text-is("ball in the air")').count() == 1  # one more, not all eight
    assert page.locator(".picks .flown").count() >= 1
    assert page.locator("#lines tr").count() >= 10
    page.set_viewport_size({"width": 390, "height": 844})  # before: a range in words made it 573 wide
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.set_viewport_size({"width": 1440, "height": 900})
    page.click('#rows button:text-is("front wall")')
    page.focus("#frame")
    assert "not measured" in page.inner_text(".serve-list tr.now")
    page.keyboard.press("ArrowRight")
    page.wait_for_function(
        "() => document.querySelector('#keep').disabled"
    )  # what is shown is the older mark's
    page.wait_for_function(
        "() => document.querySelector('#state').innerText.endsWith('. Not saved yet.')", timeout=60_000
    )
    page.keyboard.press("k")
    page.wait_for_selector('html[data-saved="yes"]')
    assert "not measured" not in page.inner_text(".serve-list tr.now")  # without loading the page again
    page.click("#again")
    page.wait_for_timeout(200)  # the picture comes back into view
    for _, _, place in SERVE:
        before = page.inner_text("#hand-words"), page.inner_text("#hand-state")
        assert "Your first click is hidden" in before[1]
        assert page.locator(".picks .mark, .picks .flown").count() == 0
        (u, v), _ = (item[0] for item in lens.project(np.array([place])))
        box = page.locator(".over-picture").bounding_box()
        page.mouse.click(box["x"] + u / SIZE[0] * box["width"], box["y"] + v / SIZE[1] * box["height"])
        page.wait_for_function(
            "(before) => document.querySelector('#hand-words').innerText !== before[0]"
            " || document.querySelector('#hand-state').innerText !== before[1]",
            arg=list(before),
        )
    page.wait_for_function(
        "() => document.querySelector('#state').innerText.endsWith('. Not saved yet.')", timeout=60_000
    )
    page.evaluate("document.documentElement.dataset.saved = ''")
    page.keyboard.press("k")
    page.wait_for_selector('html[data-saved="yes"]')
    value = tasks.show_match(library, match_id).rallies[0].serve.measured
    assert all(mark.again is not None for mark in value.marks)
    assert value.speed_m_s[0] > 15
    assert value.speed_m_s[0] < 27
    page.reload()
    page.wait_for_selector('html[data-ready="measure"]')
    assert page.locator("#rows tr.set").count() == 3
    assert "km/h" in page.inner_text(".serve-list tr.now")
