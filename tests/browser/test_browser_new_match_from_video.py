"""A match that begins with its video: dropped or chosen, told of what is no video, prepared by itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength.synthetic.numbered_frame_video import Recipe, draw

DROP = """
  (entries) => {
    const transfer = new DataTransfer();
    for (const { name, type, text } of entries) transfer.items.add(new File([text], name, { type }));
    document.dispatchEvent(new DragEvent('dragover', { dataTransfer: transfer, bubbles: true, cancelable: true }));
    document.dispatchEvent(new DragEvent('drop', { dataTransfer: transfer, bubbles: true, cancelable: true }));
  }
"""


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("film") / "club night.mp4", Recipe(tuple(range(50)), sound=""))


def entry(name: str, kind: str, text: str = "x") -> dict[str, str]:
    return {"name": name, "type": kind, "text": text}


def test_a_chosen_video_begins_a_match_whose_players_are_named_meanwhile(
    served: Any, open_page: Any, film: Path
) -> None:
    page = open_page("/matches", wait="matches")
    page.set_input_files("#f-video", film)
    page.fill("#n-a", "Rosa Kell")
    page.fill("#n-b", "Dana Whitmore")
    page.wait_for_url("**/prepare")
    expect(page.locator(".match .who strong")).to_have_text("Rosa Kell v Dana Whitmore")
    expect(page.locator('#queue [data-step="listen"]')).to_be_visible()
    (info,) = served.library.matches()
    assert len(served.library.footage(info.id)) == 1
    expect(page.locator("#next-step a")).to_have_text("Next: Calibrate the camera", timeout=300_000)
    page.click("text=Go on without it")
    expect(page.locator("#next-step a")).not_to_have_text("Next: Calibrate the camera")


def test_names_can_follow_when_the_video_is_there(served: Any, open_page: Any, film: Path) -> None:
    page = open_page("/matches", wait="matches")
    page.set_input_files("#f-video", film)
    page.wait_for_url("**/prepare")
    expect(page.locator("#next-step a")).to_have_text("Next: Name the players")
    page.fill("#n-a", "Rosa Kell")
    page.fill("#n-b", "Dana Whitmore")
    page.press("#n-b", "Enter")
    expect(page.locator("#names-words")).to_have_text("Saved.")
    expect(page.locator(".match .who strong")).to_have_text("Rosa Kell v Dana Whitmore")
    expect(page.locator("#next-step a")).to_have_text("Next: Calibrate the camera", timeout=300_000)


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ([entry("notes.txt", "text/plain")], "is not a video"),
        ([entry("a.mp4", "video/mp4"), entry("b.mp4", "video/mp4")], "2 files were dropped"),
        ([entry("a.mp4", "video/mp4", "")], "is empty"),
    ],
)
def test_what_is_no_single_video_is_told_and_begins_nothing(
    served: Any, open_page: Any, entries: list[dict[str, str]], words: str
) -> None:
    page = open_page("/matches", wait="matches")
    page.evaluate(DROP, entries)
    expect(page.locator("#drop-words")).to_contain_text(words)
    expect(page.locator("#drop-here")).to_be_hidden()
    assert served.library.matches() == ()


def test_a_text_under_a_videos_name_leaves_nothing_behind(served: Any, open_page: Any) -> None:
    page = open_page("/matches", wait="matches", expected="Failed to load resource")
    with page.expect_response("**/abandon"):
        page.evaluate(DROP, [entry("match.mp4", "video/mp4", "not a video " * 40)])
    expect(page.locator("#drop-words")).not_to_be_empty()
    expect(page.locator("#choose")).to_be_visible()
    assert served.library.matches() == () and served.library.players() == ()


def test_a_page_closed_half_way_finds_its_place_again(
    served: Any, open_page: Any, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.tasks.transfer import resumable_video_upload

    monkeypatch.setattr(resumable_video_upload, "ASSUMED_IDLE_S", -1.0)
    page = open_page("/matches", wait="matches", expected="Failed to load resource")
    page.route("**/piece*", lambda route: route.abort())
    page.set_input_files("#f-video", film)
    page.wait_for_selector("#video-drop[data-doing='no network']")
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto("/matches")
    page.unroute("**/piece*")
    page.click("tbody th a")
    page.click("#next-step a")
    expect(page.locator("#from-video")).to_have_text("Send the rest of the video")
    page.wait_for_selector('html[data-ready="preparation"]')
    page.set_input_files("#f-video", film)
    expect(page.locator('#queue [data-step="listen"]')).to_be_visible(timeout=60_000)
    assert len(served.library.matches()) == 1
