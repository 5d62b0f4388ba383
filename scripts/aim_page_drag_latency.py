"""Drag the target of the Aim page in a browser, and print how soon new figures come: for `bench limits`.

    .venv/bin/python scripts/aim_page_drag_latency.py http://127.0.0.1:8000

The browser is the one of the tests (`GOODLENGTH_BROWSER`, else chromium on the path).
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import sys
from collections.abc import Mapping

MOVES, EVERY_MS = 80, 40
WATCH = """() => {
  const court = document.querySelector('#court');
  window.moves = []; window.figures = [];
  court.addEventListener('pointermove', () => window.moves.push(performance.now()), true);
  const out = document.querySelector('[data-part="out"]');
  new MutationObserver(() => window.figures.push(performance.now())).observe(out, { childList: true });
}"""


def drag(address: str) -> dict[str, float]:
    """Return redraws a second and the time from a move of the pointer to the next new figures, ms."""
    from playwright.sync_api import sync_playwright

    browser = os.environ.get("GOODLENGTH_BROWSER") or shutil.which("chromium")
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=browser)
        page = opened.new_page(viewport={"width": 1440, "height": 900})
        page.goto(f"{address}/aim?kind=lob&box=right")
        page.wait_for_selector("#map:not(.waits) svg", timeout=60_000)
        page.evaluate(WATCH)
        court = page.locator("#court svg").bounding_box()  # once: the drawing is put anew all the time
        page.mouse.move(*on_wall(court, 3.3, 4.0))
        page.mouse.down()
        for step in range(MOVES):
            page.mouse.move(*on_wall(court, 3.3 - 0.01 * (step % 45), 4.0 - 0.01 * (step % 31)))
            page.wait_for_timeout(EVERY_MS)
        page.mouse.up()
        page.wait_for_selector("#answer:not(.waits)", timeout=60_000)
        moves, figures = page.evaluate("window.moves"), page.evaluate("window.figures")
        opened.close()
    waits = [min(at - move for at in figures if at > move) for move in moves if figures[-1] > move]
    seconds = (moves[-1] - moves[0]) / 1e3
    return {
        "moves": len(moves),
        "redraws_per_s": sum(moves[0] < at <= moves[-1] for at in figures) / seconds,
        "median_ms": statistics.median(waits),
        "p95_ms": statistics.quantiles(waits, n=20)[-1],
    }


def on_wall(court: Mapping[str, float], across_m: float, up_m: float) -> tuple[float, float]:
    """Where a place of the front wall lies on the page."""
    x = court["x"] + (across_m * 1000 + 5100) / 16560 * court["width"]
    return x, court["y"] + (5560 - up_m * 1000) / 18640 * court["height"]


if __name__ == "__main__":
    print(json.dumps(drag(sys.argv[1])))
