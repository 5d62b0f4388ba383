"""Back-ups that a stranger may have made: refused in words, within bounds, with nothing left behind."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import tracemalloc
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError, NoSpace, NotOurLibrary
from goodlength.record.model import Entry, EntryKind
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from goodlength.tasks.library import untrusted_backup_unpacking_limits
from goodlength.tasks.library.library_opening_and_check import save_what_can_be_read

DATABASE = "library.sqlite3"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A back-up of a library with one match."""
    folder = tmp_path_factory.mktemp("good")
    with tasks.open_library(folder / "lib") as item:
        for name in ("iv", "pl"):
            tasks.add_player(item, name, player_id=name)
        tasks.new_match(item, ("iv", "pl"), match_id="m1")
        for n in range(5):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        return Path(tasks.back_up(item, folder / "b.zip").path)


def made(
    good: Path,
    target: Path,
    about: Callable[[dict[str, Any]], object] = lambda _about: None,
    database: Callable[[Path], object] = lambda _file: None,
    text: bytes | None = None,
) -> Path:
    """The good back-up with its account, its database, or the text of its account changed."""
    with zipfile.ZipFile(good) as old:
        plain = json.loads(old.read(untrusted_backup_unpacking_limits.MANIFEST))
        file = target.with_suffix(".sqlite3")
        file.write_bytes(old.read(DATABASE))
    database(file)
    plain["sha256"][DATABASE] = hashlib.sha256(file.read_bytes()).hexdigest()
    about(plain)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        new.write(file, DATABASE)
        new.writestr(untrusted_backup_unpacking_limits.MANIFEST, json.dumps(plain) if text is None else text)
    file.unlink()
    return target


def refused(path: Path, words: str, kind: type[GoodlengthError] = NotOurLibrary) -> str:
    target = path.parent / "new"
    with pytest.raises(kind, match=words) as told:
        tasks.restore(path, target)
    assert not target.exists()
    assert not list(path.parent.glob(".*"))
    return str(told.value)


def test_the_good_one_is_restored(good: Path, tmp_path: Path) -> None:
    assert tasks.restore(made(good, tmp_path / "b.zip"), tmp_path / "new").problems == ()


@pytest.mark.parametrize("name", ["folder", "made_utc", "sha256", "form"])
@pytest.mark.parametrize("value", [None, 7, "", ["x"]], ids=str)
def test_an_account_that_lacks_something_or_holds_something_else_is_refused(
    good: Path, tmp_path: Path, name: str, value: object
) -> None:
    """Without `folder` or `made_utc` it had been a KeyError after everything was unpacked."""

    def change(about: dict[str, Any]) -> None:
        about.pop(name) if value is None else about.update({name: value})

    refused(made(good, tmp_path / "b.zip", change), "not a complete back-up|not a back-up this version")


def test_an_account_nested_200_000_deep_is_refused(good: Path, tmp_path: Path) -> None:
    """It had been a RecursionError."""
    refused(made(good, tmp_path / "b.zip", text=b"[" * 200_000), "nested too deeply")


def test_an_account_that_unpacks_to_more_than_any_library_is_not_read_whole(
    good: Path, tmp_path: Path
) -> None:
    """1.5 MB had unpacked to 1.5 GB in memory, with 3.2 GB at the peak."""
    bomb = made(good, tmp_path / "b.zip", text=b" " * (200 << 20))
    assert bomb.stat().st_size < 1 << 20
    tracemalloc.start()
    try:
        refused(bomb, "account of itself is longer than 16 MB")
        assert tracemalloc.get_traced_memory()[1] < 3 * untrusted_backup_unpacking_limits.MOST_MANIFEST
    finally:
        tracemalloc.stop()


def packed(good: Path, target: Path, size: int) -> Path:
    """A back-up with a film of so many zeros."""
    with zipfile.ZipFile(good) as old:
        plain = json.loads(old.read(untrusted_backup_unpacking_limits.MANIFEST))
        database = old.read(DATABASE)
    found = hashlib.sha256()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new:
        new.writestr(DATABASE, database)
        with new.open("uploads/film.mp4", "w") as sink:
            for _ in range(size >> 20):
                found.update(bytes(1 << 20))
                sink.write(bytes(1 << 20))
        plain["sha256"]["uploads/film.mp4"] = found.hexdigest()
        new.writestr(untrusted_backup_unpacking_limits.MANIFEST, json.dumps(plain))
    return target


