"""What is removed can be put back for 30 days; erasing and time empty the bin."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import Conflict, ConsentMissing, NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.record import EntryKind
from goodlength.record.model import Clip, Footage, MatchInfo, Player
from goodlength.record.record_json_conversion import entry_to_plain


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        made.save_player(Player("p1", "Petra"))
        made.save_player(Player("p2", "Opal"))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        tasks.answer(made, "m1", "r1", EntryKind.WINNER, "a")
        tasks.answer(made, "m1", "r1", EntryKind.NOTE, "a note")
        for name in (
            "uploads/0badc0de-x.mp4",
            "proxies/f1.mp4",
            "cameras/f1.json",
            "bodies/m1.said.json",
            "clips/m1-talk-list.json",
            "clips/m1-r1.mp4",
            "handouts/handout-m1.pdf",
        ):
            path = made.folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(f'{{"of": "{name}"}}')
        upload = str(made.folder / "uploads/0badc0de-x.mp4")
        made.save_footage(Footage("f1", "m1", upload, copied=True, proxy="proxies/f1.mp4"))
        made.save_clip(
            Clip("c1", "m1", str(made.folder / "clips/m1-r1.mp4"), made_utc=datetime(2025, 5, 1, tzinfo=UTC))
        )
        yield made


def state(library) -> tuple[object, ...]:
    files = {n: p.read_text() for n, p, k in library_layout.files_in(library.folder) if k and k.erased}
    return (
        [entry_to_plain(entry) for entry in library.entries("m1")],
        library.match_info("m1"),
        library.footage("m1"),
        library.clips("m1"),
        files,
    )


def aged(library, days: float) -> None:
    for item in library_layout.bin_folder(library.folder).glob("*/item.json"):
        removed = (datetime.now(UTC) - timedelta(days=days)).isoformat()
        JsonFile(item).write({**JsonFile(item).read(), "removed_utc": removed})


def test_a_removed_match_comes_back_as_it_was(library) -> None:
    before = state(library)
    tasks.remove_match(library, "m1")
    assert library.matches() == ()
    (item,) = tasks.bin_items(library)
    assert (item.kind, item.files, item.refusal) == ("match", 7, "")
    assert "Petra" in item.title
    tasks.take_from_bin(library, item.id)
    assert state(library) == before
    assert tasks.bin_items(library) == ()


@pytest.mark.parametrize("stopped", ["removing", "putting back"])
def test_what_was_stopped_half_way_can_be_put_back(library, monkeypatch, stopped: str) -> None:
    """Before: "is in this library already. Remove that one first", and the sweep deleted the video for good."""
    before = state(library)
    with monkeypatch.context() as broken:
        if stopped == "removing":
            broken.setattr(type(library), "remove_match", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        else:
            tasks.remove_match(library, "m1")
            broken.setattr(
                "goodlength.tasks.removal.recycle_bin.move_back",
                lambda *_: (_ for _ in ()).throw(KeyboardInterrupt),
            )
        with pytest.raises(KeyboardInterrupt):
            if stopped == "removing":
                tasks.remove_match(library, "m1")
            else:
                tasks.take_from_bin(library, tasks.bin_items(library)[0].id)
    tasks.take_from_bin(library, tasks.bin_items(library)[0].id)
    assert state(library) == before
    assert tasks.bin_items(library) == ()


def test_a_file_whose_place_is_taken_stays_in_the_bin(library) -> None:
    """Before: it was deleted without a word."""
    tasks.remove_match(library, "m1")
    place = library.folder / "proxies" / "f1.mp4"
    place.parent.mkdir(exist_ok=True)
    place.write_text("another film")
    (item,) = tasks.bin_items(library)
    with pytest.raises(Conflict, match=r"proxies/f1\.mp4"):
        tasks.take_from_bin(library, item.id)
    place.unlink()
    tasks.take_from_bin(library, item.id)
    assert "of" in place.read_text()


def test_a_copied_in_video_is_not_lost_when_it_is_removed(library) -> None:
    before = state(library)
    tasks.remove_footage(library, "f1")
    assert library.footage("m1") == ()
    assert not (library.folder / "uploads/0badc0de-x.mp4").exists()
    tasks.take_from_bin(library, tasks.bin_items(library)[0].id)
    assert state(library) == before


def test_a_video_waits_in_the_bin_for_its_match(library) -> None:
    tasks.remove_footage(library, "f1")
    tasks.remove_match(library, "m1")
    match, video = sorted(tasks.bin_items(library), key=lambda item: item.kind)
    with pytest.raises(ConsentMissing, match="Put the match back first"):
        tasks.take_from_bin(library, video.id)
    tasks.take_from_bin(library, match.id)
    tasks.take_from_bin(library, video.id)
    assert [item.id for item in library.footage("m1")] == ["f1"]


def test_the_bin_is_emptied_after_thirty_days_or_by_hand(library) -> None:
    tasks.remove_footage(library, "f1")
    aged(library, 29.9)
    assert tasks.sweep(library) == 0
    aged(library, 30.1)
    assert tasks.sweep(library) == 1
    tasks.remove_match(library, "m1")
    item = tasks.bin_items(library)[0].id
    assert tasks.empty_bin(library, item_id=item) == 1
    with pytest.raises(NotFound):
        tasks.take_from_bin(library, item)
    assert list(library_layout.bin_folder(library.folder).iterdir()) == []


def test_erasing_a_player_empties_the_bin_of_what_is_theirs(library) -> None:
    tasks.remove_match(library, "m1")
    tasks.erase_player(library, "p1")
    assert tasks.bin_items(library) == ()
    for path in library.folder.rglob("*"):
        assert not path.is_file() or b"Petra" not in path.read_bytes(), path


def test_withdrawn_consent_holds_back_what_lies_in_the_bin(library) -> None:
    tasks.consent(library, "p1", given_by="Petra")
    tasks.remove_match(library, "m1")
    tasks.consent(library, "p1", given_by="Petra", purposes=())
    (item,) = tasks.bin_items(library)
    assert "withdrew consent" in item.refusal
    with pytest.raises(ConsentMissing):
        tasks.take_from_bin(library, item.id)
    tasks.consent(library, "p1", given_by="Petra")
    tasks.take_from_bin(library, item.id)
    assert library.match_info("m1").id == "m1"


def test_a_moved_library_puts_back_into_its_new_folder(library, tmp_path: Path) -> None:
    tasks.remove_footage(library, "f1")
    tasks.move_library(library, tmp_path / "new")
    with tasks.open_library(tmp_path / "new") as moved:
        tasks.take_from_bin(moved, tasks.bin_items(moved)[0].id)
        assert Path(moved.footage_file("f1").path).is_file()
        assert tmp_path / "new" in Path(moved.footage_file("f1").path).parents


@pytest.mark.parametrize("bad", ["../../x", "zzzz", "", "0badc0de0bad/../.."])
def test_no_name_leads_out_of_the_bin(library, bad: str) -> None:
    with pytest.raises(NotFound):
        tasks.take_from_bin(library, bad)
    assert tasks.empty_bin(library, item_id=bad) == 0


def test_a_prepared_item_writes_nothing_outside_or_over_anything(library, tmp_path: Path) -> None:
    tasks.remove_footage(library, "f1")
    (file,) = library_layout.bin_folder(library.folder).glob("*/item.json")
    plain = JsonFile(file).read()
    for evil in ("../outside.mp4", "library.sqlite3"):
        source = file.parent / "files" / evil
        source.parent.mkdir(parents=True, exist_ok=True)
        source.write_text("evil")
        plain["files"].append(evil)
    JsonFile(file).write(plain)
    tasks.take_from_bin(library, file.parent.name)
    assert not (library.folder.parent / "outside.mp4").exists()
    assert library.match_info("m1").id == "m1"


def test_imports_looked_at_and_left_are_swept_after_an_hour(library) -> None:
    left = library.folder / "uploads" / "0badc0de-import-Dana.csv"
    left.write_text("Dana")
    assert tasks.sweep(library) == 0
    os.utime(left, (time.time() - 3700,) * 2)
    assert tasks.sweep(library) == 1
    assert not left.exists()
    assert (library.folder / "uploads/0badc0de-x.mp4").exists()


def test_the_demo_is_deleted_at_once(library) -> None:
    library.save_match(replace(library.match_info("m1"), demo=True))
    tasks.remove_match(library, "m1")
    assert tasks.bin_items(library) == ()
