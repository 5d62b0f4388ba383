"""A third reader's attempts on libraries and back-ups of strangers; those marked "before" broke something."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError, NotOurLibrary
from goodlength.record import EntryKind
from goodlength.tasks.library import untrusted_backup_unpacking_limits

DATABASE = "library.sqlite3"
TRIGGER = "CREATE TRIGGER t AFTER INSERT ON entries BEGIN DELETE FROM entries; END"
ROW = "INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql) VALUES"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("good")
    with tasks.open_library(folder / "lib") as item:
        for name in ("iv", "pl"):
            tasks.add_player(item, name, player_id=name)
        tasks.new_match(item, ("iv", "pl"), match_id="m1")
        for n in range(5):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        return Path(tasks.back_up(item, folder / "b.zip").path)


def archived(
    good: Path,
    target: Path,
    *statements: str,
    more: dict[str, bytes] | None = None,
    bend: Callable[[bytearray], object] | None = None,
) -> Path:
    """The good back-up with statements run in its database, more files in it, or its bytes bent."""
    more = more or {}
    with zipfile.ZipFile(good) as old:
        plain, file = (
            json.loads(old.read(untrusted_backup_unpacking_limits.MANIFEST)),
            target.with_suffix(".sqlite3"),
        )
        file.write_bytes(old.read(DATABASE))
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("PRAGMA writable_schema=ON")
        for statement in statements:
            raw.execute(statement)
        raw.commit()
    held = {DATABASE: file.read_bytes(), **more}
    plain["sha256"] = {name: hashlib.sha256(data).hexdigest() for name, data in held.items()}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in {
            **held,
            untrusted_backup_unpacking_limits.MANIFEST: json.dumps(plain).encode(),
        }.items():
            new.writestr(name, data)
    if bend is not None:
        data = bytearray(target.read_bytes())
        bend(data)
        target.write_bytes(data)
    return target


@pytest.mark.parametrize(
    "statements",
    [
        (f"{ROW}('TRIGGER', 't', 'entries', 0, '{TRIGGER}')",),  # before: five answers, then none
        (f"{ROW}('table', 't', 'entries', 0, '{TRIGGER}')",),
        (f"{ROW}(NULL, 't', 'entries', 0, '{TRIGGER}')",),
        (f"{ROW}('table ', 't', 'entries', 0, '  {TRIGGER}')",),
        (f"{ROW}('x', 't', 'entries', 0, '{TRIGGER.lower()}')",),
        ("CREATE VIEW v AS SELECT 1", "UPDATE sqlite_master SET type = 'VIEW' WHERE name = 'v'"),
        (
            "CREATE VIRTUAL TABLE ft USING fts5(x)",  # before: taken for a table
            "UPDATE sqlite_master SET sql = 'create/**/virtual table ft using fts5(x)' WHERE name = 'ft'",
        ),
        ("CREATE UNIQUE INDEX u ON consents(given_by)",),  # before: the second consent ended in a mistake
    ],
)
def test_what_acts_by_itself_is_refused_whatever_it_is_called(good, tmp_path, statements) -> None:
    with pytest.raises(NotOurLibrary):
        tasks.restore(archived(good, tmp_path / "b.zip", *statements), tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    "statements",
    [
        ("CREATE TABLE other(x)",),
        ("CREATE INDEX e ON entries(length(value))",),
        ("ALTER TABLE entries ADD COLUMN g TEXT GENERATED ALWAYS AS (upper(value)) VIRTUAL",),
        ("CREATE TABLE child(x TEXT REFERENCES entries(id) ON DELETE CASCADE)",),
    ],
)
def test_what_does_no_harm_is_restored(good, tmp_path, statements) -> None:
    tasks.restore(archived(good, tmp_path / "b.zip", *statements), tmp_path / "new")
    with tasks.open_library(tmp_path / "new") as library:
        tasks.answer(library, "m1", "r9", EntryKind.WINNER, "b")
        assert len(library.entries("m1")) == 6


@pytest.mark.parametrize(
    "name",
    [  # before: written as they stand, to be shown by a console or taken for another name by Windows
        "uploads/0badc0de-\x1b[2Jx.mp4",
        "uploads/0badc0de-a\nb.mp4",
        "uploads/0badc0de-\u202egpj.mp4",
        "uploads/0badc0de-x.mp4. ",
        "uploads/0badc0de-x.mp4.",
        "clips/NUL",
        "clips/con.mp4",
        "library.sqlite3-wal",
        "heard/.json.lock",
        "Heard/m1.json",
    ],
)
def test_a_name_that_goodlength_never_gives_is_refused(good, tmp_path, name: str) -> None:
    with pytest.raises(NotOurLibrary, match="belongs to no library") as caught:
        tasks.restore(archived(good, tmp_path / "b.zip", more={name: b"x"}), tmp_path / "new")
    assert str(caught.value).isprintable()
    assert not (tmp_path / "new").exists()


def encrypted(data: bytearray) -> None:
    data[data.find(b"PK\x01\x02") + 8] |= 1


def packed_otherwise(data: bytearray) -> None:
    data[data.find(b"PK\x01\x02") + 10] = 93


def renamed_inside(data: bytearray) -> None:
    at = data.find(b"library.sqlite3")
    data[at : at + 15] = b"../evil.sqlite3"


@pytest.mark.parametrize("bend", [encrypted, packed_otherwise, renamed_inside])
def test_a_bent_archive_is_refused_in_words(good, tmp_path, bend) -> None:
    """Before: a part marked as encrypted ended in a RuntimeError."""
    with pytest.raises(GoodlengthError):
        tasks.restore(archived(good, tmp_path / "b.zip", bend=bend), tmp_path / "new")
    assert not (tmp_path / "new").exists()
    assert not list(tmp_path.rglob("*evil*"))
