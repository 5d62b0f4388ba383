"""From a recording to a drafted sheet by keys: heard, looked through, drafted, written."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from goodlength import tasks
from goodlength.files.library_layout import rally_files
from goodlength.record.model import Depth
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.synthetic.simulated_court_audio import TYPICAL, record
from goodlength.synthetic.video_with_sound_writer import write_film

CALM = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)
MATCH = "/matches/m1"


def test_rallies_are_heard_looked_through_and_drafted_by_keys(
    served: Any, open_page: Any, tmp_path: Path
) -> None:
    library = served.library
    for player in ("Imogen Vale", "Petra Lindqvist-Ode"):
        tasks.add_player(library, player, player_id=player[:3])
    tasks.new_match(library, ("Imo", "Pet"), match_id="m1")
    made = record(np.random.default_rng(4), CALM, 90.0)
    tasks.add_footage(library, "m1", write_film(tmp_path / "court.mp4", made.samples))

    page = open_page(f"{MATCH}/footage", wait="footage")
    page.get_by_role("button", name="Detect the rallies").click()
    page.get_by_role("link", name="Check the rallies").click(timeout=180_000)
    page.wait_for_selector('html[data-ready="rallies"]')
    rows = page.locator("#rows tr")
    sure = [
        item for item in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies if not item.doubtful
    ]
    assert len(sure) == len(made.truth.rallies) >= 2

    # Who serves: Imogen from the right, then Petra from left and right in turn, and no rally where the hits
    # were doubtful
    keys = {item.id: "1" if n == 0 else "34"[n % 2] for n, item in enumerate(sure)}
    for rally in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies:
        before = rows.filter(has_text="box").count() + rows.filter(has_text="not a rally").count()
        page.keyboard.press(keys.get(rally.id, "6"))
        page.wait_for_function(
            "(n) => [...document.querySelectorAll('#rows tr')].filter("
            "(row) => /box|no rally/.test(row.textContent)).length > n",
            arg=before,
        )
    heard = tasks.listed_rallies(tasks.open_match(library, "m1")).played
    assert [item.seen for item in heard[:2]] == ["a-right", "b-left"]
    assert library.entries("m1") == ()

    # The end moved by a key: a second before it
    page.locator("#rows tr").first.get_by_role("button").click()
    page.keyboard.press("Space")
    page.evaluate("document.querySelector('video.front').pause()")
    page.evaluate(
        "(s) => { document.querySelector('video.front').currentTime = s; }", heard[0].end_us / 1e6 - 1.0
    )
    page.wait_for_function("() => !document.querySelector('video.front').seeking")
    page.keyboard.press(".")
    page.wait_for_selector("#state:has-text('It ends at')")
    assert (
        abs(
            tasks.listed_rallies(tasks.open_match(library, "m1")).played[0].end_us
            - (heard[0].end_us - 1_000_000)
        )
        < 1000
    )

    page.get_by_role("link", name="Draft the score sheet").click()
    page.wait_for_selector('html[data-ready="draft"]')
    assert "Petra" in page.locator("#rows tr").first.inner_text()
    page.keyboard.press("2")
    page.wait_for_selector("#rows tr:has-text('set by you')")
    page.keyboard.press("w")
    page.wait_for_selector("h1:has-text('The draft is on the sheet')")
    match = tasks.show_match(library, "m1")
    assert match.faults == () and match.rallies[0].winner.value == "b"  # type: ignore[union-attr]


def test_without_a_court_each_rally_is_watched_once_on_record(
    served: Any, open_page: Any, tmp_path: Path
) -> None:
    """Next leads from the skipped court to Record; what is no rally is deleted there, before any answer."""
    library = served.library
    for player in ("Imogen Vale", "Petra Lindqvist-Ode"):
        tasks.add_player(library, player, player_id=player[:3])
    tasks.new_match(library, ("Imo", "Pet"), match_id="m1", depth=Depth.SCORE)
    film = draw(tmp_path / "one.mp4", Recipe(tuple(range(300)), sound=""))
    item = tasks.add_footage(library, "m1", film)
    place = {"id": item.id, "path": str(film), "starts_us": 0, "first_us": item.first_us}
    spans = [(1_000_000, 2_500_000), (4_000_000, 5_500_000), (7_000_000, 8_500_000)]
    rallies = [
        {"start_us": start, "end_us": end, "hits_us": [start], "doubtful": n == 1, "why": "faint hits"}
        for n, (start, end) in enumerate(spans)
    ]
    path = rally_files(library.folder, "m1")[0]
    path.parent.mkdir(exist_ok=True)
    path.write_text(
        json.dumps({"films": [{**place, "end_us": item.end_us}], "rallies": rallies, "by": "sound"})
    )

    page = open_page(f"{MATCH}/footage", wait="footage")
    page.click("text=Next: Log 3 rallies")
    page.wait_for_selector('html[data-ready="record"]')
    page.keyboard.press("w")
    for key, words in (("1", "Who won"), ("1", "Doubtful: it may be no rally."), ("x", ""), ("2", "")):
        page.wait_for_selector('html[data-waiting="0"]')
        page.keyboard.press(key)
        page.wait_for_selector('html[data-waiting="0"]')
        assert words in page.inner_text("#card"), page.inner_text("#card")
        page.wait_for_timeout(200)
    found = tasks.show_match(library, "m1").rallies
    assert [(rally.start_us, rally.winner) for rally in found] == [(spans[0][0], "a"), (spans[2][0], "b")]
    page.goto(f"{MATCH}/footage")
    assert "Log 3" not in page.inner_text("#next-step")
    assert "Log 1" not in page.inner_text("#next-step")
