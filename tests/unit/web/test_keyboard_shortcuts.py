"""The list of keys: one source for the page, its dialog and the reference page."""

from __future__ import annotations

from pathlib import Path

import pytest

from goodlength.web.page_rendering import HERE
from goodlength.web.views.keyboard_shortcuts import (
    BODY_KEYS,
    CAMERA_KEYS,
    DRAFT_KEYS,
    KEYS,
    MEASURE_KEYS,
    PATH_KEYS,
    PRESENTATION_KEYS,
    RALLY_KEYS,
    REVIEW_KEYS,
    SIDE_BY_SIDE_KEYS,
    TRACK_KEYS,
    Key,
    keys_page,
    with_player,
)

ROOT = Path(__file__).parents[3]


def test_the_reference_page_is_made_from_the_list() -> None:
    """Make it anew with: python -c "from goodlength.web.views.keyboard_shortcuts import keys_page; print(keys_page(), end='')"."""
    assert (ROOT / "docs" / "reference" / "keys.md").read_text(encoding="utf-8") == keys_page()


PLAYED = {
    "match/rally-logging.js": KEYS,
    "footage/detected-rallies.js": RALLY_KEYS,
    "footage/detection-audit.js": REVIEW_KEYS,
    "match/score-draft.js": DRAFT_KEYS,
    "footage/camera-calibration.js": CAMERA_KEYS,
    "footage/serve-measurement.js": MEASURE_KEYS,
    "footage/player-tracking.js": TRACK_KEYS,
    "footage/pose-correction.js": BODY_KEYS,
    "sharing/side-by-side-video.js": SIDE_BY_SIDE_KEYS,
    "sharing/video-review-presentation.js": PRESENTATION_KEYS,
    "footage/ball-paths.js": PATH_KEYS,
}


@pytest.mark.parametrize("keys", PLAYED.values(), ids=PLAYED.keys())
def test_no_key_does_two_things(keys: tuple[Key, ...]) -> None:
    presses = [press for key in with_player(keys) for press in key.press]
    assert len(presses) == len(set(presses))


@pytest.mark.parametrize(("page", "keys"), PLAYED.items(), ids=PLAYED.keys())
def test_every_key_has_an_action_in_the_page(page: str, keys: tuple[Key, ...]) -> None:
    js = HERE / "static" / "js"
    script = (js / "pages" / page).read_text(encoding="utf-8")
    player = (js / "lib" / "player" / "player-controls.js").read_text(encoding="utf-8")
    picker = (js / "lib" / "player" / "frame-point-picker.js").read_text(encoding="utf-8")
    table = (
        script[script.index("connectPoints(points") :] + picker[picker.index("listen({") :]
        if "connectPoints(points" in script
        else script[script.index("listen({") :]
    )
    table += player[player.index("get actions()") : player.index("playOrStop() {")]
    for key in with_player(keys):
        named = (f"{key.action}:", f"'{key.action}':", f"  {key.action},")
        assert any(words in table for words in named), key.action


def test_scripts_and_styles_hold_nothing_from_elsewhere() -> None:
    for path in HERE.rglob("*"):
        if path.suffix in (".js", ".css", ".html"):
            text = path.read_text(encoding="utf-8")
            assert "http://" not in text.replace("http://www.w3.org/2000/svg", ""), path
            assert "https://" not in text, path
            assert 'style="' not in text, path
            assert " onclick=" not in text, path
