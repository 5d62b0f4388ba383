"""A phone sends a video over a link that is cut: locked, offline, the page closed, the server started anew."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.bench.phone_upload_over_broken_link import bench_phone
from goodlength.footage.media.video_probe import fingerprint
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.transfer.video_transfer_state_file import PIECE_BYTES

PHONE = {"width": 390, "height": 844}
REFUSED = "Failed to load resource"  # a refusal that the page tells in words
SCRIPTS = "/static/js/lib/server"


@pytest.fixture
def match_id(served: Any) -> str:
    library = served.library
    tasks.add_player(library, "Imogen Vale", player_id="iv")
    tasks.add_player(library, "Petra Lindqvist-Ode", player_id="plo")
    return tasks.new_match(library, ("iv", "plo"), match_id="m1").id


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """A video that plays, of five pieces and a half: a box of random bytes that players skip makes it so long."""
    path = draw(tmp_path / "IMG_0031.mp4", Recipe(tuple(range(30)), sound=""))
    left = 5 * PIECE_BYTES + 2_000_000 - path.stat().st_size
    with path.open("ab") as file:
        file.write(struct.pack(">I4s", left, b"free") + np.random.default_rng(31).bytes(left - 8))
    return path


def doing(page: Any, *states: str) -> None:
    page.wait_for_function(
        "(states) => states.includes(document.documentElement.dataset.doing)",
        arg=list(states),
        timeout=180_000,
    )


def choose(page: Any, film: Path) -> None:
    page.set_input_files("#f-video", film)


def test_a_video_arrives_whole_over_a_link_that_is_cut(
    served: Any, open_page: Any, match_id: str, film: Path
) -> None:
    laptop = open_page(f"/matches/{match_id}/footage")
    page = open_page(f"/matches/{match_id}/phone", size=PHONE, wait="phone", is_mobile=True, has_touch=True)
    cut: list[str] = []

    def drop(route: Any) -> None:
        """The second piece arrives and its answer is lost; the third never arrives; then all of it is offline."""
        cut.append(route.request.url)
        if len(cut) == 2:
            route.fetch()
            route.abort()
        elif len(cut) == 4:
            route.abort()
        elif len(cut) == 6:
            page.context.set_offline(True)
            route.abort()
        else:
            route.continue_()

    page.route("**/piece?*", drop)
    choose(page, film)
    doing(page, "no network")
    page.wait_for_function("() => navigator.onLine === false", timeout=180_000)
    expect(page.locator("#state")).to_contain_text("Sending continues by itself")
    expect(laptop.locator("#transfers progress")).to_be_visible()
    page.context.set_offline(False)
    doing(page, "done")
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    expect(page.locator("#state")).to_contain_text("The original is still on this phone")
    (added,) = served.library.footage(match_id)
    assert (
        hashlib.sha256(added.where.read_bytes()).hexdigest() == hashlib.sha256(film.read_bytes()).hexdigest()
    )
    expect(laptop.locator("#transfers")).to_contain_text("Received, checked and added")
    assert len(cut) > 6


def test_a_closed_page_and_a_restart_lose_nothing(
    served: Any, open_page: Any, match_id: str, film: Path
) -> None:
    page = open_page(f"/matches/{match_id}/phone", size=PHONE, wait="phone")
    count: list[str] = []

    def stop_after_three(route: Any) -> None:
        count.append(route.request.url)
        if len(count) > 3:
            route.abort()
        else:
            route.continue_()

    page.route("**/piece?*", stop_after_three)
    choose(page, film)
    doing(page, "no network")
    page.close(run_before_unload=False)
    served.stop()
    served.start()
    again = open_page(f"/matches/{match_id}/phone", size=PHONE, wait="phone", expected=REFUSED)
    sent: list[str] = []
    again.on("request", lambda request: sent.append(request.url) if "/piece?" in request.url else None)
    choose(again, film)
    doing(again, "done")
    assert len(sent) == 3
    (added,) = served.library.footage(match_id)
    assert added.where.read_bytes() == film.read_bytes()
    again.click("#another")
    choose(again, film)
    doing(again, "failed")
    expect(again.locator("#state")).to_have_text(
        "This video is already in this match. It was not stored twice."
    )
    assert len(served.library.footage(match_id)) == 1


def test_the_coach_stops_it_on_either_screen(served: Any, open_page: Any, match_id: str, film: Path) -> None:
    page = open_page(f"/matches/{match_id}/phone", size=PHONE, wait="phone", expected=REFUSED)
    page.route("**/piece?*", lambda route: route.abort())
    choose(page, film)
    doing(page, "no network")
    laptop = open_page(f"/matches/{match_id}/footage")
    laptop.click("#transfers button")
    expect(laptop.locator("#transfers li")).to_have_count(0)
    doing(page, "failed")
    expect(page.locator("#state")).to_contain_text("no longer being received")
    page.click("#another")
    choose(page, film)
    doing(page, "no network")
    page.click("#stop")
    doing(page, "stopped")
    laptop.wait_for_timeout(300)
    assert laptop.evaluate(f"fetch('/api/matches/{match_id}/transfers').then((a) => a.json())") == {
        "transfers": []
    }


def test_the_phone_works_out_the_same_hashes(open_page: Any, match_id: str, film: Path) -> None:
    page = open_page(f"/matches/{match_id}/phone", size=PHONE, wait="phone")
    data = film.read_bytes()
    for length in (0, 1, 55, 56, 63, 64, 65, 100_000):
        got = page.evaluate(
            f"""async (bytes) => (await import('{SCRIPTS}/sha256.js')).sha256(new Uint8Array(bytes))""",
            list(data[:length]),
        )
        assert got == hashlib.sha256(data[:length]).hexdigest(), length
    page.evaluate(
        "document.querySelector('#f-video').addEventListener('change', (e) => e.stopImmediatePropagation(), true)"
    )
    choose(page, film)
    mark = page.evaluate(
        f"""async () => (await import('{SCRIPTS}/video-transfer.js')).fingerprint(document.querySelector('#f-video').files[0])"""
    )
    assert mark == fingerprint(film)


def test_the_benchmark_sends_over_a_link_that_is_cut() -> None:
    figures = bench_phone(gigabytes=0.03, cuts=1)
    assert (figures.hash_equal, figures.files_stored) == (True, 1)
    assert figures.lost >= 1
