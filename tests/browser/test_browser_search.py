"""Search in a browser: conditions change the list in place, ticks last, rallies of two matches play in a row."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw

SECOND = 1_000_000


@pytest.fixture
def two_matches(served: Any, tmp_path: Path) -> Any:
    """Two matches of three rallies each, in six seconds of film."""
    library = served.library
    for player_id, name in (
        ("iv", "Imogen Vale"),
        ("plo", "Petra Lindqvist-Ode"),
        ("omt", "Oona Marsh-Tallis"),
    ):
        tasks.add_player(library, name, player_id=player_id)
        tasks.consent(library, player_id, given_by=name)
    film = draw(tmp_path / "film.mp4", Recipe(tuple(range(180)), key_every=30, sound=""))
    for match_id, other in (("m1", "plo"), ("m2", "omt")):
        tasks.new_match(library, ("iv", other), match_id=match_id)
        tasks.add_footage(library, match_id, film)
        for n in range(1, 4):
            begin = (2 * n - 2) * SECOND
            span = {"start_us": begin, "end_us": begin + SECOND, "how": "marked"}
            tasks.answer(library, match_id, f"r{n}", EntryKind.SPAN, span)
            tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a" if n < 3 else "b")
            tasks.answer(library, match_id, f"r{n}", EntryKind.KIND, "lob" if n % 2 else "hard")
            tasks.answer(library, match_id, f"r{n}", EntryKind.NOTE, f"note {n}")
    return library


def test_conditions_are_chosen_counted_and_removed_by_keyboard(open_page: Any, two_matches: Any) -> None:
    page = open_page("/search", wait="search")
    words = page.locator("#found-words")
    expect(words).to_contain_text("6 rallies in 2 matches")
    page.focus("[data-condition=kind] summary")
    page.keyboard.press("Enter")
    expect(page.locator("[data-condition=kind] a").first).to_have_text("Lob4 rallies")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(words).to_contain_text("4 rallies in 2 matches")
    assert page.url.endswith("/search?kind=lob")
    assert page.evaluate("document.activeElement.dataset.chip") == "kind"
    page.locator("[data-condition=text] summary").click()
    page.get_by_label("Words in the note").type("note 3")
    expect(words).to_contain_text("2 rallies in 2 matches")  # while it is being typed
    page.keyboard.press("Escape")
    page.focus("[data-chip=kind]")
    page.keyboard.press("Enter")
    expect(page.locator("[data-chip]")).to_have_count(1)
    page.go_back()
    expect(page.locator("[data-chip=kind]")).to_be_visible()


def test_rallies_of_two_matches_play_in_a_row_and_ticks_last(open_page: Any, two_matches: Any) -> None:
    page = open_page("/search?kind=lob", wait="search")
    page.locator("#found input[name=rally]").nth(0).check()
    page.locator("#play-found").click()
    expect(page.locator("#clip-title")).to_contain_text("1 of 4")
    expect(page.locator("#clip-title")).to_contain_text("3 of 4", timeout=12_000)  # in the other match
    page.keyboard.press("Escape")
    expect(page.locator("#clip-panel")).to_be_hidden()
    page.locator("[data-chip=kind]").click()
    expect(page.locator("#found-words")).to_contain_text("6 rallies")
    page.locator("[data-condition=kind] summary").click()
    page.locator("[data-condition=kind] a", has_text="Hard").click()
    expect(page.locator("#ticked")).to_have_text("1 rally ticked, 1 of them not in this list")
    page.locator("#found input[name=rally]").nth(0).check()
    page.get_by_role("button", name="Make highlights").click()
    page.wait_for_url("**/show?made=1*")
