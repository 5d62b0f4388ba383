"""Columns made by one coach are taken by the next: the same rallies, without a replay, and nothing stale."""

from __future__ import annotations

import shutil
import sqlite3
import zlib
from contextlib import closing

import duckdb
import pytest

from goodlength.record import EntryKind
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import MatchInfo, Player
from goodlength.record.store import Library, database_opening
from goodlength.record.store.season import (
    season_columns_parquet_cache,
    season_duckdb_connection,
    season_duckdb_file,
)
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.record.store.season.season_columns_parquet_cache import season_parts
from goodlength.record.store.season.season_duckdb_file import Season
from goodlength.scoring.scoring_types import Side, Start
from goodlength.tasks.findings import season_search

MATCHES = ("m0", "m1", "m2", "m3")


@pytest.fixture
def library(tmp_path):
    with pytest.MonkeyPatch.context() as patch:  # as if it lay on a server, where columns are shared
        patch.setattr(Library, "on_server", True)
        yield from filled_library(tmp_path)


def filled_library(tmp_path):
    with Library.open(tmp_path / "lib") as opened:
        for player_id in ("iv", "pl"):
            opened.save_player(Player(player_id, player_id))
        for match_id in MATCHES:
            opened.save_match(MatchInfo(match_id, ("iv", "pl"), start=Start(server=Side.A)))
            pen = EntryWriter(match_id)
            for n in range(5):
                note = "Überkopf, 'quoted'" if n == 2 else ""
                pen.rally(f"r{n}", kind="lob", winner="ab"[n % 2], ending="winner", note=note)
            opened.append(pen.entries)
        yield opened


def second_coach(library, monkeypatch):
    """Search as a coach whose folder is empty; gives the rallies found, and the matches replayed for it."""
    shutil.rmtree(library.folder / "season")
    replayed = []
    before = season_duckdb_file.columns_of
    monkeypatch.setattr(
        season_duckdb_file,
        "columns_of",
        lambda matches: replayed.extend(each.info.id for each in matches) or before(matches),
    )
    found = season_search.up_to_date(library).search(SeasonFilter())
    monkeypatch.undo()
    return found, sorted(replayed)


def parts_of(library):
    with library._read() as connection:
        return season_parts(connection)


def add_note(library, match_id, words="again"):
    pen = EntryWriter(match_id)
    library.append([pen.write("r0", EntryKind.NOTE, words)])


def test_a_second_coach_finds_the_same_rallies_without_a_replay(library, monkeypatch):
    first = season_search.up_to_date(library).search(SeasonFilter())
    found, replayed = second_coach(library, monkeypatch)
    assert (found, replayed) == (first, [])
    assert found.total == 20
    assert {rally.note for rally in found.rallies} == {"", "Überkopf, 'quoted'"}


def test_only_a_match_changed_since_is_replayed_and_shared_again(library, monkeypatch):
    season_search.up_to_date(library)
    add_note(library, "m1")
    library.save_match(MatchInfo("m4", ("pl", "iv"), start=Start(server=Side.A)))
    found, replayed = second_coach(library, monkeypatch)
    assert replayed == ["m1", "m4"]
    assert sum(rally.note == "again" for rally in found.rallies) == 1
    assert second_coach(library, monkeypatch) == (found, [])


def test_a_few_changed_matches_of_many_are_left_to_the_next_coach(library, monkeypatch):
    """Sharing one of thousands costs more than replaying it: they are shared some at a time."""
    season_search.up_to_date(library)
    before = {part.id for part in parts_of(library)}
    monkeypatch.setattr(season_duckdb_file, "SHARED_FROM", 2)
    monkeypatch.setattr(season_duckdb_file, "MOST_STATES", 0)  # as after a start of the program each time
    add_note(library, "m1")
    season_search.up_to_date(library)
    assert {part.id for part in parts_of(library)} == before
    add_note(library, "m2")
    season_search.up_to_date(library)
    assert {part.id for part in parts_of(library)} != before
    found, replayed = second_coach(library, monkeypatch)
    assert (found.total, replayed) == (20, [])


def test_what_is_removed_from_the_record_is_in_no_part(library, monkeypatch):
    season_search.up_to_date(library)
    library.remove_match("m2")
    assert parts_of(library) == []
    found, _ = second_coach(library, monkeypatch)
    assert found.total == 15
    assert sorted(match for part in parts_of(library) for match in part.matches) == ["m0", "m1", "m3"]