def test_what_unpacks_to_more_than_a_library_can_is_not_unpacked(
    good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """3 MB had been unpacked to 3 GB unasked."""
    monkeypatch.setattr(untrusted_backup_unpacking_limits, "MOST_AT_ONCE", 16 << 20)
    assert "no library packs so small" in refused(packed(good, tmp_path / "b.zip", 32 << 20), "would unpack")


def test_what_does_not_fit_on_the_disk_is_not_begun(
    good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(
        untrusted_backup_unpacking_limits.shutil, "disk_usage", lambda _place: usage._replace(free=17 << 20)
    )
    said = refused(packed(good, tmp_path / "b.zip", 20 << 20), "unpacks to", NoSpace)
    assert "17.8 MB free" in said


def test_a_list_of_parts_without_end_is_not_read(good: Path, tmp_path: Path) -> None:
    """The list is read into memory whole, so its length is looked at first, in its long form too."""
    endless = tmp_path / "b.zip"
    with zipfile.ZipFile(endless, "w") as new:
        for n in range(5_000):
            new.writestr(f"clips/{n}-{'x' * 200}", b"")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(untrusted_backup_unpacking_limits, "MOST_LIST", 1 << 20)
        refused(endless, "list of parts is longer")
        data = bytearray(endless.read_bytes())
        size = int.from_bytes(data[-10:-6], "little")
        long_end = b"PK\x06\x06" + bytes(36) + size.to_bytes(8, "little") + bytes(8)
        data[-22:-22] = long_end + b"PK\x06\x07" + bytes(16)
        data[-10:-6] = b"\x01\x00\x00\x00"
        endless.write_bytes(bytes(data))
        refused(endless, "list of parts is longer")


@pytest.mark.parametrize(
    "name", ["clips/" + "a/" * 1500 + "x", "clips/" + "y" * 500, "elsewhere/x", "library.sqlite3-wal"]
)
def test_a_name_that_no_library_has_is_refused(good: Path, tmp_path: Path, name: str) -> None:
    path = made(good, tmp_path / "b.zip", lambda about: about["sha256"].update({name: "0" * 64}))
    with zipfile.ZipFile(path, "a") as more:
        more.writestr(name, b"")
    refused(path, "belongs to no library")


def test_a_name_that_stands_twice_is_refused(good: Path, tmp_path: Path) -> None:
    path = made(good, tmp_path / "b.zip")
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(path, "a") as more:
        more.writestr(DATABASE, b"another")
    refused(path, "does not hold what it says")


PLANTED = {
    "trigger": "CREATE TRIGGER gone AFTER INSERT ON entries BEGIN DELETE FROM entries; END",
    "view": "CREATE VIEW seen AS SELECT * FROM entries",
    "table": "CREATE VIRTUAL TABLE odd USING fts5(x)",
}


def plant(file: Path, kind: str) -> None:
    with closing(sqlite3.connect(file)) as raw:
        raw.execute(PLANTED[kind])
        raw.commit()


@pytest.mark.parametrize("kind", PLANTED)
def test_a_library_that_could_change_answers_by_itself_is_neither_restored_nor_opened(
    good: Path, tmp_path: Path, kind: str
) -> None:
    """A trigger had run in silence: 696 answers before one more was sent, 0 after."""
    path = made(good, tmp_path / "b.zip", database=lambda file: plant(file, kind))
    assert kind in refused(path, "never writes")
    place = tmp_path / "lib"
    place.mkdir()
    with zipfile.ZipFile(path) as zipped:
        zipped.extract(DATABASE, place)
    before = (place / DATABASE).read_bytes()
    with pytest.raises(NotOurLibrary) as told:
        Library.open(place)
    assert "--save-to" in told.value.command
    assert (place / DATABASE).read_bytes() == before
    save_what_can_be_read(place, tmp_path / "saved")
    with Library.open(tmp_path / "saved") as library:
        assert len(library.entries("m1")) == 5
        tasks.answer(library, "m1", "r9", EntryKind.WINNER, "b")
        assert len(library.entries("m1")) == 6


def test_nothing_in_the_file_is_trusted_to_call_functions(tmp_path: Path) -> None:
    with Library.open(tmp_path / "lib") as library, library._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA trusted_schema").scalar_one() == 0


def test_a_library_that_cannot_be_used_leaves_no_folder(good: Path, tmp_path: Path) -> None:
    """The unpacked folder had stayed, and hindered the next try with a sound back-up."""

    def spoil(file: Path) -> None:
        with closing(sqlite3.connect(file)) as raw:
            raw.execute("UPDATE matches SET info = 'x'")
            raw.commit()

    refused(made(good, tmp_path / "b.zip", database=spoil), "nothing was restored")
    refused(
        made(good, tmp_path / "b.zip", database=lambda file: file.write_bytes(b"x" * 9000)), "cannot be used"
    )
    assert tasks.restore(made(good, tmp_path / "b.zip"), tmp_path / "new").problems == ()


def test_a_back_up_of_a_library_that_is_mostly_free_space_is_not_taken_for_a_bomb(tmp_path: Path) -> None:
    with tasks.open_library(tmp_path / "lib") as item:
        for name in ("iv", "pl"):
            tasks.add_player(item, name, player_id=name)
        tasks.new_match(item, ("iv", "pl"), match_id="m1")
        long = [
            Entry(f"e{n}", "m1", "coach", now_utc(), f"r{n}", EntryKind.NOTE, "x" * 1900) for n in range(200)
        ]
        item.append(long)
        item.remove_match("m1")
        path = Path(tasks.back_up(item, tmp_path / "b.zip").path)
    with zipfile.ZipFile(path) as zipped:
        assert zipped.getinfo(DATABASE).file_size < 200_000 < (tmp_path / "lib" / DATABASE).stat().st_size
    assert tasks.restore(path, tmp_path / "new").players == 2
