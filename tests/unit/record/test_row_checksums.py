"""A checksum in every row: what changed on the disk is named, and an answer that changed is not believed."""

from __future__ import annotations

import asyncio
import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.record import Entry, EntryKind, MatchInfo, Player
from goodlength.record.model import Clip, Consent, Footage, KindOfServe
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat
from goodlength.record.store import Library, database_opening
from goodlength.record.store.database_tables import metadata
from goodlength.record.store.library_store import MOST_NAMED
from goodlength.record.store.row_checksums import checksum
from goodlength.scoring.scoring_types import Side, Start
from goodlength.tasks.library.library_opening_and_check import save_what_can_be_read
from goodlength.web.app import create_app

MOMENT = datetime(2026, 3, 7, 18, 30, 15, 250_000, tzinfo=UTC)
INFO = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A), played_on=date(2026, 3, 7))
CHANGES = {
    "players": "UPDATE players SET name = 'Imogen Vald' WHERE id = 'iv'",
    "consents": "UPDATE consents SET given_by = 'q'",
    "kinds": "UPDATE kinds SET words = 'lop' WHERE id = 'lob'",
    "settings": "UPDATE settings SET value = '3' WHERE key = 'x'",
    "matches": "UPDATE matches SET event = 'Cuq'",
    "entries": "UPDATE entries SET value = '\"b\"' WHERE id = 'e3'",
    "footage": "UPDATE footage SET starts_us = 4096",
    "clips": "UPDATE clips SET to_us = 3000000",
    "practice": "UPDATE practice SET value = replace(value, '7', '5')",
}


def fill(place: Path) -> None:
    """A library with something in every table, some of it saved twice."""
    agreed = Consent("parent", date(2026, 1, 1), ("clips",), None)
    with Library.open(place) as library:
        library.save_player(Player("iv", "Imogen Vale", "left", 2011, True, agreed, "left-hander"))
        library.save_player(Player("pl", "pl"))
        library.save_player(Player("pl", "P. Lunn"))
        library.save_kinds([KindOfServe("lob", "lob"), KindOfServe("hard", "hard")])
        library.set_setting("x", 1)
        library.set_setting("x", 2)
        library.save_match(INFO)
        library.save_match(replace(INFO, event="Cup"))
        library.append(
            [Entry(f"e{n}", "m1", "coach", MOMENT, f"r{n}", EntryKind.WINNER, "a") for n in range(30)]
        )
        library.append([Entry("e99", "m1", "coach", MOMENT, "", EntryKind.MATCH, {"court": "Court 2"})])
        library.save_footage(Footage("f1", "m1", 0, "/nowhere/film.mp4", False))
        library.save_footage(Footage("f1", "m1", 0, "/nowhere/film.mp4", False, starts_us=0))
        library.save_clip(Clip("c1", "m1", "r1", "/nowhere/clip.mp4", 0, 2_000_000, MOMENT))
        library.append_practice([PracticeEntry("p1", "iv", MOMENT, PracticeWhat.GROUP, "squad 7")])


def change(place: Path, *statements: str) -> None:
    with closing(sqlite3.connect(place / database_opening.FILE_NAME)) as raw:
        for statement in statements:
            assert raw.execute(statement).rowcount >= 1
        raw.commit()


def test_every_way_of_writing_a_row_gives_it_its_checksum(tmp_path):
    fill(tmp_path / "lib")
    with Library.open(tmp_path / "lib") as library:
        assert library.check() == ()
    with closing(sqlite3.connect(tmp_path / "lib" / database_opening.FILE_NAME)) as raw:
        for table in CHANGES:
            rows, summed = raw.execute(f"SELECT count(*), count(crc32) FROM {table}").fetchone()
            assert rows == summed > 0, table


def test_every_table_but_the_one_that_marks_the_file_is_held_to_this():
    derived = {name for name, table in metadata.tables.items() if table.info.get("derived")}
    # a damaged row of these is passed over: test_match_counts.py, test_season_columns_parquet_cache.py
    assert derived == {"match_counts", "season_parts"}
    assert set(CHANGES) == set(metadata.tables) - {"about"} - derived


@pytest.mark.parametrize("table", CHANGES)
def test_a_row_that_is_not_as_it_was_written_is_named_by_the_check(tmp_path, table):
    fill(tmp_path / "lib")
    change(tmp_path / "lib", CHANGES[table])
    with Library.open(tmp_path / "lib") as library:
        (told,) = library.check()
        assert library.check(rows=False) == ()
    assert "not as it was written" in told
    assert ("e3" in told and "r3" in told) if table == "entries" else table in told


def test_an_answer_that_changed_is_left_out_and_is_a_fault_of_its_match(tmp_path):
    fill(tmp_path / "lib")
    change(tmp_path / "lib", CHANGES["entries"])
    with Library.open(tmp_path / "lib") as library:
        (spoilt,) = [entry for entry in library.entries("m1") if entry.what is EntryKind.DAMAGED]
        assert (spoilt.id, spoilt.value["value"]) == ("e3", '"b"')
        faults = [fault for fault in tasks.show_match(library, "m1").faults if fault.code == "damaged-entry"]
    assert [fault.key for fault in faults] == ["r3"]
    assert "checksum" in faults[0].words


