"""Two serves beside each other: the same moment on both, stepped together, drawn on, kept, and made a film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw, read_card
from goodlength.tasks.playback import frame_drawings
from oracles.awaited_value import comes_to

SHOWN = """(n) => {
  const video = document.querySelectorAll('.frame video.front')[n];
  const canvas = document.createElement('canvas');
  canvas.width = video.videoWidth; canvas.height = video.videoHeight;
  const pen = canvas.getContext('2d'); pen.drawImage(video, 0, 0);
  const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
  const out = []; for (let i = 0; i < data.length; i += 4) out.push(Math.round((data[i] + data[i + 1] + data[i + 2]) / 3));
  return [canvas.height, canvas.width, out];
}"""
STILL = (
    "() => [...document.querySelectorAll('.frame video.front')].every((v) => !v.seeking && v.readyState >= 2)"
)


@pytest.fixture
def match_id(served: Any, tmp_path: Path) -> str:
    """Two serves a second and a half apart, on pictures that carry their number."""
    library = served.library
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player)
        tasks.consent(library, player, given_by=name)
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    film = draw(tmp_path / "numbered.mp4", Recipe(tuple(range(120)), sound="", b_frames=0))
    tasks.add_footage(library, "m1", film)
    for n in range(2):
        span = {"start_us": 1_200_000 + n * 1_500_000, "end_us": 1_400_000 + n * 1_500_000, "how": "marked"}
        tasks.answer(library, "m1", f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, "m1", f"r{n}", EntryKind.WINNER, "a")
    return "m1"


def shown(page: Any) -> list[int | None]:
    page.wait_for_function(STILL)
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    found = []
    for n in range(2):
        high, wide, luma = page.evaluate(SHOWN, n)
        found.append(read_card(np.array(luma, np.uint8).reshape(high, wide)))
    return found


def test_contact_meets_contact_and_both_step_together(served: Any, open_page: Any, match_id: str) -> None:
    page = open_page(f"/matches/{match_id}/beside", wait="side-by-side")
    assert comes_to(lambda: shown(page), [36, 81]) == [36, 81]
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert comes_to(lambda: shown(page), [39, 84]) == [39, 84]
    page.keyboard.press("a")
    page.keyboard.press("'")
    assert comes_to(lambda: shown(page), [36, 82]) == [36, 82]
    assert page.inner_text(".side >> nth=1 >> .nudge") == "1 frame after contact"
    page.keyboard.press("Space")
    page.wait_for_function(
        "() => document.querySelector('#caption').innerText.startsWith('+')", timeout=60_000
    )
    page.keyboard.press("Space")

    def frames_apart() -> int | None:
        item, two = shown(page)
        return None if item is None or two is None else two - item

    assert comes_to(lambda: frames_apart() in (45, 46, 47), True), shown(page)


def test_what_is_drawn_on_the_second_is_kept_with_its_frame_and_reaches_the_film(
    served: Any, open_page: Any, match_id: str
) -> None:
    page = open_page(f"/matches/{match_id}/beside", wait="side-by-side")
    page.keyboard.press("m")  # drawn on a picture that is turned over, it lies on the same thing
    page.keyboard.press("t")
    page.keyboard.press("2")
    box = page.locator("#frame-2 .over-picture").bounding_box()
    page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.25 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.75 * box["height"], steps=3)
    page.mouse.up()
    page.wait_for_function("() => document.querySelector('#draw-hint').innerText.startsWith('Arrow saved')")
    (arrow,) = frame_drawings(served.library, "m1")
    assert arrow.rally == "r1"
    assert arrow.points[0] == pytest.approx((0.8, 0.25), abs=0.01)
    page.keyboard.press("Escape")
    counted = "document.querySelectorAll('#frame-2 .drawing .ink').length"
    assert page.evaluate(counted) == 1
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"() => {counted} === 0")
    page.keyboard.press("a")
    page.wait_for_function(f"() => {counted} === 1")
    page.click("text=Make the video")
    page.locator(".made a[download]").first.wait_for(timeout=180_000)
