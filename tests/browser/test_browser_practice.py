"""From the demo's findings to a plan, a printed page, six sessions on a phone, progress and carry-over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import axe_playwright_python
import numpy as np
import pikepdf
import pytest

from goodlength import demo, tasks
from goodlength.synthetic.simulated_court_audio import TYPICAL, record_practice
from goodlength.synthetic.video_with_sound_writer import write_film

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
PHONE, TABLET, DESK = (
    {"width": 390, "height": 844},
    {"width": 820, "height": 1180},
    {"width": 1440, "height": 900},
)
PLAYER = "demo-imogen-vale"
LOB = "lob-to-the-box"
TODAY = date.today()
BEGINS = TODAY - timedelta(days=22)
HITS = (3, 8, 11, 7, 12, 14)  # of fifteen, session by session, three sets each
CUT = (2, 3)  # sessions logged without the network


@pytest.fixture
def with_demo(served: Any) -> Any:
    """The demo in the library, without its film."""
    demo.build(served.folder, footage=False)
    return served


def faults_of(page: Any) -> list[str]:
    """What axe finds, one line each."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [f"{item['id']}: {item['help']} at {node['target']}" for item in found for node in item["nodes"]]


def stored(page: Any) -> None:
    page.wait_for_selector('html[data-waiting="0"]', timeout=30_000)


def log_a_set(page: Any, hits: int, of: int) -> None:
    """One set with the big buttons, one wrong press taken back."""
    page.click("#miss")
    page.click("#back")
    for _ in range(hits):
        page.click("#hit")
    for _ in range(of - hits):
        page.click("#miss")
    assert page.inner_text(".tally") == f"{hits} of {of}"
    page.click("#done")


def log_quickly(page: Any, hits: int, of: int) -> None:
    """One set, its presses made inside the page: a hundred times quicker."""
    page.evaluate(
        """([hits, of]) => {
             for (let n = 0; n < of; n += 1) document.querySelector(n < hits ? '#hit' : '#miss').click();
           }""",
        [hits, of],
    )
    assert page.inner_text(".tally") == f"{hits} of {of}"
    page.click("#done")


def after_match(library: Any, day: date) -> None:
    """An invented match after the practice: the demo's answers once more, on another day."""
    library.save_match(replace(library.match_info("demo"), id="after", played_on=day))
    library.append(
        [
            replace(
                entry,
                id=f"after-{entry.id}",
                match="after",
                replaces=entry.replaces and f"after-{entry.replaces}",
            )
            for entry in library.entries("demo")
        ]
    )


def test_from_a_finding_to_a_plan_to_the_court_and_back(
    with_demo: Any, open_page: Any, tmp_path: Path
) -> None:
    desk = open_page(f"/matches/demo/plan?begins={BEGINS}", size=DESK)
    assert desk.locator(".set-up svg").count() == 3  # each drill is drawn
    assert "more often than" in desk.inner_text("main")
    squares = desk.locator(".tick-boxes")
    assert not squares.first.is_visible()  # squares to tick with a pen
    desk.emulate_media(media="print")
    assert squares.first.is_visible()
    desk.emulate_media(media="null")
    printed = tmp_path / "plan.pdf"
    desk.pdf(path=str(printed), format="A4")
    with pikepdf.open(printed) as pdf:
        assert len(pdf.pages) == 1
    desk.click("text=Save the plan")
    desk.wait_for_selector("text=Plan saved.")

    phone = open_page(f"/practice/{PLAYER}/log?of={LOB}", size=PHONE, wait="practice", has_touch=True)
    for session, hits in enumerate(HITS):
        day = BEGINS + timedelta(days=1 + 3 * session)
        phone.context.set_offline(session in CUT)
        phone.fill("#f-on", day.isoformat())
        phone.click("text=random (mixed)" if session >= 3 else "text=blocked (same shot)")
        for set_n in range(3):
            enter = log_a_set if set_n == 0 else log_quickly
            enter(phone, hits if set_n else max(hits - 1, 0), 15)
        if session in CUT:
            expected = f"{3 * (session - CUT[0] + 1)} sets waiting for the connection"
            phone.wait_for_function(
                "words => document.querySelector('#state').textContent.includes(words)", arg=expected
            )
        else:
            stored(phone)
    assert "All saved." in phone.inner_text("#state")
    logged = tasks.sets_of(with_demo.library, PLAYER)[LOB]
    assert [item.hits for item in logged] == [h for hits in HITS for h in (hits - 1, hits, hits)]
    assert len({item.on for item in logged}) == 6

    after_match(with_demo.library, TODAY)
    read = open_page(f"/practice/{PLAYER}", size=PHONE)
    words = read.inner_text("main")
    assert "Lobs to the taped box: better" in words
    assert "unlikely to be chance or a good day" in words
    assert "Current rate (recent balls count more)" in words
    assert "Does it show in matches?" in words
    assert "not enough data to say whether it changed" in words
    assert "regression to the mean" in words