def test_a_value_that_became_bytes_and_a_checksum_that_is_gone_do_not_hide_the_other_answers(tmp_path):
    fill(tmp_path / "lib")
    change(
        tmp_path / "lib",
        "UPDATE entries SET value = CAST(value AS BLOB) WHERE id = 'e4'",
        "UPDATE entries SET crc32 = NULL WHERE id = 'e5'",
        "UPDATE entries SET value = CAST(value AS BLOB), crc32 = NULL WHERE id = 'e6'",
    )
    with Library.open(tmp_path / "lib") as library:
        spoilt = [entry.id for entry in library.entries("m1") if entry.what is EntryKind.DAMAGED]
        assert len(library.check()) == 3
    assert spoilt == ["e4", "e5", "e6"]


def test_no_changed_bit_of_a_library_is_taken_for_what_was_written(tmp_path):
    """Before there were checksums 25 of 200 changed bits of the demo library were read in silence."""
    fill(tmp_path / "lib")
    with Library.open(tmp_path / "lib") as library:
        library.copy_to(tmp_path / "good")
        wanted = library.entries("m1"), library.players(), library.matches(), library.clips("m1")
    good, rng, place = (tmp_path / "good").read_bytes(), random.Random(13), tmp_path / "spoilt"
    place.mkdir()
    silent, differ = [], 0
    text = [n for n in range(len(good)) if good[n]]  # what is empty in the file is nothing
    for at in rng.sample(text, 60):
        data = bytearray(good)
        data[at] ^= 1 << rng.randrange(7)
        (place / database_opening.FILE_NAME).write_bytes(bytes(data))
        try:
            with Library.open(place) as library:
                found = library.entries("m1"), library.players(), library.matches(), library.clips("m1")
                differ += found != wanted
                if found != wanted and not (library.problems or library.check()):
                    silent.append(at)
        except GoodlengthError:
            pass
        for side in place.glob("*-*"):
            side.unlink()
    assert differ > 5
    assert silent == []


def test_the_page_has_the_library_checked_in_the_background_once_it_is_served(tmp_path):
    fill(tmp_path / "lib")
    change(tmp_path / "lib", "UPDATE entries SET observer = 'coac(' WHERE id < 'e8'")
    app = create_app(tmp_path / "lib")
    library = app.state.library
    assert library.problems == ()

    async def serve() -> None:
        async with app.router.lifespan_context(app):
            for _ in range(400):
                if library.problems:
                    break
                await asyncio.sleep(0.01)

    asyncio.run(serve())
    assert sum("not as it was written" in problem for problem in library.problems) == MOST_NAMED
    assert "more like these: goodlength library check names them all" in library.problems[-1]


def test_a_damaged_answer_is_backed_up_and_saved_as_it_is_and_stays_named(tmp_path):
    fill(tmp_path / "lib")
    change(tmp_path / "lib", CHANGES["entries"])
    with Library.open(tmp_path / "lib") as library:
        made = tasks.back_up(library, tmp_path / "b.zip")
    back = tasks.restore(made.path, tmp_path / "back")
    assert any("e3" in problem for problem in back.problems)
    save_what_can_be_read(tmp_path / "lib", tmp_path / "saved")
    with Library.open(tmp_path / "saved") as library:
        assert [told for told in library.check() if "e3" in told]
        assert len(library.entries("m1")) == 32  # the change of the event is an entry too


def of_the_form_before(place: Path) -> None:
    """A library as the version before checksums left it."""
    change_raw = [f"ALTER TABLE {name} DROP COLUMN crc32" for name in CHANGES] + [
        "DROP TABLE match_counts",
        "DROP TABLE season_parts",
    ]
    with closing(sqlite3.connect(place / database_opening.FILE_NAME)) as raw:
        for item in (*change_raw, "UPDATE alembic_version SET version_num = '0002'"):
            raw.execute(item)
        raw.commit()


def test_an_older_library_gets_its_checksums_and_reads_as_before_byte_for_byte(tmp_path):
    fill(tmp_path / "lib")
    with Library.open(tmp_path / "lib") as library:
        (before,) = tasks.export_match(library, "m1", tmp_path / "before.json")
    of_the_form_before(tmp_path / "lib")
    with Library.open(tmp_path / "lib") as library:
        assert library.check() == ()
        (after,) = tasks.export_match(library, "m1", tmp_path / "after.json")
    assert after.read_bytes() == before.read_bytes()


def test_saving_from_an_older_library_gives_checksums_too(tmp_path):
    fill(tmp_path / "lib")
    of_the_form_before(tmp_path / "lib")
    save_what_can_be_read(tmp_path / "lib", tmp_path / "saved")
    with Library.open(tmp_path / "saved") as library:
        assert library.check() == ()
        assert len(library.entries("m1")) == 32


def test_the_checksum_of_a_row_is_the_same_for_good():
    """It stands in libraries: a change would call every row damaged. The value is that of `gzip`, by hand."""
    row = ("e1", "m1", "coach", MOMENT, "r1", "winner", '"a"', None)
    assert checksum(*row) == 3884382984
