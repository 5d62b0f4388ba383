"""Every page: axe finds nothing, nothing scrolls sideways, the keyboard reaches everything."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.scoring.scoring_types import Side, Start

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
DESK = {"width": 1440, "height": 900}
TABLET = {"width": 820, "height": 1180}
PHONES = ({"width": 390, "height": 844}, {"width": 360, "height": 740})
PAGES = (
    "/matches",
    "/players",
    "/players/iv",
    "/aim",
    "/practice",
    "/practice/drills",
    "/practice/calendar",
    "/practice/iv",
    "/practice/iv/log",
    "/practice/iv/recordings",
    "/trust",
    "/bin",
    "/settings",
    "/help",
    "/help/how-to/back-up",
    "/matches/m1/details",
    "/matches/m1/footage",
    "/matches/m1/prepare",
    "/matches/m1/phone",
    "/matches/m1/record",
    "/matches/m1/rallies",
    "/matches/m1/draft",
    "/matches/m1/ball",
    "/matches/m1/findings",
    "/matches/m1/findings?side=b",
    "/matches/m1/findings/parents",
    "/matches/m1/findings/places",
    "/matches/m1/camera",
    "/matches/m1/review",
    "/handed/expired",
    "/matches/m1/between",
    "/matches/m1/agree",
    "/players/iv/brief",
    "/search",
    "/search?player=iv&role=serving",
    "/players/iv/trend",
    "/matches/m1/show",
    "/matches/m1/beside",
    "/matches/m1/measure",
    "/matches/m1/players",
    "/matches/m1/body",
    "/matches/m1/talk",
    "/matches/m1/talk/show",
    "/matches/m1/tell",
    "/matches/m1/plan",
    "/matches/m1/handout",
    "/matches/nobody/record",
)


@pytest.fixture(scope="module")
def library_with_match(tmp_path_factory: pytest.TempPathFactory, bikes: Path) -> Path:
    """A match with footage, twelve rallies and a consent."""
    folder = tmp_path_factory.mktemp("access") / "library"
    with tasks.open_library(folder) as library:
        tasks.add_player(library, "Imogen Vale", player_id="iv", junior=True)
        tasks.add_player(library, "Petra Lindqvist-Ode", player_id="plo", hand="left")
        tasks.consent(library, "iv", given_by="Parent Vale")
        tasks.new_match(
            library,
            ("iv", "plo"),
            match_id="m1",
            event="Tideway Open",
            played_on=date(2026, 3, 7),
            start=Start(server=Side.A),
        )
        tasks.add_footage(library, "m1", bikes)
        answers = (
            (EntryKind.KIND, ("lob", "hard", "mid-height")),
            (EntryKind.HOW_TAKEN, ("volleyed", "after-the-side-wall")),
            (EntryKind.LEFT, ("loose", "tight", "attacked")),
            (EntryKind.WINNER, ("a", "b", "a")),
            (EntryKind.ENDING, ("winner", "unforced-error")),
        )
        for n in range(12):
            span = {"start_us": n * 700_000, "end_us": n * 700_000 + 600_000, "how": "marked"}
            tasks.answer(library, "m1", f"r{n + 1}", EntryKind.SPAN, span)
            for what, values in answers:
                tasks.answer(library, "m1", f"r{n + 1}", what, values[n % len(values)])
    return folder


@pytest.fixture
def library_template(request: pytest.FixtureRequest) -> Path | None:
    """The library with its match, for the tests that ask for the match."""
    asked = "match_id" in request.fixturenames
    return request.getfixturevalue("library_with_match") if asked else None


@pytest.fixture
def match_id(served: Any) -> str:
    """The match of the library begun with."""
    return "m1"


def faults_of(page: Any) -> list[str]:
    """What axe finds, one line each."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [f"{item['id']}: {item['help']} at {node['target']}" for item in found for node in item["nodes"]]


def too_wide_on_a_phone(page: Any) -> list[tuple[int, int, list[str]]]:
    """Width of the window, of the page, and what sticks out, where a page scrolls sideways on a phone."""
    found = []
    for phone in PHONES:
        page.set_viewport_size(phone)
        wide = page.evaluate("Math.max(document.documentElement.scrollWidth, document.body.scrollWidth)")
        if wide > phone["width"]:
            out = page.evaluate(
                """(width) => [...document.querySelectorAll('body *')]
                     .filter((one) => one.getBoundingClientRect().right > width + 1)
                     .slice(0, 5).map((one) => one.tagName + '.' + one.className)""",
                phone["width"],
            )
            found.append((phone["width"], wide, out))
    return found


