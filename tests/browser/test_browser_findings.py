"""The Findings page in a browser: the rallies behind a number play where it stands; nothing is lost on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw

PAGE = "/matches/m1/findings"
SECOND = 1_000_000
NOW = "document.querySelector('video.front').currentTime"


@pytest.fixture(scope="module")
def library_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six rallies of a second each in a film of nineteen; the last has no time."""
    place = tmp_path_factory.mktemp("findings")
    with tasks.open_library(place / "library") as library:
        for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(library, name, player_id=player_id)
        tasks.new_match(library, ("iv", "plo"), match_id="m1")
        film = draw(place / "film.mp4", Recipe(tuple(range(570)), key_every=30, sound=""))
        tasks.add_footage(library, "m1", film)
        for n in range(1, 7):
            if n < 6:
                span = {"start_us": 3 * n * SECOND, "end_us": (3 * n + 1) * SECOND, "how": "marked"}
                tasks.answer(library, "m1", f"r{n}", EntryKind.SPAN, span)
            if n == 1:
                tasks.answer(library, "m1", "r1", EntryKind.SERVER, "a")
            tasks.answer(library, "m1", f"r{n}", EntryKind.KIND, "lob")
            tasks.answer(library, "m1", f"r{n}", EntryKind.LEFT, "loose" if n % 2 else "tight")
            tasks.answer(library, "m1", f"r{n}", EntryKind.WINNER, "a")
    return place / "library"


@pytest.fixture
def match(served: Any) -> Any:
    """The library begun with."""
    return served.library


def test_the_rallies_behind_a_number_play_where_it_stands(open_page: Any, match: Any) -> None:
    page = open_page(PAGE, wait="findings")
    link = page.locator(".serves a.n").first
    link.click()
    panel = page.locator("#clip-panel")
    expect(panel).to_be_visible()
    assert page.url.endswith("/findings")
    expect(page.locator("#clip-title")).to_contain_text("1 of 5")
    assert page.evaluate("document.activeElement.id") == "clip-title"
    page.wait_for_function(f"() => {NOW} > 3.0")
    page.wait_for_function(f"() => {NOW} >= 6.0", timeout=10_000)  # the next one follows by itself
    expect(page.locator("#clip-title")).to_contain_text("2 of 5")
    page.click("#clip-before")
    page.wait_for_function(f"() => {NOW} < 4.5")
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    assert page.evaluate("document.querySelector('video.front').paused")
    assert link.evaluate("(one) => one === document.activeElement")


def test_a_link_opened_elsewhere_leads_to_show(open_page: Any, match: Any) -> None:
    page = open_page(PAGE, wait="findings")
    with page.context.expect_page() as other:
        page.locator(".serves a.n").first.click(modifiers=["Control"])
    assert "/show?rallies=" in other.value.url
    expect(page.locator("#clip-panel")).to_be_hidden()


@pytest.mark.parametrize("width", [390, 360])
def test_on_a_phone_a_row_is_a_block_with_the_names_of_its_columns(
    open_page: Any, match: Any, width: int
) -> None:
    size = {"width": width, "height": 740}
    page = open_page(PAGE, size=size, wait="findings", has_touch=True, is_mobile=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    named = "(one) => getComputedStyle(one, '::before').content"
    assert len(page.locator(".plain-table td[data-label]").first.evaluate(named)) > 4
    page.locator(".serves a.n").first.tap()
    expect(page.locator("#clip-panel")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
