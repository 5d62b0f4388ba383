"""A damaged library opens to read only, and what can be read is saved; read-only media likewise."""

from __future__ import annotations

import json
import random
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from goodlength import tasks
from goodlength.cli.root_command import root
from goodlength.errors import NoSpace, NotOurLibrary, StoreError
from goodlength.record import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library, database_opening
from goodlength.record.store.damaged_library_salvage import LOST_NAME, UNPLACED_ROWS_FILE, salvage
from goodlength.tasks.library.library_opening_and_check import save_what_can_be_read

MOMENT = datetime(2026, 3, 7, tzinfo=UTC)
ENTRIES = 400


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    with Library.open(tmp_path / "lib") as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl")))
        library.append(
            [
                Entry(f"e{n}", "m1", "coach", MOMENT, f"r{n}", EntryKind.NOTE, f"note {n} " * 9)
                for n in range(ENTRIES)
            ]
        )
    return tmp_path / "lib"


def pages_of(file: Path, table: str) -> list[int]:
    """Leaf pages a table lies on, from the database's own account."""
    with closing(sqlite3.connect(file)) as raw:
        size = raw.execute("PRAGMA page_size").fetchone()[0]
        root_page = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0]
    data = file.read_bytes()
    start = (root_page - 1) * size
    count = int.from_bytes(data[start + 3 : start + 5], "big")
    assert data[start] == 5, "the table is too small to have leaves of its own"
    cells = [int.from_bytes(data[start + 12 + 2 * n : start + 14 + 2 * n], "big") for n in range(count)]
    return [int.from_bytes(data[start + at : start + at + 4], "big") for at in cells]


def spoil(folder: Path, table: str, which: int) -> None:
    """Overwrite one leaf page of a table with noise."""
    file = folder / database_opening.FILE_NAME
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = raw.execute("PRAGMA page_size").fetchone()[0]
    page = pages_of(file, table)[which]
    data = bytearray(file.read_bytes())
    data[(page - 1) * size : page * size] = random.Random(3).randbytes(size)
    file.write_bytes(bytes(data))


def test_a_damaged_library_opens_to_read_only_and_says_what_to_do(filled):
    spoil(filled, "entries", 3)
    with Library.open(filled) as library:
        assert len(library.problems) == 1
        assert "read only" in library.problems[0]
        assert "--save-to" in library.problems[0]
        assert [player.id for player in library.players()] == ["iv", "pl"]
        with pytest.raises(NoSpace, match="cannot be written"):
            library.save_player(Player("new", "new"))
    before = (filled / database_opening.FILE_NAME).read_bytes()
    Library.open(filled).close()
    assert (filled / database_opening.FILE_NAME).read_bytes() == before


def test_what_can_be_read_is_saved_and_what_is_lost_is_counted(filled, tmp_path):
    leaves = len(pages_of(filled / database_opening.FILE_NAME, "entries"))
    assert leaves > 6
    spoil(filled, "entries", 3)
    told = CliRunner().invoke(
        root, ["library", "check", "--library", str(filled), "--save-to", str(tmp_path / "new")]
    )
    assert told.exit_code == 0, told.output
    with Library.open(tmp_path / "new") as library:
        assert library.problems == ()
        kept = library.entries("m1")
        assert ENTRIES - 2 * ENTRIES // leaves <= len(kept) < ENTRIES  # about one page's answers are lost
        assert [entry.id for entry in kept] == sorted((e.id for e in kept), key=lambda item: int(item[1:]))
        assert kept[-1].id == f"e{ENTRIES - 1}"  # those behind the damage too
        assert library.check() == ()
    assert f"{len(kept)} answers" in told.output
    assert "could not be read" in told.output


def test_two_damaged_stretches_keep_what_lies_between(filled, tmp_path):
    spoil(filled, "entries", 1)
    spoil(filled, "entries", 6)
    found = salvage(filled / database_opening.FILE_NAME, tmp_path / "new")
    with Library.open(tmp_path / "new") as library:
        numbers = {int(entry.id[1:]) for entry in library.entries("m1")}
    assert 0 in numbers
    assert ENTRIES - 1 in numbers
    assert found.saved["entries"] == len(numbers) > ENTRIES * 0.6
    assert found.unreadable["entries"] >= 2


def test_lost_names_get_a_place_and_rows_without_one_are_written_beside(filled, tmp_path):
    with closing(sqlite3.connect(filled / database_opening.FILE_NAME)) as raw:
        raw.execute("DELETE FROM players WHERE id = 'pl'")
        raw.execute(
            "INSERT INTO entries (id, match, observer, at_utc, rally, what, value) VALUES "
            "('lone', 'gone', 'coach', '2026-03-07 00:00:00', 'r1', 'note', '\"x\"')"
        )
        raw.commit()
    found = salvage(filled / database_opening.FILE_NAME, tmp_path / "new")
    assert (found.names_lost, found.without_a_place) == (1, 1)
    with Library.open(tmp_path / "new") as library:
        assert library.player("pl").name == LOST_NAME
        assert library.player("pl").junior  # nobody is shown whose age is not known
        assert len(library.entries("m1")) == ENTRIES
    assert '"lone"' in (tmp_path / "new" / UNPLACED_ROWS_FILE).read_text()


