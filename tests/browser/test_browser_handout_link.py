"""The player's link on a phone: the handout as it was made, with its style, letters and drawings."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from goodlength import demo, tasks

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def address(served: Any) -> str:
    """Where the player finds the demo's handout."""
    served.stop()
    demo.build(served.folder, footage=False)
    served.start()
    tasks.make_handout(tasks.open_match(served.library, "demo"), Path(served.folder) / "handouts")
    return f"/handed/{tasks.make_link(served.library, 'demo').token}"


def test_the_handout_by_its_link_has_its_style_letters_and_drawings(address: str, open_page: Any) -> None:
    page = open_page(address, size=PHONE)  # what the policy blocks is logged as an error, which fails
    look = page.evaluate(
        """async () => {
            await document.fonts.ready;
            const style = getComputedStyle(document.body);
            return {
                letters: [...document.fonts].filter((one) => one.status === 'loaded').length,
                family: style.fontFamily,
                ground: style.backgroundColor,
                list: getComputedStyle(document.querySelector('ol')).listStyleType,
                wide: document.documentElement.scrollWidth,
            };
        }"""
    )
    if folder := os.environ.get("GOODLENGTH_SCREENSHOTS"):
        page.screenshot(path=f"{folder}/handed.png", full_page=True)
    assert look["letters"] >= 1
    assert "Atkinson" in look["family"]
    assert look["ground"] == "rgb(236, 237, 233)"
    assert look["list"] == "none"
    assert look["wide"] <= PHONE["width"]


def test_a_script_that_came_into_a_handout_is_not_run(served: Any, address: str, open_page: Any) -> None:
    path = Path(served.folder) / "handouts" / "handout-demo.html"
    spoilt = "<script>document.title = 'ran'</script><p style='color: rgb(1, 2, 3)'>x</p></body>"
    path.write_text(path.read_text(encoding="utf-8").replace("</body>", spoilt), encoding="utf-8")
    page = open_page(address, size=PHONE, expected="Content Security Policy")
    assert page.title() != "ran"
    assert page.evaluate("getComputedStyle(document.querySelector('p[style]')).color") != "rgb(1, 2, 3)"
