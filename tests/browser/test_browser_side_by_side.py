"""Two serves beside each other: the same moment on both, stepped together, drawn on, kept, and made a film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw, read_card

SHOWN = """(n) => {
  const video = document.querySelectorAll('.view video')[n];
  const canvas = document.createElement('canvas');
  canvas.width = video.videoWidth; canvas.height = video.videoHeight;
  const pen = canvas.getContext('2d'); pen.drawImage(video, 0, 0);
  const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
  const out = []; for (let i = 0; i < data.length; i += 4) out.push(Math.round((data[i] + data[i + 1] + data[i + 2]) / 3));
  return [canvas.height, canvas.width, out];
}"""
STILL = "() => [...document.querySelectorAll('.view video')].every((v) => !v.seeking && v.readyState >= 2)"


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
    page.wait_for_timeout(60)
    found = []
    for n in range(2):
        high, wide, luma = page.evaluate(SHOWN, n)
        found.append(read_card(np.array(luma, np.uint8).reshape(high, wide)))
    return found


def test_contact_meets_contact_and_both_step_together(served: Any, open_page: Any, match_id: str) -> None:
    page = open_page(f"/matches/{match_id}/beside", wait="side-by-side")
    assert shown(page) == [36, 81]
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert shown(page) == [39, 84]
    page.keyboard.press("a")
    page.keyboard.press("'")
    assert shown(page) == [36, 82]
    assert page.inner_text(".side >> nth=1 >> .nudge") == "1 frame later"
    page.keyboard.press("Space")
    page.wait_for_function(
        "() => document.querySelector('#when').innerText.includes('after')", timeout=20_000
    )
    page.keyboard.press("Space")
    item, two = shown(page)
    assert item is not None
    assert two is not None
    assert abs((two - item) - 46) <= 1


def test_what_is_drawn_is_kept_and_shown_at_contact_only(served: Any, open_page: Any, match_id: str) -> None:
    page = open_page(f"/matches/{match_id}/beside", wait="side-by-side")
    page.keyboard.press("g")
    box = page.locator(".view >> nth=0").bounding_box()
    for across, down in ((0.5, 0.2), (0.5, 0.5), (0.7, 0.5)):
        page.mouse.click(box["x"] + across * box["width"], box["y"] + down * box["height"])
    page.wait_for_function("() => document.documentElement.dataset.saved === '[1,0]'")
    assert page.text_content(".view >> nth=0 >> text") == "90°"
    page.keyboard.press("g")
    page.keyboard.press("ArrowRight")
    assert page.locator(".view path").count() == 0
    page.reload()
    page.wait_for_selector('html[data-ready="side-by-side"]')
    assert page.locator(".view path.ink").count() == 1
    (file,) = (served.library.folder / "clips").glob("*-beside-lines.json")
    (kept,) = JsonFile(file).read().values()
    assert kept["lines"][0][0]["kind"] == "angle"
    page.click("text=Make the video")
    page.locator(".made a[download]").first.wait_for(timeout=60_000)
