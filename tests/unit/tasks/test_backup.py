"""Back-up, restore and move: consistent, read back, nothing overwritten, nothing let out of the folder."""

from __future__ import annotations

import errno
import json
import os
import re
import socket
import stat
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import Conflict, NotFound, NotOurLibrary
from goodlength.record.model import Clip, EntryKind
from goodlength.record.store import Library


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "old") as item:
        a = tasks.add_player(item, "Imogen Vale", player_id="iv")
        b = tasks.add_player(item, "Petra Lindqvist-Ode", player_id="plo")
        tasks.new_match(item, (a.id, b.id), match_id="m1")
        for n in range(5):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        (item.folder / "clips").mkdir(exist_ok=True)
        (item.folder / "heard").mkdir(exist_ok=True)
        (item.folder / "clips" / "c.mp4").write_bytes(b"film" * 1000)
        (item.folder / "heard" / "h.json").write_text("{}")
        item.save_clip(Clip("c", "m1", str(item.folder / "clips" / "c.mp4"), None, 0, 1, datetime.now(UTC)))
        yield item


def test_what_goes_in_comes_back(library: Library, tmp_path: Path) -> None:
    made = tasks.back_up(library, tmp_path / "b.zip", films=True)
    assert (made.players, made.matches, made.entries) == (2, 1, 5)
    tasks.answer(library, "m1", "r9", EntryKind.WINNER, "b")  # after the back-up
    back = tasks.restore(made.path, tmp_path / "new")
    assert back.problems == ()
    with tasks.open_library(tmp_path / "new", create=False) as again:
        assert len(again.entries("m1")) == 5
        clip = again.clips("m1")[0]
        assert Path(clip.path) == tmp_path / "new" / "clips" / "c.mp4"
        assert Path(clip.path).read_bytes() == b"film" * 1000
        assert (again.folder / "heard" / "h.json").is_file()


def test_films_are_left_out_unless_wished(library: Library, tmp_path: Path) -> None:
    made = tasks.back_up(library, tmp_path)
    assert Path(made.path).parent == tmp_path
    assert "videos are not in it" in made.words
    with zipfile.ZipFile(made.path) as zipped:
        assert not [name for name in zipped.namelist() if name.startswith("clips/")]
    back = tasks.restore(made.path, tmp_path / "new")
    assert any("clip" in problem for problem in back.problems)  # said, not hidden


def test_nothing_is_overwritten(library: Library, tmp_path: Path) -> None:
    made = tasks.back_up(library, tmp_path / "b.zip")
    with pytest.raises(Conflict, match="there already"):
        tasks.back_up(library, tmp_path / "b.zip")
    with pytest.raises(Conflict, match="not empty"):
        tasks.restore(made.path, library.folder)
    with pytest.raises(NotFound, match="no folder"):
        tasks.back_up(library, tmp_path / "nowhere" / "b.zip")
    assert not list(tmp_path.glob(".*"))