def test_a_list_of_tables_that_cannot_be_read_is_said(filled, tmp_path):
    file = filled / database_opening.FILE_NAME
    data = bytearray(file.read_bytes())
    data[100:4096] = bytes(3996)
    file.write_bytes(bytes(data))
    with pytest.raises(StoreError, match=r"list of tables|no table|cannot be read|not a goodlength"):
        save_what_can_be_read(filled, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_read_only_media_open_to_read(filled, monkeypatch):
    with closing(sqlite3.connect(filled / database_opening.FILE_NAME)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = sorted(path.name for path in filled.iterdir())
    monkeypatch.setattr(database_opening.os, "access", lambda *_: False)
    with Library.open(filled) as library:
        assert "nothing can be written" in library.problems[0]
        assert len(library.entries("m1")) == ENTRIES
        assert len(tasks.show_match(library, "m1").rallies) == ENTRIES
        with pytest.raises(NoSpace):
            library.append([Entry("x", "m1", "coach", MOMENT, "r1", EntryKind.KEEP, True)])
    assert sorted(path.name for path in filled.iterdir()) == before


def test_long_jobs_are_refused_where_nothing_can_be_written(tmp_path, monkeypatch):
    from goodlength.jobs import job_queue

    monkeypatch.setattr(job_queue.os, "access", lambda *_: False)
    with job_queue.Jobs(tmp_path) as none, pytest.raises(NoSpace, match="Nothing can be written"):
        none.start("proxy", tasks.sweep, {})


def changed(folder: Path, *words: str) -> None:
    """Write into the tables behind the program's back."""
    with closing(sqlite3.connect(folder / database_opening.FILE_NAME)) as raw:
        for word in words:
            raw.execute(word)
        raw.commit()


def test_rows_that_no_version_wrote_are_saved_beside(filled, tmp_path):
    changed(
        filled,
        "UPDATE entries SET at_utc = 'noon' WHERE id = 'e1'",
        "UPDATE entries SET rally = x'00ff' WHERE id = 'e2'",
        "UPDATE players SET born_year = 'old' WHERE id = 'iv'",
    )
    told = salvage(filled / database_opening.FILE_NAME, tmp_path / "saved")
    assert told.saved["entries"] == ENTRIES - 2
    beside = (tmp_path / "saved" / UNPLACED_ROWS_FILE).read_text(encoding="utf-8").splitlines()
    assert sorted(json.loads(line)["table"] for line in beside) == [
        "entries",
        "entries",
        "players",
    ]
    with Library.open(tmp_path / "saved") as library:
        assert len(library.entries("m1")) == ENTRIES - 2
        assert library.check() == ()


def test_a_match_with_spoilt_details_keeps_its_answers(filled, tmp_path):
    changed(filled, "UPDATE matches SET info = '[]'")
    told = salvage(filled / database_opening.FILE_NAME, tmp_path / "saved")
    assert (told.saved["entries"], told.without_a_place) == (ENTRIES, 1)
    with Library.open(tmp_path / "saved") as library:
        assert library.match_info("m1").players == ("iv", "pl")
        assert library.check() == ()


def test_an_entry_with_a_spoilt_name_is_shown_as_damaged(filled):
    changed(filled, "UPDATE entries SET rally = x'00ff' WHERE id = 'e2'")
    with Library.open(filled) as library:
        (item,) = [entry for entry in library.entries("m1") if entry.what is EntryKind.DAMAGED]
    assert item.id == "e2"


def test_a_value_that_cannot_be_read_is_told_with_the_next_step(filled):
    changed(filled, "UPDATE matches SET info = 'x'")
    with Library.open(filled) as library, pytest.raises(NotOurLibrary) as told:
        library.match_info("m1")
    assert "library check --save-to" in told.value.command


def test_text_that_is_none_is_told_and_saved_round(filled, tmp_path):
    changed(
        filled,
        "UPDATE players SET notes = CAST(x'a4a4' AS TEXT) WHERE id = 'iv'",
        "UPDATE entries SET value = CAST(x'22a422' AS TEXT) WHERE id = 'e7'",
    )
    with Library.open(filled) as library:
        for read in (lambda: library.entries("m1"), library.players):
            with pytest.raises(NotOurLibrary) as refused:
                read()
            assert "check --save-to" in refused.value.command
    told = salvage(filled / database_opening.FILE_NAME, tmp_path / "saved")
    assert told.saved["entries"] >= ENTRIES - 2


def test_a_list_of_tables_in_no_letters_is_told(filled, tmp_path):
    with closing(sqlite3.connect(filled / database_opening.FILE_NAME)) as raw:
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute("UPDATE sqlite_master SET name = CAST(x'a4' AS TEXT) WHERE name = 'settings'")
        raw.commit()
    with pytest.raises(NotOurLibrary, match="list of tables is damaged"):
        salvage(filled / database_opening.FILE_NAME, tmp_path / "saved")


def test_a_library_too_broken_to_look_over_is_told_how_to_save_what_can_be_saved(filled, tmp_path):
    """It had only said to put back a copy, though nearly every answer could be saved."""
    with closing(sqlite3.connect(filled / database_opening.FILE_NAME)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    file = filled / database_opening.FILE_NAME
    data = bytearray(file.read_bytes())
    root_page = pages_of(file, "entries")[0]
    data[28:32] = (10**6).to_bytes(4, "big")  # its head says it is longer than it is
    data[(root_page - 1) * 4096] = 0x7F
    file.write_bytes(bytes(data))
    with pytest.raises(StoreError) as told, Library.open(filled) as library:
        library.append([Entry("x", "m1", "coach", MOMENT, "r1", EntryKind.KEEP, True)])
    assert "check --save-to" in f"{told.value} {told.value.command}"