def test_places_touched_on_the_wall_come_back_as_a_scatter(with_demo: Any, open_page: Any) -> None:
    page = open_page(f"/practice/{PLAYER}/log?of={LOB}", size=PHONE, wait="practice", has_touch=True)
    page.click("text=Mark where each ball goes")
    wall = page.locator('.surface[data-on="front-wall"] svg')
    frame = wall.bounding_box()
    page.click("#aim")
    wall.click(position={"x": frame["width"] * 0.2, "y": frame["height"] * 0.35})
    for across, up in ((0.18, 0.30), (0.22, 0.36), (0.21, 0.40), (0.25, 0.33)):
        wall.click(position={"x": frame["width"] * across, "y": frame["height"] * up})
        page.click("#hit")
    page.click("#done")
    stored(page)
    kept = tasks.sets_of(with_demo.library, PLAYER)[LOB][0]
    assert len(kept.places) == 4
    assert kept.aim == pytest.approx((1.28, 3.0), abs=0.04)  # a fifth of 6.40 m; 35 % down from 4.62 m
    assert kept.places[0][0] == pytest.approx(1.15, abs=0.04)
    read = open_page(f"/practice/{PLAYER}", size=PHONE)
    assert "On average the 4 balls were" in read.inner_text("main")


def test_target_and_ball_are_set_on_the_wall_by_keys_alone(with_demo: Any, open_page: Any) -> None:
    """Before: by pointer only."""
    page = open_page(f"/practice/{PLAYER}/log?of={LOB}", wait="practice")
    page.locator("#mark-places summary").press("Enter")
    page.locator("#aim").press("Enter")
    wall = page.locator('.surface[data-on="front-wall"]')
    for key in ("ArrowUp", "ArrowUp", "Enter", "ArrowRight", "Shift+ArrowDown"):
        wall.press(key)
    page.locator("#hit").press("Enter")
    page.locator("#done").press("Enter")
    stored(page)
    kept = tasks.sets_of(with_demo.library, PLAYER)[LOB][0]
    assert kept.aim is not None
    ((x, z),) = kept.places
    assert (round(x - kept.aim[0], 2), round(z - kept.aim[1], 2)) == (0.1, -0.01)


def test_a_recording_is_heard_and_marked_by_keys(with_demo: Any, open_page: Any, tmp_path: Path) -> None:
    samples, strikes = record_practice(np.random.default_rng(3), TYPICAL, 60.0)
    film = write_film(tmp_path / "solo.mp4", samples)
    page = open_page(f"/practice/{PLAYER}/recordings", size=TABLET)
    assert not faults_of(page)
    page.fill("#f-path", str(film))
    page.click("text=Detect the attempts")
    page.wait_for_selector(".attempts li", timeout=180_000)
    page.wait_for_selector('html[data-ready="detected-attempts"]')
    heard = page.locator(".attempts li").count()
    assert heard >= len(strikes)
    page.keyboard.press("h")
    page.keyboard.press("Backspace")  # a wrong key is taken back
    for n in range(heard):
        page.keyboard.press("x" if n >= len(strikes) else "hm"[n % 2])
    assert page.inner_text("#left") == "all marked"
    assert not faults_of(page)
    page.click("#done")
    page.wait_for_selector("text=Logged:")
    assert page.locator("#done").is_disabled()
    kept = tasks.sets_of(with_demo.library, PLAYER)[LOB]
    assert [(item.hits, item.attempts) for item in kept] == [((len(strikes) + 1) // 2, len(strikes))]


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_every_page_of_practice_fits_and_axe_finds_nothing(
    with_demo: Any, open_page: Any, quiet: Callable[[Any], None], size: dict[str, int]
) -> None:
    for n in range(6):
        tasks.log_set(
            with_demo.library,
            PLAYER,
            LOB,
            4 + n,
            15,
            on=TODAY - timedelta(days=18 - 3 * n),
            places=[[1.0 + 0.1 * n, 2.8], [1.2, 3.0], [1.4, 2.6]],
            aim=[1.2, 2.9],
        )
    page = open_page("/practice", size=size)
    for path in (
        "/practice",
        "/practice/drills",
        "/practice/calendar",
        f"/practice/{PLAYER}",
        f"/practice/{PLAYER}/log",
        f"/practice/{PLAYER}/recordings",
        "/matches/demo/plan",
    ):
        page.goto(path)
        quiet(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], path
        assert not faults_of(page), path