def damaged(source: Path, target: Path, change: str) -> Path:
    """A back-up with one thing wrong in it."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        about = json.loads(old.read("goodlength-backup.json"))
        data = {name: old.read(name) for name in old.namelist() if name != "goodlength-backup.json"}
        if change == "bytes":
            data["library.sqlite3"] = data["library.sqlite3"][:-1] + b"?"
        if change == "climbs":
            data["../evil.txt"] = b"evil"
            about["sha256"]["../evil.txt"] = "0" * 64
        if change == "stranger":
            data["clips/extra.mp4"] = b"x"
        if change == "newer":
            about["form"] = 99
        for name, content in data.items():
            new.writestr(name, content)
        new.writestr("goodlength-backup.json", json.dumps(about))
    return target


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("bytes", "damaged at library"),
        ("climbs", "belongs to no library"),
        ("stranger", "does not hold"),
        ("newer", "newer goodlength"),
    ],
)
def test_a_back_up_with_something_wrong_is_refused_whole(
    library: Library, tmp_path: Path, change: str, words: str
) -> None:
    made = tasks.back_up(library, tmp_path / "b.zip")
    wrong = damaged(Path(made.path), tmp_path / "wrong.zip", change)
    with pytest.raises(NotOurLibrary, match=words):
        tasks.restore(wrong, tmp_path / "new")
    assert not (tmp_path / "new").exists()
    assert not (tmp_path / "evil.txt").exists()
    assert not list(tmp_path.glob(".*"))


def test_no_back_up_is_said(tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"no zip")
    with pytest.raises(NotOurLibrary, match="not a back-up"):
        tasks.restore(tmp_path / "x.zip", tmp_path / "new")
    with pytest.raises(NotFound, match=r"none\.zip"):
        tasks.restore(tmp_path / "none.zip", tmp_path / "new")


def test_a_moved_library_works_and_the_old_one_is_aside(library: Library, tmp_path: Path) -> None:
    moved = tasks.move_library(library, tmp_path / "disk" / "new")
    assert moved.matches == 1
    assert len(moved.problems) == 1  # where the old one is kept
    assert not (tmp_path / "old").exists()
    assert len(list(tmp_path.glob("old.moved-*"))) == 1
    with tasks.open_library(tmp_path / "disk" / "new", create=False) as again:
        assert Path(again.clips("m1")[0].path).is_file()


def test_a_library_with_its_page_open_is_not_moved(library: Library, tmp_path: Path) -> None:
    from goodlength.jobs.job_queue import Jobs

    with Jobs(library.folder), pytest.raises(Conflict, match="page is open"):
        tasks.move_library(library, tmp_path / "new")
    with pytest.raises(Conflict, match="own folder"):
        tasks.move_library(library, library.folder / "sub")
    assert (tmp_path / "old").is_dir()


def test_what_a_killed_back_up_left_is_removed_and_hinders_nobody(library, tmp_path):
    begin = [sys.executable, "-c", "import os; print(os.getpid())"]
    gone = subprocess.run(begin, capture_output=True, text=True, check=True).stdout.strip()
    host = re.sub(r"[^A-Za-z0-9]", "", socket.gethostname()) or "here"
    left = [
        tmp_path / f".goodlength-{host}-{gone}-x",
        tmp_path / f".goodlength-{host}-{os.getpid()}-y",
        tmp_path / ".goodlength-elsewhere-1-z",
    ]
    for item in left:
        item.mkdir()
        (item / "library.sqlite3").write_bytes(b"names")
    made = tasks.back_up(library, tmp_path / "b.zip")
    assert Path(made.path).is_file()
    assert [element.exists() for element in left] == [False, True, True]


def test_a_back_up_with_a_spoilt_part_is_told_whichever_way_it_is_spoilt(library, tmp_path):
    made = Path(tasks.back_up(library, tmp_path / "b.zip").path)
    whole = made.read_bytes()
    with zipfile.ZipFile(made) as zipped:
        info = zipped.getinfo("library.sqlite3")
        begin = (
            info.header_offset + 30 + len("library.sqlite3") + 20
        )  # its own header, and the extra of a long one
    for n in range(0, info.compress_size - 40, max(1, info.compress_size // 60)):
        spoilt = bytearray(whole)
        spoilt[begin + n : begin + n + 3] = b"\xff\x00\xa5"
        (tmp_path / "s.zip").write_bytes(bytes(spoilt))
        with pytest.raises(NotOurLibrary, match="damaged"):
            tasks.restore(tmp_path / "s.zip", tmp_path / "new")
        assert not (tmp_path / "new").exists()


@pytest.fixture
def windows_fsync(monkeypatch: pytest.MonkeyPatch) -> None:
    """As Windows does: a file that was opened only to read cannot be written to the disk."""
    fcntl = pytest.importorskip("fcntl")
    real = os.fsync

    def fsync(handle: int) -> None:
        reading = fcntl.fcntl(handle, fcntl.F_GETFL) & os.O_ACCMODE == os.O_RDONLY
        if reading and not stat.S_ISDIR(os.fstat(handle).st_mode):  # folders are left out on Windows already
            raise OSError(errno.EBADF, os.strerror(errno.EBADF))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)


@pytest.mark.usefixtures("windows_fsync")
def test_a_back_up_is_written_where_only_open_for_writing_goes_to_disk(
    library: Library, tmp_path: Path
) -> None:
    made = tasks.back_up(library, tmp_path / "b.zip", films=True)
    assert zipfile.ZipFile(made.path).testzip() is None


@pytest.mark.usefixtures("windows_fsync")
def test_a_library_moves_where_only_open_for_writing_goes_to_disk(library: Library, tmp_path: Path) -> None:
    tasks.move_library(library, tmp_path / "new")
    with tasks.open_library(tmp_path / "new") as moved:
        assert [list_match.id for list_match in tasks.list_matches(moved)] == ["m1"]
