"""The handout page: the page to be printed follows the words, and is laid out as the PDF is."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

from goodlength import demo, tasks
from goodlength.tasks.sharing.handout_text_typed_by_coach import HandoutText, save_handout_text
from oracles.awaited_value import comes_to

WORDS = (
    "You moved well to the front today, and your lob kept her at the back.\n\nHold the racket up after the "
    "serve, and be ready for the volley.\n\n"
)


def test_the_preview_follows_the_words_in_the_type_of_the_pdf(
    served: Any, open_page: Any, tmp_path: Path
) -> None:
    served.stop()
    demo.build(served.folder, footage=False)
    served.start()
    page = open_page("/matches/demo/handout", wait="handout")
    sheet = page.frame_locator("#sheet")
    opened = tasks.open_match(served.library, "demo")
    for times, back in ((0, False), (6, False), (16, True)):
        page.fill("#f-own", WORDS * times + f"Number {times}.")
        page.set_checked("[name=back]", back)
        sheet.get_by_text(f"Number {times}.").wait_for()
        page.wait_for_function("() => !document.querySelector('#sheet-preview').matches('.stale')")
        edits = tasks.HandoutEdits(words=WORDS * times + f"Number {times}.", back=back)
        made = tasks.make_handout(opened, tmp_path / str(times), edits)

        def shown_as_made(
            made: Any = made,
        ) -> tuple[bool, bool, int]:  # the box ticked is a question of its own
            said = page.inner_text("#fit")
            type_pt = float(re.search(r"type ([\d.]+) pt", said).group(1))  # type: ignore[union-attr]
            near = abs(type_pt - made.type_pt) <= 0.5
            return near, "front and back" in said, sheet.locator(".a4").count()

        wanted = (True, made.pages == 2, made.pages)
        assert comes_to(shown_as_made, wanted) == wanted, (times, page.inner_text("#fit"), made.type_pt)
    if folder := os.environ.get("GOODLENGTH_SCREENSHOTS"):
        page.screenshot(path=f"{folder}/handout-preview.png")
    assert page.is_enabled("#print")
    boxes = page.locator("[name=chosen]")
    for n in range(4):
        boxes.nth(n).check()
    page.get_by_text("4 findings are chosen").wait_for()
    assert page.is_disabled("#print")
    page.select_option("#handout-language", "de")
    page.wait_for_url("**/handout")
    page.wait_for_selector('html[data-ready="handout"]')
    sheet.get_by_text("Was wir gesehen haben").wait_for()

    text = HandoutText(chosen=[], fields={}, own=WORDS * 6, turning=True)
    save_handout_text(opened, text)  # as a library stored it before what had no room was unticked
    page = open_page("/matches/demo/handout", wait="handout")
    assert not page.is_checked("[name=turning]"), page.inner_text("#fit")
    assert page.frame_locator("#sheet").locator(".turning:visible").count() == 0