@pytest.mark.parametrize("theme", ["light", "dim"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    served: Any, open_page: Any, match_id: str, quiet: Callable[[Any], None], theme: str
) -> None:
    served.library.set_setting("room", theme)
    told, narrow = {}, []
    # Once loaded at each size, once loaded at a desk and then made narrow
    for sizes in ((DESK,), (TABLET,)) if theme == "light" else ((DESK, TABLET),):
        page = open_page("/matches", size=sizes[0], bypass_csp=True, expected="Failed to load resource")
        for path in PAGES:
            page.goto(path)
            quiet(page)
            for size in sizes:
                page.set_viewport_size(size)
                wide = page.evaluate(
                    "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
                )
                assert wide[0] <= wide[1], (path, size, wide)
                if size is TABLET:
                    narrow += [(path, *item) for item in too_wide_on_a_phone(page)]
                if size is DESK and (faults := faults_of(page)):
                    told[path] = faults
            page.set_viewport_size(sizes[0])
    assert not told, told
    assert not narrow, narrow


SMALL = {"tablet": TABLET, "phone": PHONES[0]}


@pytest.mark.parametrize("theme", ["light", "dim"])
@pytest.mark.parametrize("size", SMALL)
def test_axe_finds_nothing_on_small_screens(
    served: Any, open_page: Any, match_id: str, quiet: Callable[[Any], None], theme: str, size: str
) -> None:
    """An eighth of the pages at each size and theme; all of them are in `python -m robustness axe`."""
    served.library.set_setting("room", theme)
    turn = 2 * list(SMALL).index(size) + (theme == "dim")
    touch = {"has_touch": True, "is_mobile": True}
    page = open_page(
        "/matches", size=SMALL[size], bypass_csp=True, expected="Failed to load resource", **touch
    )
    told = {}
    for path in PAGES[turn::8]:
        page.goto(path)
        quiet(page)
        if faults := faults_of(page):
            told[path] = faults
    assert not told, told


def test_the_record_page_does_not_scroll_on_a_desk_and_keeps_its_card(open_page: Any, match_id: str) -> None:
    page = open_page("/matches/m1/record", wait="record")
    tall = "document.documentElement.scrollHeight"
    heights = [page.evaluate(tall)]
    for key in ("Enter", "1", "2", "2", "1", "1"):
        page.keyboard.press(key)
        page.wait_for_timeout(80)
        heights.append(page.evaluate(tall))
    assert set(heights) == {900}, heights  # the window: nothing is below it


def test_the_lines_of_a_game_never_scroll_sideways(open_page: Any, match_id: str) -> None:
    """A column of a finished game was a pixel too wide: a region to scroll that no key reached, said axe."""
    page = open_page("/matches/m1/record", wait="record")
    expect(page.locator(".game .lines").first).to_have_css("overflow-x", "hidden")  # lines are drawn again


def test_on_a_touch_screen_every_key_has_a_button_of_44_pixels(open_page: Any, match_id: str) -> None:
    from goodlength.web.views.keyboard_shortcuts import KEYS

    page = open_page("/matches/m1/record", size=TABLET, wait="record", has_touch=True, is_mobile=True)
    large = page.locator(".touch.large button")
    assert large.count() == 5 and min(large.nth(n).bounding_box()["height"] for n in range(5)) >= 60
    page.tap(".more-keys summary")
    page.tap("#more-button")
    boxes = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.touch [data-action], .bar [data-action]')].map((one) => {
             const { width, height } = one.getBoundingClientRect();
             return [one.dataset.action, Math.min(width, height)];
           }))"""
    )
    wanted = {key.action for key in KEYS if key.touch} - {
        "enter",
        "speed",
    }  # the speeds are a list to choose from
    assert wanted <= set(boxes)
    assert min(boxes[action] for action in wanted) >= 44
    page.tap(".card .ask .note button >> nth=1")  # skip: Enter's button
    answers = page.evaluate(
        "() => [...document.querySelectorAll('#card button')].map((one) => one.getBoundingClientRect().height)"
    )
    assert min(height for height in answers if height > 30) >= 44
    page.tap("#card .answers button >> nth=0")
    assert "volleyed" in page.inner_text(".rally-sentence")


TOO_SMALL = """() => [...document.querySelectorAll('a[href], button, select, textarea, summary, input:not([type=hidden])')]
  .filter((one) => one.checkVisibility() && !one.matches('.skip, .out-of-sight, dialog *'))
  .filter((one) => !(one instanceof SVGElement)) // steps of a drawing: each rally is a row of Show too
  .filter((one) => !(one.tagName === 'A' && getComputedStyle(one).display === 'inline')) // words in a sentence
  .filter((one) => {
    const box = (one.closest('label') ?? one).getBoundingClientRect();
    return box.height < 24 || box.width < 24;
  }).map((one) => `${one.tagName}.${one.className} ${one.textContent.trim().slice(0, 30)}`)"""


def test_on_a_touch_screen_nothing_to_press_is_under_24_pixels(
    open_page: Any, match_id: str, quiet: Callable[[Any], None]
) -> None:
    """WCAG 2.2, 2.5.8; links inside a sentence are left out there too. Before: links at the head were 22."""
    page = open_page(
        "/matches", size=PHONES[0], has_touch=True, is_mobile=True, expected="Failed to load resource"
    )
    found = {}
    for path in PAGES:
        page.goto(path)
        quiet(page)
        if small := page.evaluate(TOO_SMALL):
            found[path] = small[:6]
    assert not found, found


def test_the_question_mark_opens_the_guide_of_a_page_without_keys(open_page: Any) -> None:
    page = open_page("/players")
    page.focus("#f-name")
    page.keyboard.type("?")
    assert page.input_value("#f-name") == "?"  # in a field it is a letter
    page.focus(".brand")
    page.keyboard.press("?")
    page.wait_for_url("**/help/how-to/consent-and-deleting")
    expect(page.locator("h1")).to_have_text("Consent and deleting data")


def test_the_question_mark_shows_the_keys_before_a_video_is_opened(open_page: Any) -> None:
    """Its buttons would do nothing yet: they say so, and cannot be pressed."""
    page = open_page("/search")
    page.focus(".brand")
    page.keyboard.press("?")
    expect(page.locator("#help")).to_be_visible()
    expect(page.locator("#help")).to_contain_text("These keys work once a clip plays")
    assert page.locator("#help [data-press]:not(:disabled)").count() == 0
    page.keyboard.press("Escape")
    assert page.locator("#help [data-press]:not(:disabled)").count() > 0


def test_a_match_is_begun_by_keyboard_alone(served: Any, open_page: Any) -> None:
    page = open_page("/matches")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.focus("#f-a")
    page.keyboard.type("Imogen Vale")
    page.keyboard.press("Tab")
    page.keyboard.type("Petra Lindqvist-Ode")
    page.keyboard.press("Enter")
    page.wait_for_url("**/footage")
    page.click("text=Record >> nth=0")
    page.wait_for_selector('html[data-ready="record"]')
    assert "Who serves?" in page.inner_text("#card")
    page.keyboard.press("2")
    page.wait_for_function("() => document.querySelector('#card').textContent.includes('What was served?')")
    outlines = page.evaluate(
        """() => { const b = document.querySelector('#card .answers button'); b.focus();
                   const s = getComputedStyle(b); return [s.outlineStyle, parseFloat(s.outlineWidth)]; }"""
    )
    assert outlines[0] in ("solid", "auto")
    assert outlines[1] >= 2


UNSAID = """() => [...document.querySelectorAll('.scroll-x')]
  .filter((box) => box.scrollWidth > box.clientWidth + 1)
  .filter((box) => !box.dataset.more || box.tabIndex !== 0
    || getComputedStyle(box, '::before').content.length < 10)
  .map((box) => box.textContent.trim().slice(0, 40))"""


def test_every_table_wider_than_a_phone_says_that_it_scrolls(
    open_page: Any, match_id: str, quiet: Callable[[Any], None]
) -> None:
    page = open_page("/matches/m1/findings", size=PHONES[1], expected="Failed to load resource")
    expect(page.locator(".scroll-x[data-more]").first).to_be_visible()
    for path in PAGES:
        page.goto(path)
        quiet(page)
        assert page.evaluate(UNSAID) == [], path
    page.goto("/matches/m1/findings")
    quiet(page)
    box = page.locator(".scroll-x[data-more]").first
    assert box.get_attribute("data-more") == "right"
    box.evaluate("(box) => { box.scrollLeft = box.scrollWidth; }")
    expect(box).to_have_attribute("data-more", "left")


def test_the_page_follows_a_dark_device_until_the_coach_chooses(open_page: Any, match_id: str) -> None:
    page = open_page("/matches/m1/findings", size=DESK, expected="Failed to load resource")
    colour = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(colour)
    assert page.locator("#theme-button").inner_text() == "Switch to dark"
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate(colour)
    assert dark != light
    assert page.locator("#theme-button").inner_text() == "Switch to light"
    with page.expect_response("**/api/settings/room"):
        page.click("#theme-button")
    page.reload()
    assert page.evaluate(colour) == light  # the choice stands on a dark device
