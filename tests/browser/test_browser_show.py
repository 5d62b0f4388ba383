"""The Show page in a browser: filter by answer, highlights in the coach's order, pictures of rallies."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.playback import save_drawing
from goodlength.tasks.sharing.video_session_playlist import review_list

PAGE = "/matches/m1/show"
SECOND = 1_000_000


@pytest.fixture
def rallies(served: Any, tmp_path: Path) -> Any:
    """Four rallies with a time in twelve seconds of film."""
    library = served.library
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player_id)
        tasks.consent(library, player_id, given_by=name)
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    tasks.add_footage(
        library, "m1", draw(tmp_path / "film.mp4", Recipe(tuple(range(360)), key_every=30, sound=""))
    )
    for n, winner in enumerate("abba", 1):
        span = {"start_us": 3 * n * SECOND - 2 * SECOND, "end_us": 3 * n * SECOND - SECOND, "how": "marked"}
        tasks.answer(library, "m1", f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, "m1", f"r{n}", EntryKind.WINNER, winner)
        tasks.answer(library, "m1", f"r{n}", EntryKind.KIND, "lob" if n % 2 else "hard")
    return library


def test_rallies_are_filtered_by_their_answers_and_played(open_page: Any, rallies: Any) -> None:
    page = open_page(PAGE, wait="show")
    shown = page.locator("#rallies tr:visible")
    expect(shown).to_have_count(4)
    page.get_by_label("Won by").select_option("Petra")
    expect(page.locator("#clip-count")).to_have_text("2 of 4 rallies")
    page.get_by_label("Serve", exact=True).select_option("Hard")
    expect(shown).to_have_count(1)
    page.get_by_role("button", name="Play the rally").click()
    page.wait_for_function("() => !document.querySelector('video.front').paused")
    page.wait_for_function("() => document.querySelector('video.front').paused", timeout=30_000)
    assert 4.0 <= page.evaluate("document.querySelector('video.front').currentTime") < 6.0  # r2 alone


def test_highlights_are_put_in_order_by_dragging_and_by_keys(
    open_page: Any, served: Any, rallies: Any
) -> None:
    page = open_page(PAGE, wait="show")
    for n in (0, 1, 3):
        page.locator("#rallies input[type=checkbox]").nth(n).check()
    keys = "[...document.querySelectorAll('#reel li')].map((one) => one.dataset.key)"
    assert page.evaluate(keys) == ["r1", "r2", "r4"]
    page.locator("#reel").scroll_into_view_if_needed()
    first, last = (page.locator("#reel .grip").nth(n).bounding_box() for n in (0, 2))
    page.mouse.move(last["x"] + 20, last["y"] + 20)
    page.mouse.down()
    page.mouse.move(first["x"] + 10, first["y"] + 20, steps=8)
    page.mouse.up()
    assert page.evaluate(keys) == ["r4", "r1", "r2"]
    page.locator("#reel .grip").nth(0).focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(keys) == ["r1", "r4", "r2"]
    assert page.evaluate("document.activeElement.closest('li').dataset.key") == "r4"
    page.locator("#rallies tr").nth(2).locator("td").nth(1).drag_to(page.locator("#reel ol"))
    assert page.evaluate(keys) == ["r1", "r4", "r2", "r3"]
    page.locator("#reel li").nth(2).get_by_role("button", name="Remove").click()
    assert page.evaluate(keys) == ["r1", "r4", "r3"]
    page.get_by_role("button", name="Highlights").click()
    page.wait_for_url("**/show?made=1*")
    jobs = served.server.config.app.state.jobs
    (reel,) = [job for job in jobs.states() if job.kind == "reel"]
    starts = [piece["from_us"] for piece in reel.args["pieces"]]
    assert [round(us / SECOND) for us in starts] == [0, 9, 6]  # a second before r1, r4, r3


def test_rows_have_pictures_once_they_are_made(open_page: Any, rallies: Any) -> None:
    page = open_page(PAGE, wait="show")
    expect(page.locator("#rallies i[data-ready]")).to_have_count(4, timeout=180_000)
    picture = page.locator("#rallies i[data-ready]").first
    assert "previews/0" in picture.evaluate("(one) => one.style.backgroundImage")


@pytest.mark.parametrize("width", [390, 360])
def test_nothing_scrolls_sideways_on_a_phone(open_page: Any, rallies: Any, width: int) -> None:
    page = open_page(PAGE, size={"width": width, "height": 740}, wait="show", has_touch=True, is_mobile=True)
    page.locator("#rallies input[type=checkbox]").nth(0).check()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_clips_for_the_player_are_put_in_order_and_shown_in_the_player(
    open_page: Any, served: Any, rallies: Any
) -> None:
    page = open_page("/matches/m1/talk?rally=r1&rally=r2&rally=r4", wait="review-list")
    order = (
        "[...document.querySelectorAll('#review-list li')].map((one) => one.querySelector('select').value)"
    )
    page.get_by_label("Cue of clip 2").fill("Higher")
    grips = page.locator("#review-list .grip")
    grips.nth(1).focus()
    page.keyboard.press("ArrowUp")
    assert page.evaluate(order) == ["r2", "r1", "r4", "", ""]
    start, end = grips.nth(2).bounding_box(), grips.nth(0).bounding_box()
    page.mouse.move(start["x"] + 40, start["y"] + 20)
    page.mouse.down()
    page.mouse.move(end["x"] + 40, end["y"] + 10, steps=6)
    page.mouse.up()
    assert page.evaluate(order) == ["r4", "r2", "r1", "", ""]
    page.click("#review-list li:nth-child(4) .pick")  # chosen by its picture, and taken back
    page.click("#pick-rally .pick-list button[value='r3']")
    expect(page.locator("#pick-rally")).to_be_hidden()
    assert page.evaluate(order) == ["r4", "r2", "r1", "r3", ""]
    page.click("#review-list li:nth-child(4) .pick")
    expect(page.locator("#pick-rally [aria-pressed='true']")).to_have_attribute("value", "r3")
    page.click("#pick-none")
    assert page.evaluate(order) == ["r4", "r2", "r1", "", ""]
    for n in range(25):  # on every frame where the first clip may stop
        piece = {"id": f"d{n}", "at_us": 10_900_000 + n * 33_333, "kind": "text", "points": [[0.3, 0.3]]}
        save_drawing(tasks.open_match(served.library, "m1"), {**piece, "text": "High: nobody volleys it"})
    page.get_by_role("button", name="Save and show").click()
    page.wait_for_selector('html[data-ready="video-review"]')
    items = review_list(tasks.open_match(served.library, "m1")).items
    assert [(item.rally, item.cue) for item in items] == [("r4", ""), ("r2", "Higher"), ("r1", "")]
    page.wait_for_function("() => document.querySelector('video.front').paused", timeout=8000)
    assert 10.9 <= page.evaluate("document.querySelector('video.front').currentTime") < 11.6  # r4 alone
    page.wait_for_timeout(300)
    drawn = page.locator("svg.drawing text")
    expect(drawn).to_have_count(0)  # nor any line of the coach, before the cue is asked for
    page.keyboard.press("Enter")
    expect(drawn.first).to_have_text("High: nobody volleys it")
    expect(page.locator("#ask")).to_have_text("Keep this.")
    expect(page.locator("#cue")).to_be_hidden()  # no cue was written
    page.keyboard.press("Enter")
    expect(page.locator("#which")).to_have_text("Clip 2 of 3")
