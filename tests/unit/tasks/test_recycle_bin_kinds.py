"""Clips, plans, sets, recordings, chosen tracks and consent: removed, found in the bin, put back."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import ConsentMissing, NoSpace, NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.jobs.job_queue import Jobs
from goodlength.record import EntryKind
from goodlength.record.model import Clip, Footage, MatchInfo, Player
from goodlength.tasks.library.library_opening_and_check import library_check

TODAY = date(2026, 11, 25)
PLAN: Any = {"items": [], "sessions": 2, "begins": "2026-11-16", "check_on": "2026-12-16", "cautions": []}


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        made.save_player(Player("p1", "Petra"))
        made.save_player(Player("p2", "Opal"))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        yield made


@pytest.fixture
def jobs(library):
    with Jobs(library.folder) as made:
        yield made


def put(library, name: str, text: str = "{}") -> Path:
    path = library.folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def done(library, mark: str, kind: str, **args: object) -> Path:
    state = {"id": mark, "kind": kind, "share": 1.0, "words": "done", "state": "done", "args": args}
    return put(library, f"jobs/{mark}.json", json.dumps({**state, "function": "a:b"}))


def two_pictures(path: Path) -> None:
    """Write a video with a small and a larger picture."""
    with av.open(str(path), "w") as new:
        sizes = ((64, 48), (128, 96))
        pair = [new.add_stream("libx264", rate=25) for _ in sizes]
        for stream, (width, height) in zip(pair, sizes, strict=True):
            stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        for stream, (width, height) in zip(pair, sizes, strict=True):
            for n in range(25):
                grey = np.full((height, width, 3), 10 * n, dtype=np.uint8)
                new.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="rgb24")))
            new.mux(stream.encode(None))


def only_item(library):
    (item,) = tasks.bin_items(library)
    return item


# Clips


def made_clip(library) -> Path:
    path = put(library, "clips/m1-clip-r1.mp4", "a clip")
    done(library, "ab12", "clip", match="m1", dst=str(path), pieces=[])
    library.save_clip(Clip("c1", "m1", str(path), "r1"))
    return path


@pytest.mark.parametrize("by", ["ab12", "c1"])
def test_a_clip_goes_to_the_bin_and_comes_back(library, jobs, by: str) -> None:
    path = made_clip(library)
    tasks.remove_clip(library, jobs, "m1", by)
    assert (library.clips("m1"), tasks.exports_of(tasks.open_match(library, "m1"), jobs), path.exists()) == (
        (),
        (),
        False,
    )
    item = only_item(library)
    assert (item.kind, item.files, item.players) == ("clip", 2, ("p1", "p2"))
    tasks.take_from_bin(library, item.id)
    assert [clip.id for clip in library.clips("m1")] == ["c1"]
    assert [export.path for export in tasks.exports_of(tasks.open_match(library, "m1"), jobs)] == [str(path)]


def test_a_clip_saved_elsewhere_stays_there(library, jobs, tmp_path: Path) -> None:
    mine = tmp_path / "mine.mp4"
    mine.write_text("mine")
    library.save_clip(Clip("c1", "m1", str(mine)))
    tasks.remove_clip(library, jobs, "m1", "c1")
    assert (mine.read_text(), library.clips("m1")) == ("mine", ())
    tasks.take_from_bin(library, only_item(library).id)
    assert [clip.path for clip in library.clips("m1")] == [str(mine)]


def test_a_clip_of_another_match_is_not_removed(library, jobs) -> None:
    made_clip(library)
    library.save_match(MatchInfo("m2", ("p1", "p2")))
    for name in ("ab12", "c1", "nothing"):
        with pytest.raises(NotFound):
            tasks.remove_clip(library, jobs, "m2", name)


# Plans and sets


@pytest.mark.parametrize("kind", ["plan", "set"])
def test_what_practice_holds_is_removed_and_comes_back(library, kind: str) -> None:
    def standing() -> int:
        sets = tasks.sets_of(library, "p1")
        return len(tasks.plans_of(library, "p1") if kind == "plan" else sets.get("six-corners", ()))

    if kind == "plan":
        element = tasks.save_plan(library, "p1", PLAN)
        tasks.remove_plan(library, "p1", element)
    else:
        tasks.log_set(library, "p1", "six-corners", 5, 8, on=TODAY, set_id="s1", today=TODAY)
        tasks.undo_set(library, "p1", "s1")
    item = only_item(library)
    assert (standing(), item.kind, item.players, item.files) == (0, kind, ("p1",), 0)
    for _ in range(2):  # again and again
        tasks.take_from_bin(library, only_item(library).id)
        assert standing() == 1
        element = tasks.plans_of(library, "p1")[0][0] if kind == "plan" else "s1"
        (tasks.remove_plan if kind == "plan" else tasks.undo_set)(library, "p1", element)
        assert standing() == 0
    tasks.undo_set(library, "p1", "s1")  # what is removed already is not removed twice
    assert len(tasks.bin_items(library)) == 1
    tasks.empty_bin(library)
    assert library.practice("p1") == ()


def test_a_set_that_was_put_back_is_not_deleted_with_an_older_item(library) -> None:
    tasks.log_set(library, "p1", "six-corners", 5, 8, on=TODAY, set_id="s1", today=TODAY)
    tasks.undo_set(library, "p1", "s1")
    item = library_layout.bin_folder(library.folder) / only_item(library).id / "item.json"
    text = item.read_text()
    tasks.take_from_bin(library, only_item(library).id)
    put(library, item.relative_to(library.folder).as_posix(), text)  # as after a crash right then
    tasks.empty_bin(library)
    assert len(tasks.sets_of(library, "p1")["six-corners"]) == 1


# Recordings of practice


def test_a_recording_goes_to_the_bin_and_comes_back(library, jobs) -> None:
    made = [put(library, f"proxies/practice-0badc0de{ending}", "x") for ending in (".heard.npz", ".mp4")]
    args = {"src": "/elsewhere/solo.mov", "player": "p1", "drill": "lob-to-the-box"}
    done(library, "ab12", "attempts", **args, keep=str(made[0]), proxy=str(made[1]))
    tasks.forget_recording(library, jobs, "p1", "ab12")
    assert tasks.recordings_of(jobs, "p1") == ()
    assert not any(path.exists() for path in made)
    item = only_item(library)
    assert (item.kind, item.title, item.files) == ("recording", "solo.mov", 3)
    tasks.take_from_bin(library, item.id)
    assert [recording.id for recording in tasks.recordings_of(jobs, "p1")] == ["ab12"]
    assert all(path.exists() for path in made)


# The original with all its tracks


def test_an_uploaded_original_whose_other_track_was_chosen_comes_back(library, tmp_path, monkeypatch) -> None:
    """Before: the original was deleted at once, with its other tracks."""
    upload = library_layout.upload_file(library.folder, "0badc0de", "two.mov")
    upload.parent.mkdir(parents=True, exist_ok=True)
    two_pictures(upload)
    before = tasks.add_footage(library, "m1", upload, copied=True)
    data = upload.read_bytes()
    chosen = tasks.choose_tracks(library, before.id, picture=1)
    assert (chosen.look["width"], upload.exists()) == (64, False)
    item = only_item(library)
    assert (item.kind, item.title) == ("original", "0badc0de-two.mov")
    tasks.take_from_bin(library, item.id)
    assert upload.read_bytes() == data
    assert library.footage_file(before.id) == before
    assert not Path(chosen.path).exists()
    assert tasks.bin_items(library) == ()
    monkeypatch.setattr(
        "goodlength.tasks.footage.footage_import_and_proxies._put",
        lambda *_, **__: (_ for _ in ()).throw(NoSpace("full")),
    )
    with pytest.raises(NoSpace):
        tasks.choose_tracks(library, before.id, picture=1)
    assert (upload.read_bytes(), library.footage_file(before.id)) == (data, before)
    assert list(upload.parent.iterdir()) == [upload]
    assert tasks.bin_items(library) == ()


# Consent


def test_a_withdrawal_is_undone_and_what_it_held_is_released(library) -> None:
    given = tasks.consent(
        library, "p1", given_by="Petra's mother", purposes=("clips",), until=date(2099, 1, 1)
    )
    tasks.remove_match(library, "m1")
    tasks.withdraw_consent(library, "p1")
    assert library.player("p1").consent.purposes == ()
    assert "withdrew consent" in only_item(library).refusal
    assert tasks.give_consent_back(library, "p1") == given
    assert only_item(library).refusal == ""
    with pytest.raises(NotFound, match="no consent was withdrawn"):
        tasks.give_consent_back(library, "p1")


def test_all_kinds_of_items_are_held_by_a_withdrawal(library, jobs) -> None:
    tasks.consent(library, "p1", given_by="Petra")
    made_clip(library)
    tasks.remove_clip(library, jobs, "m1", "c1")
    tasks.log_set(library, "p1", "six-corners", 5, 8, on=TODAY, set_id="s1", today=TODAY)
    tasks.undo_set(library, "p1", "s1")
    tasks.remove_plan(library, "p1", tasks.save_plan(library, "p1", PLAN))
    done(library, "ab12", "attempts", player="p1", src="/x.mov", drill="six-corners")
    tasks.forget_recording(library, jobs, "p1", "ab12")
    tasks.withdraw_consent(library, "p1")
    items = tasks.bin_items(library)
    assert {element.kind for element in items} == {"clip", "set", "plan", "recording"}
    for item in items:
        with pytest.raises(ConsentMissing, match="withdrew consent"):
            tasks.take_from_bin(library, item.id)
    tasks.erase_player(library, "p1")
    assert tasks.bin_items(library) == ()


# Damage


def damaged(library, table: str, change: str) -> None:
    with closing(sqlite3.connect(library.place)) as raw:
        raw.execute(f"UPDATE {table} SET {change}")
        raw.commit()


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("entries", "value = '\"b\"' WHERE what = 'winner'"),
        ("entries", "what = 'of-a-later-version' WHERE what = 'winner'"),
        ("footage", "path = '/elsewhere/b.mp4'"),
        ("clips", "rally = 'r2'"),
        ("matches", "event = 'another'"),
    ],
)
def test_damage_is_said_goes_into_the_bin_and_comes_back_as_damage(library, table: str, change: str) -> None:
    """Before: a damaged answer was lost, and a damaged row came back with a checksum that fits."""
    library.save_footage(Footage("f1", "m1", "/elsewhere/a.mp4"))
    library.save_clip(Clip("c1", "m1", "/elsewhere/c.mp4", "r1"))
    tasks.answer(library, "m1", "r1", EntryKind.WINNER, "a")
    tasks.answer(library, "m1", "r1", EntryKind.NOTE, "a note")
    damaged(library, table, change)
    with tasks.open_library(library.folder) as again:
        before = [(entry.id, entry.what, entry.value) for entry in again.entries("m1")]
        found = library_check(again).problems
        assert found
        tasks.remove_match(again, "m1")
        assert only_item(again).damaged == 1
        tasks.take_from_bin(again, only_item(again).id)
        assert sorted((entry.id, entry.what, entry.value) for entry in again.entries("m1")) == sorted(before)
        assert sorted(library_check(again).problems) == sorted(found)


# A full disk


def full(monkeypatch, of: str, at: int) -> None:
    """The system says "no space left" at the `at`th move."""
    true, count = Path.replace, [0]

    def replace(self: Path, target: Path) -> Path:
        if of in str(self if of == "bin" else target) and "item.json" not in str(target):
            count[0] += 1
            if count[0] == at:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(target))
        return true(self, target)

    monkeypatch.setattr(Path, "replace", replace)


def files(library) -> dict[str, str]:
    return {
        name: path.read_text()
        for name, path, kind in library_layout.files_in(library.folder)
        if kind and kind.erased
    }


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_full_disk_on_the_way_into_the_bin_loses_nothing(library, monkeypatch, at: int) -> None:
    for name in ("heard/m1.json", "tracks/m1.json", "bodies/m1.said.json"):
        put(library, name)
    before = files(library)
    with monkeypatch.context() as broken:
        full(broken, "files", at)
        with pytest.raises(NoSpace, match="Nothing was removed"):
            tasks.remove_match(library, "m1")
    assert files(library) == before
    assert [match.id for match in library.matches()] == ["m1"]
    assert tasks.bin_items(library) == ()


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_full_disk_on_the_way_back_loses_nothing(library, monkeypatch, at: int) -> None:
    for name in ("heard/m1.json", "tracks/m1.json", "bodies/m1.said.json"):
        put(library, name)
    before = files(library)
    tasks.remove_match(library, "m1")
    with monkeypatch.context() as broken:
        full(broken, "bin", at)
        with pytest.raises(NoSpace, match="still in the bin"):
            tasks.take_from_bin(library, only_item(library).id)
    tasks.take_from_bin(library, only_item(library).id)
    assert files(library) == before
    assert tasks.bin_items(library) == ()


def test_a_bin_on_another_disk_works(library, monkeypatch) -> None:
    """A rename from disk to disk is refused by the system."""
    true = Path.replace

    def replace(self: Path, target: Path) -> Path:
        if ("/bin/" in str(self)) != ("/bin/" in str(target)):
            raise OSError(errno.EXDEV, os.strerror(errno.EXDEV), str(target))
        return true(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    put(library, "heard/m1.json", '{"a": 1}')
    before = files(library)
    tasks.remove_match(library, "m1")
    assert not (library.folder / "heard/m1.json").exists()
    tasks.take_from_bin(library, only_item(library).id)
    assert files(library) == before


# What is held about a person


def test_the_export_of_a_person_names_what_lies_in_the_bin(library, tmp_path: Path) -> None:
    tasks.answer(library, "m1", "r1", EntryKind.NOTE, "a note to be told")
    tasks.remove_match(library, "m1")
    library.save_player(Player("p3", "Una"))
    told = json.loads(tasks.export_player(library, "p1", tmp_path / "p1.json").read_text())
    assert [(item["kind"], item["title"]) for item in told["bin"]] == [("match", only_item(library).title)]
    assert "a note to be told" in json.dumps(told["bin"])
    assert json.loads(tasks.export_player(library, "p3", tmp_path / "p3.json").read_text())["bin"] == []


def test_a_moved_library_finds_a_removed_recording_in_its_new_folder(library, tmp_path: Path) -> None:
    made = put(library, "proxies/practice-0badc0de.mp4", "x")
    done(
        library, "ab12", "attempts", src="/x.mov", player="p1", drill="six-corners", keep="", proxy=str(made)
    )
    with Jobs(library.folder) as jobs:
        tasks.forget_recording(library, jobs, "p1", "ab12")
    tasks.move_library(library, tmp_path / "new")
    with tasks.open_library(tmp_path / "new") as moved, Jobs(tmp_path / "new") as jobs:
        tasks.take_from_bin(moved, only_item(moved).id)
        assert str(tmp_path / "new") in jobs.state("ab12").args["proxy"]


def test_a_prepared_item_deletes_no_line_of_another_player(library) -> None:
    """Before: emptying the bin deleted the line that the item named, whoever's it was."""
    tasks.log_set(library, "p2", "six-corners", 5, 8, on=TODAY, set_id="of-p2", today=TODAY)
    tasks.log_set(library, "p1", "six-corners", 5, 8, on=TODAY, set_id="of-p1", today=TODAY)
    tasks.undo_set(library, "p1", "of-p1")
    item = library_layout.bin_folder(library.folder) / only_item(library).id / "item.json"
    plain = JsonFile(item).read()
    for entry in ("of-p2", ["of-p2"], None, {"a": 1}):
        JsonFile(item).write({**plain, "rows": {**plain["rows"], "entry": entry}})
        item.parent.mkdir(exist_ok=True)
        tasks.empty_bin(library)
        item.parent.mkdir(exist_ok=True)
    assert [element.id for element in library.practice("p2")] == ["of-p2"]
