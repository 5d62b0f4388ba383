"""The tour by keyboard: begun, gone through, left; axe finds nothing in it, and no page grows too wide."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from goodlength import demo
from goodlength.web.demo_tour import STEPS
from tests.browser.conftest import Served
from tests.browser.test_browser_access import faults_of, too_wide_on_a_phone


@pytest.fixture
def served(tmp_path: Path, demo_library: Path) -> Iterator[Served]:
    """The page of a library with the demo."""
    shutil.copytree(demo_library, tmp_path / "library")
    item = Served(tmp_path / "library")
    item.library.set_setting(demo.SETTING, {"version": 2, demo.COACHED: True})
    yield item
    item.stop()


def test_the_tour_by_keyboard(served: Served, open_page: Any) -> None:
    page = open_page("/matches", wait="matches")
    page.wait_for_selector('html[data-rows="filled"]')
    page.keyboard.press("Tab")  # the skip link
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.innerText") == "Start the tour"
    assert not faults_of(page)
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{STEPS[0].path}")
    tour = page.get_by_role("complementary", name="Tour")
    page.wait_for_selector('html[data-ready="footage"]')
    assert STEPS[0].words in tour.inner_text()
    assert not faults_of(page)
    assert not too_wide_on_a_phone(page)
    page.get_by_role("button", name=f"Next: {STEPS[1].name}").focus()
    page.goto("/matches/demo/findings")  # somewhere else meanwhile
    page.wait_for_selector('html[data-ready="findings"]')
    page.get_by_role("link", name=f"Back to {STEPS[0].name}").press("Enter")
    page.wait_for_url(f"**{STEPS[0].path}")
    page.wait_for_selector('html[data-ready="footage"]')
    page.get_by_role("button", name="Leave the tour").press("Enter")
    page.wait_for_url("**/matches?done=tour-over")
    page.wait_for_selector('html[data-rows="filled"]')
    assert tour.count() == 0
