"""axe on every page of a library, at three sizes, in light and dark (`python -m robustness axe`).

`tests/browser/test_browser_access.py` runs a part of this on a small match at each check; this is the whole,
on a library with everything in it, such as the demo's.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from goodlength.errors import GoodlengthError
from robustness.coach_workflow.video_to_handout_benchmark import FLAGS, served

SIZES = ((1440, 900), (820, 1180), (390, 844))
SCHEMES = ("light", "dark")
NARROWEST = (360, 740)
LIBRARY_PAGES = (
    "matches", "players", "aim", "practice", "practice/drills", "practice/calendar", "search", "settings",
    "trust", "bin", "help", "help/how-to/back-up",
)  # fmt: skip
MATCH_PAGES = (
    "details", "footage", "prepare", "phone", "record", "rallies", "draft", "ball", "findings",
    "findings/parents", "findings/places", "between", "agree", "camera", "review", "show", "beside",
    "measure", "players", "body", "talk", "talk/show", "tell", "plan", "handout",
)  # fmt: skip
PLAYER_PAGES = (
    "players/{}", "players/{}/brief", "players/{}/trend", "practice/{}", "practice/{}/log",
    "practice/{}/recordings",
)  # fmt: skip
SETTLE_MS = 400


def addresses(library: Any) -> tuple[str, ...]:
    """Return the pages of a library: its own, those of its first two matches and of its first player."""
    matches = [f"matches/{info.id}/{page}" for info in library.matches()[:2] for page in MATCH_PAGES]
    players = [page.format(player.id) for player in library.players()[:1] for page in PLAYER_PAGES]
    return (*LIBRARY_PAGES, *matches, *players)


def bench_axe(folder: Path, tell: Callable[[str], None]) -> dict[str, object]:
    """Return what axe finds on a copy of a library, and which pages scroll sideways at 360 px.

    Parameters
    ----------
    folder : Path
        The library; it is copied, and stays as it is.
    tell : callable
        Called with a word about each size.
    """
    from playwright.sync_api import sync_playwright

    started, faults, wide, runs = time.monotonic(), dict[str, list[str]](), list[str](), 0
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(shutil.copytree(folder, Path(scratch) / "library"))
        with served(copy) as (address, library), sync_playwright() as playwright:
            paths = addresses(library)
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            for width, height, scheme in _settings():
                tell(f"{width} x {height}, {scheme}")
                page = browser.new_context(
                    viewport={"width": width, "height": height},
                    base_url=address,
                    color_scheme=scheme,
                    bypass_csp=True,
                ).new_page()
                for path in paths:
                    page.goto(f"/{path}")
                    page.wait_for_timeout(SETTLE_MS)
                    runs += 1
                    if found := _violations(page):
                        faults[f"{path} at {width}, {scheme}"] = found
                    if width == SIZES[-1][0] and scheme == SCHEMES[0]:
                        page.set_viewport_size({"width": NARROWEST[0], "height": NARROWEST[1]})
                        if page.evaluate("document.documentElement.scrollWidth") > NARROWEST[0]:
                            wide.append(path)
                        page.set_viewport_size({"width": width, "height": height})
                page.context.close()
            browser.close()
    took = round(time.monotonic() - started)
    return {"addresses": len(paths), "runs": runs, "faults": faults, "sideways_at_360": wide, "seconds": took}


def _settings() -> Iterator[tuple[int, int, Any]]:
    for scheme in SCHEMES:
        for width, height in SIZES:
            yield width, height, scheme


def _violations(page: Any) -> list[str]:
    """Return what axe finds on a page, one line each."""
    page.evaluate(_axe().read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [f"{item['id']}: {item['help']} at {node['target']}" for item in found for node in item["nodes"]]


def _axe() -> Path:
    """Return the script of axe, from its package; raise GoodlengthError where it is not installed."""
    package = find_spec("axe_playwright_python")
    if package is None or package.origin is None:
        raise GoodlengthError("axe is not installed. Install the development requirements, then try again.")
    return Path(package.origin).parent / "axe.min.js"
