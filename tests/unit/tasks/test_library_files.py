"""Every kind of file of a library: declared once, and held to what is declared."""

from __future__ import annotations

import ast
import hashlib
import json
import re
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, NotOurLibrary
from goodlength.files import library_layout
from goodlength.files.library_layout import KINDS, BackUp, kind_of
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.model import Clip, Footage, MatchInfo, Player
from oracles.parsed_source import parsed

SOURCE = Path(library_layout.__file__).parent.parent
ONE_OF_EACH = {
    "part of a write": "heard/.goodlength-part-12ab.json",
    "database": "library.sqlite3",
    "database at work": "library.sqlite3-journal",
    "older database": "library.sqlite3.before-0003",
    "account of an erasure": "erased-2025-01-01-101010-1.txt",
    "import looked at": "uploads/0badc0de-import-coach.csv",
    "upload": "uploads/0badc0de-game 1.mp4",
    "practice copy": "proxies/practice-0badc0de.mp4",
    "frames of the original": "proxies/f1.original.frames.npz",
    "frames of the copy": "proxies/f1.frames.npz",
    "previews of a video": "proxies/f1.previews.json",
    "copy that plays": "proxies/f1.mp4",
    "list for the player": "clips/m1-talk-list.json",
    "lines on a pair": "clips/m1-beside-lines.json",
    "drawings on frames": "clips/m1-frame-drawings.json",
    "names of clips": "clips/m1-clip-names.json",
    "notes between games": "clips/m1-between-notes.json",
    "made to show": "clips/m1-reel-12ab.mp4",
    "clip": "clips/m1-r7.mp4",
    "state of a transfer": f"transfers/m1.{'0badc0de' * 3}.json",
    "video being received": f"transfers/m1.{'0badc0de' * 3}.bytes",
    "sound of a file": "heard/f1.npz",
    "motion of a file": "heard/f1.motion.npz",
    "rallies heard": "heard/m1.json",
    "rallies corrected": "heard/m1.said.json",
    "answers to a review": "heard/m1.review.json",
    "players tracked": "tracks/m1.json",
    "tracks corrected": "tracks/m1.said.json",
    "ball detected": "balls/m1.npz",
    "ball followed": "balls/m1.json",
    "ball corrected": "balls/m1.said.json",
    "joints found": "bodies/m1.json",
    "joints corrected": "bodies/m1.said.json",
    "cameras of a file": "cameras/f1.json",
    "court found in a file": "cameras/f1.court.json",
    "pack": "handouts/m1-pack-12ab.zip",
    "handout": "handouts/handout-m1.pdf",
    "handout as typed": "handouts/handout-m1.json",
    "preparation as asked for": "preparation/m1.json",
    "list of a long task": "jobs/0badc0de.json",
    "word to a long task": "jobs/0badc0de.cancel",
    "record of what was removed": "bin/0badc0de0bad/item.json",
    "small file removed": "bin/0badc0de0bad/files/bodies/m1.said.json",
    "removed": "bin/0badc0de0bad/files/uploads/0badc0de-x.mp4",
    "columns of the season": "season/rallies-1.duckdb",
    "lock": "jobs/owner.lock",
    "demo film": "demo/game-1.mp4",
}
MADE_BY_WRITING = {"jobs/.json.lock"}  # a path in the list of a long task is turned to the new folder
IN_BIN = {"record of what was removed", "small file removed", "removed"}
MADE_BY_OPENING = {"database", "database at work", "older database", "columns of the season", "demo film"}


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "old") as made:
        made.save_player(Player("p1", "Petra"))
        made.save_player(Player("p2", "Opal"))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        upload = made.folder / ONE_OF_EACH["upload"]
        made.save_footage(Footage("f1", "m1", str(upload), copied=True, proxy="proxies/f1.mp4"))
        made.save_clip(Clip("c1", "m1", str(made.folder / ONE_OF_EACH["clip"])))
        for kind in KINDS:
            if kind.name not in MADE_BY_OPENING:
                path = made.folder / ONE_OF_EACH[kind.name]
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text("{}")
        (made.folder / "jobs" / "0badc0de.json").write_text(
            json.dumps(
                {
                    "id": "0badc0de",
                    "kind": "attempts",
                    "share": 1.0,
                    "words": "",
                    "state": "done",
                    "function": "a:b",
                    "args": {
                        "player": "p1",
                        "drill": "d",
                        "src": "/elsewhere/x.mp4",
                        "proxy": str(made.folder / "proxies/practice-0badc0de.mp4"),
                        "keep": str(made.folder / "proxies/practice-0badc0de.heard.npz"),
                    },
                }
            )
        )
        yield made