def test_columns_are_not_shared_of_a_match_removed_meanwhile(library, monkeypatch):
    before = Season._parquet

    def removed_meanwhile(season, names):
        made = before(season, names)
        library.remove_match("m2")
        return made

    monkeypatch.setattr(Season, "_parquet", removed_meanwhile)
    season_search.up_to_date(library)
    assert parts_of(library) == []


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE season_parts SET rallies = X'00'",
        "UPDATE season_parts SET rallies = CAST(rallies || X'00' AS BLOB)",
        "UPDATE season_parts SET matches = 'no'",
        "UPDATE season_parts SET form = '1'",
    ],
)
def test_a_damaged_or_older_part_is_passed_over(library, monkeypatch, damage):
    first = season_search.up_to_date(library).search(SeasonFilter())
    with closing(sqlite3.connect(library.folder / database_opening.FILE_NAME)) as raw:
        raw.execute(damage)
        raw.commit()
    assert second_coach(library, monkeypatch) == (first, list(MATCHES))
    assert library.check() == ()


HOSTILE = {
    "other columns": "SELECT 'm0' AS match, 'x' AS note",
    "a column too many": "SELECT *, 1 AS more FROM rallies",
    "a column of another type": "SELECT * REPLACE (CAST(n AS VARCHAR) AS n) FROM rallies",
    "columns in another order": "SELECT * EXCLUDE (match), match FROM rallies",
    "more rallies than a match can have": "SELECT r.* FROM rallies AS r, range(2000)",
}


def replace_part(library, parquet):
    """As somebody who may write to the store would: the checksum fits."""
    with library._write() as connection:
        (matches,) = connection.exec_driver_sql("SELECT matches FROM season_parts").fetchone()
        values = (parquet, zlib.crc32(parquet, zlib.crc32(matches.encode())))
        connection.exec_driver_sql("UPDATE season_parts SET rallies = ?, crc32 = ?", values)


@pytest.mark.parametrize("what", HOSTILE)
def test_a_part_that_is_no_ready_columns_is_refused_and_worked_out_again(library, monkeypatch, what):
    first = season_search.up_to_date(library).search(SeasonFilter())
    with duckdb.connect(str(Season(library.folder)._files()[0]), read_only=True) as season:
        season.execute(f"COPY ({HOSTILE[what]}) TO '{library.folder}/hostile' (FORMAT parquet)")
    replace_part(library, (library.folder / "hostile").read_bytes())
    assert second_coach(library, monkeypatch) == (first, list(MATCHES))


@pytest.mark.parametrize("size", [0, 4, 5_000])
def test_bytes_that_are_no_columns_at_all_are_refused(library, monkeypatch, size):
    first = season_search.up_to_date(library).search(SeasonFilter())
    replace_part(library, b"PAR1" * (size // 4) + b"\xff\xff\xff\x7fPAR1")
    assert second_coach(library, monkeypatch) == (first, list(MATCHES))


@pytest.mark.parametrize(
    "limit", ["season_columns_parquet_cache.MOST_BYTES", "season_duckdb_connection.MOST_UNPACKED"]
)
def test_a_part_that_is_too_large_is_refused_before_it_is_unpacked(library, monkeypatch, limit):
    first = season_search.up_to_date(library).search(SeasonFilter())
    monkeypatch.setattr(f"goodlength.record.store.season.{limit}", 100)
    shutil.rmtree(library.folder / "season")
    opened = []
    monkeypatch.setattr(season_duckdb_connection, "note_versions", lambda *given: opened.append(given))
    season = Season(library.folder)
    with season._new_part() as part:
        season._begin(part, season._known(), season.stale(library))
        assert season._take_ready(library, part, season.stale(library).marks) == set()
    assert opened == []
    monkeypatch.undo()
    monkeypatch.setattr(Library, "on_server", True)
    assert season_search.up_to_date(library).search(SeasonFilter()) == first


def test_the_columns_in_a_stranger_s_folder_are_never_read(library, monkeypatch):
    """A library of one coach's own that came with columns in it: worked out from the record alone."""
    first = season_search.up_to_date(library).search(SeasonFilter())
    read = []
    monkeypatch.setattr(season_duckdb_file, "part_columns", lambda *given: read.append(given) or ())
    monkeypatch.setattr(Library, "on_server", False)
    shutil.rmtree(library.folder / "season")
    assert season_search.up_to_date(library).search(SeasonFilter()) == first
    assert read == []


def test_many_changes_leave_few_parts(library, monkeypatch):
    monkeypatch.setattr(season_columns_parquet_cache, "MOST_SMALL_PARTS", 3)
    for n in range(12):
        add_note(library, MATCHES[n % 4], f"note {n}")
        season_search.up_to_date(library)
        assert len(parts_of(library)) <= 4
    monkeypatch.undo()
    found, replayed = second_coach(library, monkeypatch)
    assert (found.total, replayed) == (20, [])


def test_a_library_that_cannot_be_written_is_searched_all_the_same(library, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(season_duckdb_file, "add_part", full)
    assert season_search.up_to_date(library).search(SeasonFilter()).total == 20
    assert parts_of(library) == []


def test_the_library_of_one_coach_holds_no_second_copy(library, monkeypatch):
    monkeypatch.setattr(Library, "on_server", False)
    assert season_search.up_to_date(library).search(SeasonFilter()).total == 20
    assert parts_of(library) == []
