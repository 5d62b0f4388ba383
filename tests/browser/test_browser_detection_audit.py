"""The review of the detection in a browser: one question a card, by keys and by touch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from goodlength import tasks
from goodlength.synthetic.simulated_court_audio import TYPICAL, record
from goodlength.synthetic.video_with_sound_writer import write_film
from goodlength.tasks.footage.rally_detection_audit import review_detection

CALM = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)


def test_rallies_are_reviewed_by_keys_and_by_touch(served: Any, open_page: Any, tmp_path: Path) -> None:
    library = served.library
    for player in ("Imogen Vale", "Petra Lindqvist-Ode"):
        tasks.add_player(library, player, player_id=player[:3])
    tasks.new_match(library, ("Imo", "Pet"), match_id="m1")
    made = record(np.random.default_rng(4), CALM, 60.0)
    tasks.add_footage(library, "m1", write_film(tmp_path / "court.mp4", made.samples))
    page = open_page("/matches/m1/footage", wait="footage")
    page.get_by_role("button", name="Detect the rallies").click()
    page.get_by_role("link", name="Review the detection").click(timeout=180_000)
    page.wait_for_selector('html[data-ready="review"]')

    question = page.locator("#question")
    assert question.inner_text() == "Is this a rally?"
    page.keyboard.press("1")
    page.wait_for_selector("#question:has-text('Who hits the ball here?')")
    page.keyboard.press("2")
    page.wait_for_selector("#question:has-text('Does the rally start here?')")
    page.locator("#answers button").first.click()
    page.wait_for_selector("#words p:first-child:has-text('1 of')")  # a later line counts hits, "1 of 1"
    card = next(c for c in review_detection(tasks.open_match(library, "m1")).cards if c.done)
    assert (card.rally, card.hit, card.place) == ("yes", "b", "right")
    page.keyboard.press("Backspace")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