def names(folder: Path) -> set[str]:
    return {name for name, _, _ in library_layout.files_in(folder)}


def expected(back_up: set[BackUp]) -> set[str]:
    return {
        ONE_OF_EACH[kind.name]
        for kind in KINDS
        if kind.back_up in back_up and kind.name not in MADE_BY_OPENING
    }


def test_every_kind_has_its_example_and_is_told_by_its_name() -> None:
    assert set(ONE_OF_EACH) == {kind.name for kind in KINDS}
    for name, path in ONE_OF_EACH.items():
        found = kind_of(path)
        assert found is not None and found.name == name


def test_a_back_up_and_its_restoring_hold_what_is_declared(library, tmp_path: Path) -> None:
    for films, wanted in ((False, {BackUp.ALWAYS}), (True, {BackUp.ALWAYS, BackUp.WITH_FILMS})):
        made = tasks.back_up(library, tmp_path / f"b{films}.zip", films=films)
        back = tmp_path / f"back{films}"
        tasks.restore(made.path, back)
        have = {name for name in names(back) if not name.startswith("library.sqlite3")} - MADE_BY_WRITING
        assert have == expected(wanted)


def test_a_move_brings_all_that_is_declared(library, tmp_path: Path) -> None:
    tasks.move_library(library, tmp_path / "new")
    have = {name for name in names(tmp_path / "new") if not name.startswith("library.sqlite3")}
    have -= MADE_BY_WRITING
    assert have == {
        ONE_OF_EACH[item.name] for item in KINDS if item.moved and item.name not in MADE_BY_OPENING
    }


def test_a_moved_practice_recording_is_found_in_the_new_folder(library, tmp_path: Path) -> None:
    tasks.move_library(library, tmp_path / "new")
    args = json.loads((tmp_path / "new" / "jobs" / "0badc0de.json").read_text())["args"]
    assert args["proxy"] == str(tmp_path / "new" / "proxies" / "practice-0badc0de.mp4")
    assert args["src"] == "/elsewhere/x.mp4"


def test_erasing_a_player_leaves_nothing_of_theirs(library) -> None:
    tasks.erase_player(library, "p1")
    left = {kind.name for _, _, kind in library_layout.files_in(library.folder) if kind and kind.erased}
    assert left <= IN_BIN  # emptied by owner: see test_bin
    assert not (library.folder / ONE_OF_EACH["import looked at"]).exists()


def test_removing_a_match_takes_its_files_and_leaves_the_rest(library) -> None:
    tasks.remove_match(library, "m1")
    left = {kind.name for _, _, kind in library_layout.files_in(library.folder) if kind and kind.erased}
    assert left == {*IN_BIN, "practice copy", "list of a long task"}


def test_a_person_is_told_of_every_file(library, tmp_path: Path) -> None:
    told = json.loads(tasks.export_player(library, "p1", tmp_path / "p.json").read_text())
    named = set(told["matches"][0]["files_made"]) | set(told["files_of_practice"])
    exported = [kind.name for kind in KINDS if kind.exported and kind.name not in IN_BIN]
    wanted = {Path(ONE_OF_EACH[name]).name for name in exported}
    assert wanted - {"game-1.mp4"} <= named


