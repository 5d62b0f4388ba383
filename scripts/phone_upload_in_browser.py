"""Send a file from the phone's page in a browser of phone size, for `bench phone`; prints the time as JSON.

    .venv/bin/python scripts/phone_upload_in_browser.py http://127.0.0.1:8000/matches/ID/phone FILE

The browser is the one of the tests (`GOODLENGTH_BROWSER`, else chromium on the path).
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import time

PHONE = {"width": 390, "height": 844}
LONGEST_MS = 3_600_000.0
ENDED = "() => ['done', 'failed', 'stopped'].includes(document.documentElement.dataset.doing)"


def send(address: str, file: str) -> dict[str, object]:
    """Return how sending ended, the page's words, how long it took, and how often the link was lost."""
    from playwright.sync_api import sync_playwright

    browser = os.environ.get("GOODLENGTH_BROWSER") or shutil.which("chromium")
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=browser)
        page = opened.new_context(viewport=PHONE, is_mobile=True, has_touch=True).new_page()
        page.goto(address)
        page.wait_for_selector('html[data-ready="phone"]')
        page.evaluate(
            """() => {
              window.lost = 0;
              let before = '';
              new MutationObserver(() => {
                const doing = document.documentElement.dataset.doing;
                if (doing === 'no network' && before !== doing) window.lost += 1;
                before = doing;
              }).observe(document.documentElement, { attributeFilter: ['data-doing'] });
            }"""
        )
        began = time.perf_counter()
        page.set_input_files("#f-video", file)
        page.wait_for_function(ENDED, timeout=LONGEST_MS)
        seconds = time.perf_counter() - began
        ended, words = page.evaluate("document.documentElement.dataset.doing"), page.inner_text("#state")
        lost = page.evaluate("window.lost")
        opened.close()
    return {"ended": ended, "words": words, "seconds": seconds, "lost": lost}


if __name__ == "__main__":
    print(json.dumps(send(sys.argv[1], sys.argv[2])))
