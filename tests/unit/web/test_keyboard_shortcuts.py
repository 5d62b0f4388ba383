"""The list of keys: one source for the page, its dialog and the reference page."""

from __future__ import annotations

from pathlib import Path

from goodlength.web.page_rendering import HERE
from goodlength.web.views.keyboard_shortcuts import KEYS, keys_page

ROOT = Path(__file__).parents[3]


def test_the_reference_page_is_made_from_the_list() -> None:
    """Make it anew with: python -c "from goodlength.web.views.keyboard_shortcuts import keys_page; print(keys_page(), end='')"."""
    assert (ROOT / "docs" / "reference" / "keys.md").read_text(encoding="utf-8") == keys_page()


def test_no_key_does_two_things() -> None:
    presses = [press for key in KEYS for press in key.press]
    assert len(presses) == len(set(presses))


def test_every_key_has_an_action_in_the_page() -> None:
    script = (HERE / "static" / "js" / "pages" / "match" / "rally-logging.js").read_text(encoding="utf-8")
    table = script[script.index("listen({") : script.index("grid.addEventListener")]
    for key in KEYS:
        assert f"{key.action}:" in table or f"'{key.action}':" in table, key.action


def test_scripts_and_styles_hold_nothing_from_elsewhere() -> None:
    for path in HERE.rglob("*"):
        if path.suffix in (".js", ".css", ".html"):
            text = path.read_text(encoding="utf-8")
            assert "http://" not in text.replace("http://www.w3.org/2000/svg", ""), path
            assert "https://" not in text, path
            assert 'style="' not in text, path
            assert " onclick=" not in text, path