def test_a_file_of_no_kind_is_named_by_the_check_and_refused_from_a_back_up(library, tmp_path: Path) -> None:
    (library.folder / "notes").mkdir()
    (library.folder / "notes" / "mine.txt").write_text("x")
    assert any("notes/mine.txt" in problem for problem in tasks.library_check(library).problems)
    assert not library_layout.may_be_restored("notes/mine.txt")
    assert not library_layout.may_be_restored("season/rallies-1.duckdb")


def test_what_was_typed_and_is_damaged_is_named_by_the_check(library) -> None:
    (library.folder / "bodies" / "m1.said.json").write_text('{"half')
    assert any("m1.said.json" in problem for problem in tasks.library_check(library).problems)


def test_no_other_module_makes_a_path_of_the_library() -> None:
    """A folder of the library is named in `files.library_layout` alone (handout_zip_archive.py names a folder inside its zip)."""
    folders = set(library_layout.FOLDERS)
    found = []
    for path in SOURCE.rglob("*.py"):
        if (
            path.name == "library_layout.py"
            or {"bench", "demo"} & set(path.relative_to(SOURCE).parts)
            or path.name == "handout_zip_archive.py"
        ):
            continue
        for node in ast.walk(parsed(path.read_text("utf-8"))):
            if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div):
                right = node.right
                if isinstance(right, ast.Constant) and right.value in folders:
                    found.append(f"{path.relative_to(SOURCE)}:{node.lineno}")
            if isinstance(node, ast.JoinedStr):
                first = node.values[0] if node.values else None
                if isinstance(first, ast.Constant) and re.match(rf"({'|'.join(folders)})/", str(first.value)):
                    found.append(f"{path.relative_to(SOURCE)}:{node.lineno}")
    assert found == []


def test_a_damaged_side_file_is_refused_and_never_overwritten(tmp_path: Path) -> None:
    file = JsonFile(tmp_path / "a.json")
    assert file.read() == {}
    file.update(lambda plain: {**plain, "a": 1})
    assert file.update(lambda plain: {**plain, "b": 2}) == {"a": 1, "b": 2}
    assert json.loads(file.path.read_text())["form"] == 2
    for damage in ('{"a": 1', "[]", '{"form": 3}', "[" * 100_000):
        file.path.write_text(damage)
        with pytest.raises(DamagedFile, match=r"a\.json"):
            file.update(lambda plain: {**plain, "c": 3})
        assert file.path.read_text() == damage
        assert file.shown() == {}


def test_what_lies_in_the_database_or_outside_is_never_deleted(library, tmp_path: Path) -> None:
    for bad in ("library.sqlite3", "library.sqlite3-wal", "../x.mp4", "erased-2025.txt", "season/a.duckdb"):
        assert not library_layout.may_be_deleted(library.folder, library.folder / bad)
    assert library_layout.may_be_deleted(library.folder, library.folder / "proxies" / "f1.mp4")


def test_a_link_out_of_the_library_is_never_followed(library, tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    film.write_text("x")
    link = library.folder / "proxies" / "f2.mp4"
    link.symlink_to(film)
    assert not library_layout.may_be_deleted(library.folder, link)


def test_a_back_up_with_a_strange_file_is_refused(library, tmp_path: Path) -> None:
    import zipfile

    made = tasks.back_up(library, tmp_path / "b.zip")
    with zipfile.ZipFile(made.path) as old:
        about = json.loads(old.read("goodlength-backup.json"))
        data = {name: old.read(name) for name in old.namelist() if name != "goodlength-backup.json"}
    about["sha256"]["season/evil.duckdb"] = hashlib.sha256(b"").hexdigest()
    with zipfile.ZipFile(tmp_path / "w.zip", "w") as new:
        for name, content in {**data, "season/evil.duckdb": b""}.items():
            new.writestr(name, content)
        new.writestr("goodlength-backup.json", json.dumps(about))
    with pytest.raises(NotOurLibrary, match="belongs to no library"):
        tasks.restore(tmp_path / "w.zip", tmp_path / "n")
