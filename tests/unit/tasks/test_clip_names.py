"""Names of what was made for showing: by its content, or the coach's own; never one that no disk takes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, InputError
from goodlength.files.library_layout import clip_names_file, export_file
from goodlength.record.model import EntryKind
from goodlength.tasks.sharing.clip_names import clip_name, rename_clip


@pytest.fixture
def opened(tmp_path: Path) -> Any:
    with tasks.open_library(tmp_path / "library") as library:
        tasks.add_player(library, "Imogen Vale", player_id="iv")
        tasks.add_player(library, "Petra Lindqvist-Ode", player_id="plo")
        tasks.new_match(library, ("iv", "plo"), match_id="m1")
        for n, winner in enumerate("aab", 1):
            tasks.answer(library, "m1", f"r{n}", EntryKind.WINNER, winner)
        tasks.answer(library, "m1", "r3", EntryKind.KIND, "lob")
        tasks.answer(library, "m1", "r3", EntryKind.LEFT, "loose")
        yield tasks.open_match(library, "m1")


def clip_of(opened: Any, rally: str) -> str:
    return str(export_file(opened.library.folder, opened.id, "clip", rally, "mp4"))


def test_a_clip_is_named_by_its_score_serve_and_return(opened: Any) -> None:
    assert clip_name(opened, "clip", clip_of(opened, "r3")) == "game 1, 2–0, lob, loose"
    assert clip_name(opened, "clip", clip_of(opened, "r1")) == "game 1, 0–0"
    assert clip_name(opened, "reel", "/x/m1-reel-12.mp4") == "highlights"
    assert clip_name(opened, "clip", "/x/gone.mp4") == "clip"


def test_the_coach_s_name_stands_until_it_is_cleared(opened: Any) -> None:
    path = clip_of(opened, "r3")
    rename_clip(opened, path, "  Spät am Ball – r3  ")
    assert clip_name(opened, "clip", path) == "Spät am Ball – r3"
    assert clip_name(opened, "clip", clip_of(opened, "r1")) == "game 1, 0–0"
    rename_clip(opened, path, " ")
    assert clip_name(opened, "clip", path) == "game 1, 2–0, lob, loose"


@pytest.mark.parametrize(
    "name", ["../../x", "a/b", "a\\b", "c:x", "a\x00b", "a\nb", ".hidden", "x" * 81, "a?"]
)
def test_what_no_file_can_be_called_is_refused_and_nothing_changes(opened: Any, name: str) -> None:
    path = clip_of(opened, "r3")
    rename_clip(opened, path, "before")
    with pytest.raises(InputError, match="name"):
        rename_clip(opened, path, name)
    assert clip_name(opened, "clip", path) == "before"


def test_a_damaged_list_of_names_is_never_overwritten_and_clips_have_their_own(opened: Any) -> None:
    stored = clip_names_file(opened.library.folder, "m1")
    stored.parent.mkdir(exist_ok=True)
    path = clip_of(opened, "r3")
    for damaged in ("{", '{"names": [1]}', '{"names": {"m1-clip-r3.mp4": 7}}'):
        stored.write_text(damaged)
        assert clip_name(opened, "clip", path) == "game 1, 2–0, lob, loose"
    stored.write_text("{")
    with pytest.raises(DamagedFile):
        rename_clip(opened, path, "new")
    assert stored.read_text() == "{"


def test_a_name_from_a_strange_back_up_leads_nowhere(opened: Any) -> None:
    stored = clip_names_file(opened.library.folder, "m1")
    stored.parent.mkdir(exist_ok=True)
    stored.write_text('{"names": {"m1-clip-r3.mp4": "../..\\r\\nx: y"}}')
    name = clip_name(opened, "clip", clip_of(opened, "r3"))
    assert not set(name) & set("/\\\r\n:")


def test_half_a_letter_in_the_file_of_names_is_no_name(opened: Any) -> None:
    """Before: the page of clips could not be sent (UnicodeEncodeError)."""
    path = clip_of(opened, "r3")
    names = clip_names_file(opened.library.folder, opened.id)
    names.parent.mkdir(parents=True, exist_ok=True)
    names.write_text(json.dumps({"names": {Path(path).name: "a \ud83c b"}}), encoding="utf-8")
    assert clip_name(opened, "clip", path) == "game 1, 2–0, lob, loose"
    with pytest.raises(DamagedFile, match="half a letter"):
        rename_clip(opened, path, "mine")
    names.write_text(
        json.dumps({"names": {Path(path).name: "a \N{TENNIS RACQUET AND BALL} b"}}), encoding="utf-8"
    )
    assert clip_name(opened, "clip", path) == "a \N{TENNIS RACQUET AND BALL} b"
