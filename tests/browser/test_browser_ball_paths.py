"""The ball's path in a browser: shot by shot, taken in hand, corrected by keys and by a click on the ball."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.files.library_layout import followed_ball_file
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.ball import ball_following_and_corrections, ball_following_inputs
from tests.oracles.followed_shots import SOURCES, made_match, made_rally, unchanged_inputs


@pytest.fixture
def followed(served: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A match in whose ten seconds of video one rally was followed."""
    library = served.library
    for player in ("Imogen Vale", "Petra Lindqvist-Ode"):
        tasks.add_player(library, player, player_id=player[:3])
    tasks.new_match(library, ("Imo", "Pet"), match_id="m1")
    video = draw(tmp_path / "court.mp4", Recipe(tuple(range(300)), sound=""))
    item = tasks.add_footage(library, "m1", video)
    rally = made_rally(footage=item.id)
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([rally]))
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", rally))


def test_a_path_is_looked_at_taken_in_hand_and_corrected(
    open_page: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[Any, ...]] = []

    def marked(opened: Any, key: str, at_us: int, x: float, y: float, _version: int) -> Any:
        asked.append((key, at_us, round(x, 2), round(y, 2)))
        return ball_following_and_corrections.rally_drawing(opened, key)

    monkeypatch.setattr("goodlength.web.routes.footage.ball_paths.mark_ball", marked)
    page = open_page("/matches/m1/ball", wait="paths")
    words, state = page.locator("#words"), page.locator("#state")
    expect(words).to_contain_text("1 racket, 2 front wall, 3 floor. Path 1 of 2; sure, 93%")
    expect(page.locator("#court .ring")).to_have_count(2)
    page.keyboard.press("n")  # not in hand: nothing is changed
    expect(state).to_contain_text("Press P first")
    page.keyboard.press("p")
    expect(state).to_contain_text("Path in hand")
    page.keyboard.press("n")
    expect(words).to_contain_text("1 racket, 2 left wall, 3 floor. Path 1 of 2; unsure, 4%; corrected by you")
    box = page.locator(".over-picture").bounding_box()
    page.mouse.click(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    expect(state).to_contain_text("Marked.")
    assert [(key, x, y) for key, _, x, y in asked] == [("h:m1", 0.25, 0.5)]
    assert page.evaluate("document.querySelector('video.front').paused")
    page.keyboard.press("Escape")
    page.keyboard.press(".")
    expect(words).to_contain_text("The ball was lost.")
    expect(page.locator("#rows tr.now th")).to_have_text("2")


def test_what_is_out_of_date_says_so_and_is_followed_again_with_one_press(
    open_page: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    inputs_now = ball_following_inputs.inputs_now
    moved = replace(SOURCES, camera="moved")
    key = "h:m1"

    def now(opened: Any, keys: Any) -> Any:
        return {k: (inputs, moved) for k, (inputs, _) in inputs_now(opened, keys).items()}

    monkeypatch.setattr(ball_following_inputs, "inputs_now", now)
    asked: list[tuple[str, int]] = []

    def again(opened: Any, key: str, version: int) -> Any:
        asked.append((key, version))
        monkeypatch.setattr(ball_following_inputs, "inputs_now", inputs_now)
        return ball_following_and_corrections.rally_drawing(opened, key)

    monkeypatch.setattr("goodlength.web.routes.footage.ball_paths.follow_rally_again", again)
    page = open_page("/matches/m1/ball", wait="paths")
    stale = page.locator("#stale")
    expect(stale).to_contain_text("the camera’s calibration changed")
    expect(page.locator("#words")).to_contain_text("unsure")
    page.get_by_role("button", name="Follow this rally again").click()
    expect(page.locator("#state")).to_contain_text("Followed again.")
    expect(stale).to_be_hidden()
    expect(page.locator("#words")).to_contain_text("sure, 93%")
    assert asked == [(key, 0)]


def test_on_a_phone_a_measured_serve_keeps_its_best_value_and_its_range(
    open_page: Any, followed: None
) -> None:
    page = open_page("/matches/m1/ball", wait="paths")
    page.set_viewport_size({"width": 390, "height": 844})
    page.locator("#serve-measured summary").click()
    first = page.locator("#serve-lines tr").first
    expect(first.locator("td").first).to_have_text("144 km/h")
    expect(first.locator("td").first).to_be_visible()
    expect(first.locator("td").last).to_have_text("140 to 148")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    table, card = page.locator("#serve-measured table").bounding_box(), page.locator("#paths").bounding_box()
    assert table["x"] + table["width"] <= card["x"] + card["width"]
    page.locator("h1").click()
    page.keyboard.press(".")
    expect(page.locator("#serve-measured")).to_be_hidden()
