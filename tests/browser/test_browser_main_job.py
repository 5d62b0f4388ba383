"""The main job on a real recording: footage in, ten rallies by keyboard, findings, a clip, the handout.

The recording shows no squash, so the spans and answers are arbitrary; what is tested is the way through.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.numbered_frame_video import Recipe, draw, read_card
from oracles.awaited_value import comes_to

# box is free at hand-out and stands as proposed; the keys of one rally, and Enter for the next
LOB_LOOSE_SERVER = "1 2 2 1 1 Enter"
HARD_TIGHT_RECEIVER = "3 1 1 2 2 Enter"
NOT_MADE = "1 5 Enter"
LET = "2 1 1 3 Enter"
FAULT = "9 Enter"
SKIPPED_KIND = "Enter 1 1 1 3 Enter"
TEN = [
    LOB_LOOSE_SERVER,
    HARD_TIGHT_RECEIVER,
    NOT_MADE,
    LET,
    SKIPPED_KIND,
    LOB_LOOSE_SERVER,
    HARD_TIGHT_RECEIVER,
    FAULT,
    NOT_MADE,
    LOB_LOOSE_SERVER,
]


@pytest.fixture
def match_id(served: Any) -> str:
    """A match with consent for clips and handouts."""
    library = served.library
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player_id)
        tasks.consent(library, player_id, given_by=name)
    return tasks.new_match(library, ("iv", "plo"), match_id="m1", start=Start(server=Side.A)).id


def press(page: Any, keys: str) -> None:
    for key in keys.split():
        page.keyboard.press(key)


NOW = "document.querySelector('video.front').currentTime"


def later(page: Any, seconds: float) -> None:
    """Wait until the video has played on, or is at its end."""
    page.wait_for_function(
        f"(until) => {NOW} >= until || document.querySelector('video.front').ended",
        arg=page.evaluate(NOW) + seconds,
    )


def forward(page: Any) -> None:
    """Press the arrow for two seconds forward in a video that stands still, and wait until it is there."""
    page.wait_for_function("() => document.querySelector('video.front').paused")
    before = page.evaluate(NOW)
    page.keyboard.press("ArrowRight")
    page.wait_for_function(
        f"(until) => {NOW} >= until && !document.querySelector('video.front').seeking", arg=before + 1.9
    )


def saved(page: Any) -> None:
    """Wait until nothing waits for the server any more."""
    page.wait_for_selector('html[data-waiting="0"]')


def test_from_a_recording_to_the_page_for_the_player(
    served: Any, open_page: Any, match_id: str, bikes: Path
) -> None:
    page = open_page(f"/matches/{match_id}/footage", wait="footage")
    page.fill("#f-path", str(bikes.resolve()))
    page.keyboard.press("Enter")
    page.wait_for_url("**/footage")
    assert "640 × 272" in page.inner_text(".files")
    assert "no sound" in page.inner_text(".files")

    page.goto(f"/matches/{match_id}/record")
    page.wait_for_selector('html[data-ready="record"]')
    page.wait_for_function("() => document.querySelector('video.front').readyState >= 2")
    page.keyboard.press("Space")
    # Slowly: on a busy machine the ten seconds of the recording were over before the tenth rally
    page.evaluate("document.querySelector('video.front').playbackRate = 0.25")
    for keys in TEN:
        later(page, 0.1)
        press(page, keys)
    page.keyboard.press("Space")
    saved(page)
    match = tasks.show_match(served.library, match_id)
    done = [rally for rally in match.rallies if rally.complete]
    assert len(done) == 10
    assert [rally.serve.kind for rally in done] == [
        "lob",
        "hard",
        "lob",
        "mid-height",
        None,
        "lob",
        "hard",
        None,
        "lob",
        "lob",
    ]
    assert [rally.let for rally in done].count(True) == 1
    assert "serve.kind" in done[4].skipped
    assert all(rally.start_us is not None and rally.end_us is not None for rally in done)
    assert all(rally.span_how == "answers" for rally in done)
    assert not match.faults, [fault.words for fault in match.faults]
    assert page.locator("#grid [data-rally]").count() >= 10

    clip_of(page, match_id)
    page.goto(f"/matches/{match_id}/findings")
    assert "rallies logged" in page.inner_text(".head")
    assert page.locator(".serves tbody tr").count() >= 2
    assert "Not enough data" in page.content()
    handout_of(page, match_id)


def clip_of(page: Any, match_id: str) -> None:
    """Cut the longest rally out and play the file: a frame must really arrive."""
    page.goto(f"/matches/{match_id}/show")
    page.wait_for_selector('html[data-ready="show"]')
    page.click("text=Make a clip >> nth=0")
    page.wait_for_url(re.compile("made=1"))
    link = page.locator(".made a[download]").first
    link.wait_for(timeout=180_000)
    with page.expect_download() as download:
        link.click()
    assert Path(download.value.path()).read_bytes()[4:8] == b"ftyp"
    address = link.get_attribute("href")
    bright = page.evaluate(
        """async (address) => {
             const video = document.createElement('video');
             video.muted = true;
             video.src = address;
             await new Promise((done, failed) => { video.onloadeddata = done; video.onerror = failed; });
             video.currentTime = Math.min(0.2, video.duration / 2);
             await new Promise((done) => { video.onseeked = done; });
             const canvas = document.createElement('canvas');
             canvas.width = video.videoWidth;
             canvas.height = video.videoHeight;
             const pen = canvas.getContext('2d');
             pen.drawImage(video, 0, 0);
             const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
             const seen = new Set();
             for (let i = 0; i < data.length; i += 4) seen.add((data[i] >> 4) * 256 + (data[i + 1] >> 4) * 16 + (data[i + 2] >> 4));
             return { colours: seen.size, width: canvas.width };
           }""",
        address,
    )
    assert bright["width"] == 640
    assert bright["colours"] > 50  # a picture, not one flat colour


def handout_of(page: Any, match_id: str) -> None:
    page.goto(f"/matches/{match_id}/handout")
    page.fill("#f-own", "Well served.\n\nLob more from the left box.")
    page.click("text=Create the handout")
    page.wait_for_url(re.compile("made=1"), timeout=30_000)
    for name, beginning in (("as PDF", b"%PDF-"), ("as a web page", b"<!doctype html>")):
        with page.expect_download() as download:
            page.click(f"text=Handout {name}")
        data = Path(download.value.path()).read_bytes()
        assert data[: len(beginning)].lower() == beginning.lower()


def test_keys_undo_note_keep_otherwise_and_spans(
    served: Any, open_page: Any, match_id: str, bikes: Path
) -> None:
    tasks.add_footage(served.library, match_id, bikes)
    page = open_page(f"/matches/{match_id}/record", wait="record")
    press(page, "1 2 2")
    assert "Who won the rally?" in page.inner_text("#card")
    press(page, "Backspace Backspace")
    assert "How did Petra return it?" in page.inner_text("#card")
    press(page, "1 3 1 1")
    page.wait_for_selector(".call:not(.waits)")
    assert page.inner_text(".call") == "“1–love.”"

    press(page, "c 3 2")  # stroke, to Petra
    page.wait_for_function("() => document.querySelector('.call').textContent.includes('Stroke to Petra')")
    press(page, "n")
    page.keyboard.type("late on the volley, 1 and 2")
    page.keyboard.press("Enter")
    press(page, "k Enter")
    page.keyboard.press("b")
    assert "left box" in page.inner_text(".rally-sentence")
    press(page, "2 1 1 2 1 Enter")
    saved(page)
    first, second = tasks.show_match(served.library, match_id).rallies[:2]
    assert (first.winner, first.note, first.keep) == (Side.B, "late on the volley, 1 and 2", True)
    assert (first.ret.how, first.ret.left) == ("volleyed", "attacked")
    assert second.box == "left"
    assert second.server is Side.B

    press(page, "g ArrowUp ArrowUp")
    page.keyboard.press("Enter")
    assert "Imogen served" in page.inner_text(".rally-sentence")
    page.wait_for_function("() => !document.querySelector('video.front').paused")  # pressing a line plays it
    page.keyboard.press("Space")
    forward(page)
    page.keyboard.press(",")
    forward(page)
    page.keyboard.press(".")
    saved(page)
    span = tasks.show_match(served.library, match_id).rallies[0]
    assert span.span_how == "marked"
    assert abs(span.end_us - span.start_us - 2_000_000) < 60_000

    page.keyboard.press("c")
    page.keyboard.press("4")  # the score put right
    page.fill("#put-a", "3")
    page.fill("#put-b", "4")
    page.click("text=Correct the score")
    saved(page)
    assert tasks.show_match(served.library, match_id).rallies[1].before == (3, 4)

    page.keyboard.press("?")
    assert page.locator("dialog[open] li").count() >= 20
    page.keyboard.press("Escape")
    page.keyboard.press("d")
    assert page.evaluate("document.documentElement.dataset.theme") == "dim"
    assert 'data-theme="dim"' in page.request.get("/settings").text()


LUMA = """() => {
  const video = document.querySelector('video.front');
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
  const pen = canvas.getContext('2d');
  pen.drawImage(video, 0, 0);
  const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
  return [canvas.height, canvas.width, Array.from({ length: data.length / 4 }, (_, i) => data[4 * i])];
}"""


def number_shown(page: Any) -> int | None:
    """The number drawn into the picture that the page shows."""
    page.wait_for_function("() => !document.querySelector('video.front').seeking")
    # the picture follows the seek by a frame or two of the screen
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    height, width, luma = page.evaluate(LUMA)
    return read_card(np.array(luma, np.uint8).reshape(height, width))


def test_frames_step_by_the_table_and_show_the_right_picture(
    served: Any, open_page: Any, match_id: str, tmp_path: Path
) -> None:
    """A film with uneven stamps and its number drawn into each picture.

    With pictures out of order in the file too, browsers leave some out: such a film needs a copy, see
    `needs_proxy`.
    """
    stamps = [n + n // 5 for n in range(60)]  # every sixth tick is missing
    film = draw(tmp_path / "numbered.mp4", Recipe(tuple(stamps), key_every=15, sound="", b_frames=0))
    tasks.add_footage(served.library, match_id, film)
    page = open_page(f"/matches/{match_id}/record", wait="record")
    page.wait_for_function("() => document.querySelector('video.front').readyState >= 2")
    seen = []
    wanted = [*range(1, 21), *range(19, 11, -1)]
    for key, number in zip("]" * 20 + "[" * 8, wanted, strict=True):
        before = page.evaluate(NOW)
        page.keyboard.press(key)
        page.wait_for_function(
            "(was) => document.querySelector('video.front').currentTime !== was", arg=before
        )
        seen.append(comes_to(lambda: number_shown(page), number))
    assert seen == wanted


def test_rallies_only_plays_from_rally_to_rally(
    served: Any, open_page: Any, match_id: str, bikes: Path
) -> None:
    library = served.library
    tasks.add_footage(library, match_id, bikes)
    from goodlength.record.model import EntryKind

    for key, start, end in (("r1", 1_000_000, 1_800_000), ("r2", 6_000_000, 6_800_000)):
        tasks.answer(
            library, match_id, key, EntryKind.SPAN, {"start_us": start, "end_us": end, "how": "marked"}
        )
        tasks.answer(library, match_id, key, EntryKind.WINNER, "a")
    page = open_page(f"/matches/{match_id}/record", wait="record")
    page.wait_for_function("() => document.querySelector('video.front').readyState >= 2")
    page.keyboard.press("p")
    seen = []
    for _ in range(400):  # three seconds on a quiet machine
        seen.append(page.evaluate(NOW))
        page.wait_for_timeout(50)
        if page.evaluate("document.querySelector('video.front').paused") and seen[-1] > 6.5:
            break
    assert any(6.0 <= t < 6.9 for t in seen), seen
    dead = [t for t in seen if 2.1 < t < 5.9]
    assert not dead, dead


def test_a_phone_film_is_copied_in_and_plays_once_its_copy_is_there(
    served: Any, open_page: Any, match_id: str, tmp_path: Path
) -> None:
    """Pictures that browsers do not play (HEVC); recording begins before the copy is there."""
    film = draw(tmp_path / "phöne 12:30.mp4", Recipe(tuple(range(90)), codec="libx265", sound=""))
    page = open_page(f"/matches/{match_id}/footage", wait="footage", expected="Failed to load resource")
    page.set_input_files("#f-upload", film)
    page.click("#upload button[type=submit]")
    page.wait_for_selector(".files")
    assert "browsers do not play its video format (HEVC)" in page.inner_text(".files")
    page.goto(f"/matches/{match_id}/record")
    page.wait_for_selector('html[data-ready="record"]')
    press(page, "1")
    page.wait_for_function(
        # the page loads itself anew when the copy is there: for a moment there is no video
        "() => document.querySelector('video.front')?.src.endsWith('of=copy')"
        " && document.querySelector('video.front').readyState >= 2",
        timeout=180_000,
    )
    page.wait_for_selector('html[data-ready="record"]')
    assert "How did Petra return it?" in page.inner_text("#card")
    page.keyboard.press("]")
    page.wait_for_function("() => document.querySelector('video.front')?.currentTime > 0")
    page.wait_for_function("() => document.querySelector('video.front').readyState >= 2")
    assert comes_to(lambda: number_shown(page), 1) == 1
