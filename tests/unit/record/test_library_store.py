"""The library file: what goes in comes back, entries are written once, and trouble is told in words."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
import sqlalchemy as sa

from goodlength.errors import Conflict, InputError, NewerLibrary, NoSpace, NotFound, NotOurLibrary, StoreError
from goodlength.record import (
    Clip,
    Consent,
    Entry,
    EntryKind,
    Footage,
    KindOfServe,
    MatchInfo,
    Player,
)
from goodlength.record.store import Library, database_opening, entry_log, sqlite
from goodlength.scoring.scoring_types import Format, Side, Start, System

NOON = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)
INFO = MatchInfo(
    "m1",
    ("iv", "pl"),
    Side.B,
    "Tideway Open",
    date(2026, 3, 7),
    Format(System.HAND_OUT, 9, 3, "2001"),
    Start((1, 0), (3, 2), Side.A),
    zone="Europe/Lisbon",
)


def entry(n: int, what: EntryKind = EntryKind.KIND, value: object = "lob", **more: object) -> Entry:
    return Entry(f"e{n}", "m1", "coach/t1", NOON + timedelta(seconds=n), "r1", what, value, **more)


@pytest.fixture
def library(tmp_path: Path):
    with Library.open(tmp_path / "lib") as opened:
        opened.save_player(Player("iv", "Imogen Vale", "right", 1999))
        opened.save_player(Player("pl", "Petra Lindqvist-Ode", "left"))
        opened.save_match(INFO)
        yield opened


def test_a_library_is_a_folder_with_one_file_and_three_folders(tmp_path):
    with Library.open(tmp_path / "new folder äß" / "lib"):
        names = sorted(path.name for path in (tmp_path / "new folder äß" / "lib").iterdir())
    assert [name for name in names if "-" not in name] == ["clips", "library.sqlite3", "proxies", "uploads"]


@pytest.mark.parametrize("name", ["a:b", "100%d", "mémé", "q?mode=ro", "file:x#y"])
def test_odd_folder_names_work(tmp_path, name):
    with Library.open(tmp_path / name) as library:
        library.save_player(Player("x", "X"))
    assert (tmp_path / name / "library.sqlite3").is_file()
    with Library.open(tmp_path / name) as library:
        assert [player.id for player in library.players()] == ["x"]


def test_the_file_is_written_ahead_in_full_with_links_checked_and_deleted_rows_wiped(library):
    with library._engine.connect() as connection:

        def pragma(name):
            return connection.exec_driver_sql(f"PRAGMA {name}").scalar()

        assert pragma("journal_mode") == "wal"
        assert (pragma("synchronous"), pragma("foreign_keys"), pragma("secure_delete")) == (2, 1, 1)
        assert pragma("application_id") == sqlite.APPLICATION_ID


def test_players_matches_and_details_come_back_as_they_went_in(library):
    assert library.match_info("m1") == INFO
    assert [player.name for player in library.players()] == ["Imogen Vale", "Petra Lindqvist-Ode"]
    consent = Consent("Ada Vale", date(2026, 1, 2), ("record", "clips"), date(2027, 1, 2))
    library.save_player(replace(library.player("iv"), consent=consent))
    library.save_player(replace(library.player("iv"), notes="left knee"))
    assert library.player("iv").consent == consent
    assert len(library.consents("iv")) == 1


def test_a_changed_consent_is_kept_beside_the_earlier_one(library):
    first = Consent("Imogen Vale", date(2026, 1, 2), ("record",), None)
    second = replace(first, purposes=())
    for consent in (first, second):
        library.save_player(replace(library.player("iv"), consent=consent))
    assert library.player("iv").consent == second
    assert [item["purposes"] for item in library.consents("iv")] == [["record"], []]


def test_an_entry_sent_twice_is_written_once(library):
    assert library.append([entry(1), entry(2)]) == [True, True]
    assert library.append([entry(2), entry(3), entry(3)]) == [False, True, False]
    assert [item.id for item in library.entries("m1")] == ["e1", "e2", "e3"]
    assert library.entries("m1")[0] == entry(1)


def test_the_same_id_with_another_answer_is_a_conflict_and_writes_nothing(library):
    library.append([entry(1)])
    with pytest.raises(Conflict, match="e1"):
        library.append([entry(5), replace(entry(1), value="hard")])
    assert [item.id for item in library.entries("m1")] == ["e1"]


def test_a_badly_written_entry_is_refused_with_every_fault_and_nothing_is_written(library):
    bad = [
        entry(1),
        entry(2, EntryKind.WINNER, "c"),
        entry(3, EntryKind.SPAN, {"start_us": 1.5}),
        entry(4, EntryKind.UNDO, None),
        replace(entry(5), rally=""),
    ]
    with pytest.raises(InputError) as told:
        library.append(bad)
    for part in (
        "e2",
        "winner is 'c'",
        "e3",
        "start_us",
        "e4",
        "an undo must name",
        "e5",
        "key of its rally",
    ):
        assert part in str(told.value)
    assert library.entries("m1") == ()


def test_an_entry_for_an_unknown_match_is_refused(library):
    with pytest.raises(NotFound, match="nowhere"):
        library.append([replace(entry(1), match="nowhere")])


def test_two_libraries_on_one_file_see_each_others_entries(library):
    with Library.open(library.folder) as other:
        library.append([entry(1)])
        assert [item.id for item in other.entries("m1")] == ["e1"]
        other.append([entry(2)])
        assert [item.id for item in library.entries("m1")] == ["e1", "e2"]
        other.remove_match("m1")
        with pytest.raises(NotFound):
            library.entries("m1")
        library.save_match(INFO)
        library.append([entry(7), entry(8)])
        assert [item.id for item in other.entries("m1")] == ["e7", "e8"]


def test_only_one_observers_layer_when_asked(library):
    library.append([entry(1), replace(entry(2), observer="helper"), replace(entry(3), observer="coach/t2")])
    assert [item.id for item in library.entries("m1", "coach")] == ["e1", "e3"]
    assert [item.id for item in library.entries("m1", "helper")] == ["e2"]


def test_a_line_that_cannot_be_read_comes_back_as_damaged_and_the_rest_is_there(library):
    library.append([entry(1), entry(2), entry(3)])
    with sqlite3.connect(library.place) as raw:
        raw.execute("UPDATE entries SET value = '{broken' WHERE id = 'e2'")
        raw.execute("UPDATE entries SET what = 'from-the-future' WHERE id = 'e3'")
    raw.close()
    with Library.open(library.folder) as again:
        found = again.entries("m1")
    assert [item.what for item in found] == [EntryKind.KIND, EntryKind.DAMAGED, EntryKind.DAMAGED]
    assert found[1].value["value"] == "{broken"
    assert "from-the-future" in found[2].value["why"]


def test_changed_details_are_in_the_row_and_in_the_log(library):
    library.save_match(replace(INFO, event="Tideway Open, final"))
    (change,) = library.entries("m1")
    assert (change.what, change.value) == (EntryKind.MATCH, {"event": "Tideway Open, final"})
    library.append([replace(entry(9, EntryKind.MATCH, {"court": "Court 2"}), rally="")])
    assert (library.match_info("m1").event, library.match_info("m1").court) == (
        "Tideway Open, final",
        "Court 2",
    )
    with pytest.raises(InputError, match="colour"):
        library.append([replace(entry(10, EntryKind.MATCH, {"colour": "red"}), rally="")])


def test_times_come_back_in_utc_whatever_zone_they_went_in_with(library):
    """The night the clocks go back: 01:30 twice, one hour apart (C34)."""
    summer, winter = timezone(timedelta(hours=1)), timezone(timedelta(0))
    early = replace(entry(1), at_utc=datetime(2024, 10, 27, 1, 30, tzinfo=summer))
    late = replace(entry(2), at_utc=datetime(2024, 10, 27, 1, 30, tzinfo=winter))
    library.append([early, late])
    with Library.open(library.folder) as again:
        first, second = again.entries("m1")
    assert second.at_utc - first.at_utc == timedelta(hours=1)
    assert first.at_utc.utcoffset() == timedelta(0)
    with pytest.raises(InputError, match="zone"):
        library.append([replace(entry(3), at_utc=datetime(2024, 10, 27, 1, 30))])


def test_kinds_left_out_are_retired_and_too_many_are_refused(library):
    library.save_kinds([KindOfServe("lob", "High lob"), KindOfServe("new", "Skid")])
    kinds = {kind.id: kind for kind in library.kinds()}
    assert (kinds["lob"].words, kinds["hard"].retired, kinds["new"].retired) == ("High lob", True, False)
    with pytest.raises(InputError, match="9 kinds"):
        library.save_kinds([KindOfServe(f"k{n}", f"K{n}") for n in range(9)])


def test_settings_footage_and_clips_come_back(library):
    library.set_setting("units", "feet")
    library.set_setting("light", "dim")
    library.set_setting("light", None)
    assert library.settings() == {"units": "feet"}
    second = Footage("f2", "m1", "/v/2.mp4", 1, look={"duration_s": 1.5})
    library.save_footage(second)
    library.save_footage(Footage("f1", "m1", "/v/1.mp4", 0, size=2**40, first_us=0, end_us=10**12))
    assert library.match_info("m1").footage == ("f1", "f2")
    assert library.footage("m1")[1] == second
    library.save_footage(replace(second, proxy="p.mp4"))
    assert library.footage_file("f2").proxy == "p.mp4"
    clip = Clip("c1", "m1", "clips/a.mp4", "r1", 0, 10, NOON)
    library.save_clip(clip)
    assert library.clips("m1") == (clip,)


def test_removing_a_match_takes_its_entries_and_a_player_in_a_match_stays(library):
    library.append([entry(1)])
    with pytest.raises(InputError, match="is in 1 matches"):
        library.remove_player("iv")
    library.remove_match("m1")
    library.remove_player("iv")
    assert [player.id for player in library.players()] == ["pl"]
    assert library.check() == ()


def test_rallies_are_counted_without_replay(library):
    rows = [
        entry(1),
        replace(entry(2), rally="r2"),
        replace(entry(3), rally="r3"),
        replace(entry(4), rally="r4"),
    ]
    undo = replace(entry(5, EntryKind.UNDO, None), rally="r2", replaces="e2")
    gone = replace(entry(6, EntryKind.REMOVE, True), rally="r3")
    back = replace(entry(7, EntryKind.UNDO, None), rally="r3", replaces="e6")
    helper = replace(entry(8), rally="r9", observer="helper")
    library.append([*rows, undo, gone])
    assert library.rally_counts() == {"m1": 2}
    library.append([back, helper])
    assert library.rally_counts() == {"m1": 3}


@pytest.mark.parametrize("content", [b"hello, this is a text file", b"\x00\x05\x16\x07" * 300])
def test_a_file_that_is_no_database_is_not_ours_and_left_as_it_is(tmp_path, content):
    (tmp_path / "library.sqlite3").write_bytes(content)
    with pytest.raises(NotOurLibrary, match="--library"):
        Library.open(tmp_path)
    assert (tmp_path / "library.sqlite3").read_bytes() == content


def test_another_programs_database_is_not_ours_and_left_as_it_is(tmp_path):
    with sqlite3.connect(tmp_path / "library.sqlite3") as raw:
        raw.execute("CREATE TABLE players (id TEXT)")
    raw.close()
    before = (tmp_path / "library.sqlite3").read_bytes()
    with pytest.raises(NotOurLibrary, match="another program"):
        Library.open(tmp_path)
    assert (tmp_path / "library.sqlite3").read_bytes() == before


def test_a_newer_library_is_named_as_such_and_left_as_it_is(library):
    library.close()
    with sqlite3.connect(library.place) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    before = Path(library.place).read_bytes()
    with pytest.raises(NewerLibrary, match=r"9999.*Update goodlength"):
        Library.open(library.folder)
    assert Path(library.place).read_bytes() == before


def test_a_library_cut_short_is_told_in_words(library):
    library.close()
    whole = Path(library.place).read_bytes()
    Path(library.place).write_bytes(whole[: len(whole) // 3])
    with pytest.raises(StoreError) as told, Library.open(library.folder) as damaged:
        damaged.matches()
        damaged.append([entry(1)])
    assert library.place in str(told.value)


def test_a_missing_library_is_made_only_when_allowed(tmp_path):
    with pytest.raises(NotFound, match="create one"):
        Library.open(tmp_path / "none", create=False)
    assert not (tmp_path / "none").exists()
    (tmp_path / "file.txt").write_text("x")
    with pytest.raises(NotOurLibrary, match="folder"):
        Library.open(tmp_path / "file.txt")


def test_an_empty_file_becomes_a_library(tmp_path):
    (tmp_path / "library.sqlite3").touch()
    with Library.open(tmp_path) as library:
        assert library.matches() == ()


def test_a_locked_library_is_told_and_loses_nothing(library, monkeypatch):
    monkeypatch.setattr(sqlite, "BUSY_MS", 50)
    with Library.open(library.folder) as other:
        holder = sqlite3.connect(library.place, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match=r"locked.*try again"):
            other.append([entry(1)])
        holder.execute("ROLLBACK")
        holder.close()
        assert other.append([entry(1)]) == [True]


def test_a_full_disk_is_told_and_loses_nothing_acknowledged(library):
    library.append([entry(1)])
    with library._engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    library._engine.dispose()

    @sa.event.listens_for(library._engine, "connect")
    def _small(raw, _record):
        raw.execute(f"PRAGMA max_page_count={pages}")

    with pytest.raises(NoSpace, match="full"):
        for n in range(2, 60):
            library.append([entry(n, EntryKind.NOTE, "x" * 1900)])
    kept = [item.id for item in library.entries("m1")]
    assert kept[0] == "e1" and len(kept) < 59
    assert library.check() == ()


def test_a_read_only_library_is_told(library):
    with library._engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only=ON")
        connection.rollback()
        with (
            pytest.raises(NoSpace, match="cannot be written"),
            database_opening.database_errors_in_words(library.place),
        ):
            connection.exec_driver_sql("DELETE FROM players")


def test_a_whole_copy_is_made_while_entries_wait_in_the_log(library, tmp_path):
    library.append([entry(n) for n in range(1, 50)])
    target = tmp_path / "copy"
    target.mkdir()
    library.copy_to(target / "library.sqlite3")
    with Library.open(target) as copy:
        assert len(copy.entries("m1")) == 49


def test_nothing_of_deleted_rows_is_left_after_cleaning(library):
    library.append([entry(1, EntryKind.NOTE, "unmistakable-words-of-a-note")])
    library.remove_match("m1")
    library.clean()
    for file in library.folder.glob("library.sqlite3*"):
        assert b"unmistakable-words" not in file.read_bytes()


def test_the_default_folder_follows_the_variable(monkeypatch, tmp_path):
    monkeypatch.setenv("GOODLENGTH_LIBRARY", str(tmp_path / "mine"))
    assert database_opening.default_folder() == tmp_path / "mine"
    monkeypatch.delenv("GOODLENGTH_LIBRARY")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr(database_opening.sys, "platform", "linux")
    assert database_opening.default_folder() == tmp_path / "data" / "goodlength"


def test_half_a_character_is_refused_and_nothing_written(library):
    with pytest.raises(InputError, match="broken character"):
        library.append(
            [entry(1, EntryKind.NOTE, "whole"), Entry("e2\ud800", "m1", "c", NOON, "r1", EntryKind.NOTE, "x")]
        )
    assert library.entries("m1") == ()


def test_a_library_opened_twice_keeps_its_locks_against_another_program(tmp_path: Path) -> None:
    """The second opening read the head of the file; closing it gave up the locks, and an answer was lost."""
    add = (
        "import sys\n"
        "from goodlength.record.model import Player\n"
        "from goodlength.record.store import Library\n"
        "with Library.open(sys.argv[1]) as library:\n"
        "    library.save_player(Player(sys.argv[2], sys.argv[2]))\n"
        "    print(*(player.id for player in library.players()))"
    )

    def elsewhere(name: str) -> str:
        command = [sys.executable, "-c", add, str(tmp_path), name]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    with Library.open(tmp_path) as library:
        library.save_player(Player("first", "First"))
        with Library.open(tmp_path) as again:
            again.save_player(Player("again", "Again"))
        elsewhere("second")
        library.save_player(Player("after", "After"))
        assert set(elsewhere("third").split()) == {"first", "again", "second", "after", "third"}


def test_reading_a_match_waits_for_no_answer_that_is_being_written(library: Library) -> None:
    """One lock for both had let every page wait for the disk of whoever wrote."""
    library.append([entry(1)])
    read: list[object] = []

    def look() -> None:
        read.append(library.entries("m1"))
        read.append(library.everything("m1").entries)

    with library._write() as connection:
        entry_log.append(connection, [entry(2)])
        other = threading.Thread(target=look)
        other.start()
        other.join(20.0)
        assert read == [(entry(1),), (entry(1),)]  # of what is not yet committed nothing is seen
    assert library.entries("m1") == (entry(1), entry(2))
