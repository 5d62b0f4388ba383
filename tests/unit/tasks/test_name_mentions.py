"""Erasing a person lists every other place that holds the name, and leaves nothing of its own."""

from __future__ import annotations

import json
import os
import zipfile
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.files.locked_json_file import JsonFile
from goodlength.record import EntryKind
from goodlength.record.model import Footage, MatchInfo, Player
from goodlength.tasks.library.name_mentions import mentions


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        for key, name in (("p1", "Dana Whitmore"), ("p2", "Rosa Kell"), ("p3", "Ivo Rell")):
            made.save_player(Player(key, name))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        made.save_match(MatchInfo("m2", ("p2", "p3")))
        (made.folder / "handouts").mkdir()
        yield made


def words(library) -> str:
    return "\n".join(mention.words for mention in tasks.erase_player(library, "p1").mentions)


def test_notes_of_other_matches_are_listed_and_stay(library) -> None:
    tasks.answer(library, "m2", "r1", EntryKind.NOTE, "play it as dana does")
    tasks.answer(library, "m2", "r2", EntryKind.NOTE, "bandanas")
    erased = tasks.erase_player(library, "p1")
    assert [mention.words for mention in erased.mentions] == [
        "1 answer or note of the match Rosa Kell v Ivo Rell"
    ]
    assert "Rosa Kell v Ivo Rell" in erased.words
    account = Path(erased.account).read_text()
    assert "1 other place with the name" in account
    assert "Dana" not in account and "Rosa" not in account


def test_other_players_handouts_are_listed_with_their_pdf(library) -> None:
    home = library.folder / "handouts"
    (home / "handout-m2.html").write_text("<p>Rosa, watch how Whitmore returns.</p>")
    (home / "handout-m2.pdf").write_bytes(b"%PDF packed")
    JsonFile(home / "handout-m2.json").write({"own": "as Dana\u00a0Whitmore does"})
    (home / "handout-m3.pdf").write_bytes(b"%PDF alone")
    found = words(library)
    for name in ("handout-m2.html", "handout-m2.pdf", "handout-m2.json", "handout-m3.pdf, which cannot"):
        assert name in found


def test_packs_lists_footage_names_and_details_are_searched(library) -> None:
    with zipfile.ZipFile(library.folder / "handouts" / "m2-pack-1.zip", "w") as pack:
        pack.writestr("index.html", "<p>dana</p>")
    JsonFile(library.folder / "clips" / "m2-talk-list.json").write({"talks": [{"note": "like Dana"}]})
    library.save_footage(Footage("f2", "m2", "/films/dana at club.mp4"))
    library.save_player(Player("p3", "Ivo Rell", notes="lost to Dana"))
    library.set_setting("club", "Dana's club")
    found = words(library)
    for place in (
        "m2-pack-1.zip",
        "m2-talk-list.json",
        "name of a video",
        "details or consents of Ivo",
        "club",
    ):
        assert place in found


def test_a_mere_look_lists_them_too_and_the_own_matches_are_none(library) -> None:
    tasks.answer(library, "m1", "r1", EntryKind.NOTE, "Dana tired")
    assert tasks.erase_player(library, "p1", dry_run=True).mentions == ()
    tasks.answer(library, "m2", "r1", EntryKind.NOTE, "Dana")
    assert len(tasks.erase_player(library, "p1", dry_run=True).mentions) == 1


def test_styles_and_pictures_within_a_page_are_no_mention(library) -> None:
    (library.folder / "handouts" / "handout-m2.html").write_text(
        '<style>.dana{}</style><img src="data:image/png;base64,dana+dana">'
    )
    assert mentions(library, "Dana Whitmore", frozenset({"m1"})) == ()
    assert "handout" not in words(library)


def test_cameras_and_abandoned_imports_go_with_the_person(library) -> None:
    library.save_footage(Footage("f1", "m1", "/elsewhere/x.mp4"))
    camera = library.folder / "cameras" / "f1.json"
    JsonFile(camera).write({"format": 1, "spans": [], "patches": "grey"})
    left = library.folder / "uploads" / "0badc0de-import-coach.json"
    left.write_text(json.dumps({"name": "Dana Whitmore"}))
    tasks.erase_player(library, "p1")
    assert not camera.exists() and not left.exists()
    for path in library.folder.rglob("*"):
        assert not path.is_file() or b"Whitmore" not in path.read_bytes(), path


def test_what_is_being_written_meanwhile_is_left_alone(library) -> None:
    part = library.folder / "uploads" / ".0badc0de-game.mp4.part"
    part.write_text("half of another player's video")
    left = library.folder / "uploads" / "0badc0de-import-coach.json"
    left.write_text("Dana")
    tasks.erase_player(library, "p1")
    assert part.exists() and not left.exists()


def test_every_pdf_that_cannot_be_searched_is_listed(library) -> None:
    """Before: a PDF inside a pack, or one beside a page written at another time, was passed over."""
    home = library.folder / "handouts"
    for name in (
        "handout-m2.pdf",
        "handout-m2.html",
        "handout-m2.v3.pdf",
        "handout-m2.v4.pdf",
        "handout-m2.v4.html",
    ):
        (home / name).write_text("nobody")
    os.utime(home / "handout-m2.v4.html", (1.0, 1.0))  # another writing than the PDF's
    for name, inner in (
        ("m2-pack-1.zip", ("handout.pdf",)),
        ("m2-pack-2.zip", ("handout.pdf", "handout.html")),
    ):
        with zipfile.ZipFile(home / name, "w") as packed:
            for item in inner:
                packed.writestr(item, "nobody")
    binned = library.folder / "bin" / "0badc0de0bad" / "files" / "handouts" / "handout-m9.pdf"
    binned.parent.mkdir(parents=True)
    binned.write_text("nobody")
    listed = {mention.words for mention in mentions(library, "Dana Whitmore", frozenset({"m1"}))}
    assert listed == {
        "the file bin/0badc0de0bad/files/handouts/handout-m9.pdf, which cannot be searched",
        "the file handouts/handout-m2.v3.pdf, which cannot be searched",
        "the file handouts/handout-m2.v4.pdf, which cannot be searched",
        "the file handouts/m2-pack-1.zip, with a PDF which cannot be searched",
    }
