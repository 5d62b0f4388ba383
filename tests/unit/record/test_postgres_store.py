"""The same library on a real PostgreSQL server: one writer at a time, nothing lost, said in words."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NewerLibrary, NotOurLibrary, StoreError
from goodlength.record import Entry, EntryKind, MatchInfo, Player, entry_log_replay
from goodlength.record.store import Library, database_opening, postgres, sqlite
from goodlength.record.store.database_tables import metadata
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.tasks.findings import season_search
from robustness.temporary_postgres_server import (
    ScratchServer,
    scratch_server,
    server_programs,
)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(server_programs() is None, reason="no PostgreSQL server programs on this machine"),
]
MOMENT = datetime(2026, 3, 7, tzinfo=UTC)
WRITER = """
import sys
from datetime import UTC, datetime
from goodlength.record import Entry, EntryKind
from goodlength.record.store import Library
url, folder, who, shared = sys.argv[1:]
with Library.open(url, folder=folder) as library:
    print("ready", flush=True)
    sys.stdin.readline()
    for n in range(60):
        at = datetime(2026, 3, 7, tzinfo=UTC)
        mine = Entry(f"{who}-{n}", "m1", f"coach/{who}", at, f"r{n}", EntryKind.NOTE, who)
        both = Entry(f"{shared}-{n}", "m1", "coach", at, f"r{n}", EntryKind.KEEP, True)
        print(*library.append([mine, both]), flush=True)
"""


@pytest.fixture(scope="module")
def server() -> Iterator[ScratchServer]:
    with scratch_server() as running:
        yield running


@pytest.fixture
def url(server: ScratchServer, request: pytest.FixtureRequest) -> str:
    return server.new_database(f"t{abs(hash(request.node.name))}")


def filled(url: str, folder: Path) -> Library:
    library = Library.open(url, folder=folder)
    for name in ("iv", "pl"):
        library.save_player(Player(name, name))
    library.save_match(MatchInfo("m1", ("iv", "pl")))
    return library


def test_the_migrations_make_the_same_tables_there(url: str, tmp_path: Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with Library.open(url, folder=tmp_path):
        engine = postgres.engine_for_url(url)
        with engine.connect() as connection:
            assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        engine.dispose()


def test_a_match_there_is_the_match_in_a_file(url: str, tmp_path: Path) -> None:
    answers = [
        Entry(f"e{n}", "m1", "coach", MOMENT, f"r{n}", EntryKind.WINNER, "ab"[n % 2]) for n in range(9)
    ]
    with filled(url, tmp_path / "a") as there, Library.open(tmp_path / "b") as here:
        for player in there.players():
            here.save_player(player)
        here.save_match(MatchInfo("m1", ("iv", "pl")))
        for library in (there, here):
            library.append(answers)
        assert there.entries("m1") == here.entries("m1")
        assert tasks.show_match(there, "m1") == tasks.show_match(here, "m1")
        found = tasks.search(there, tasks.SeasonQuestion()), tasks.search(here, tasks.SeasonQuestion())
        assert found[0].total == found[1].total == 9
        assert tasks.list_matches(there)[0].rallies == 9


def test_two_programs_record_one_match_at_once(url: str, tmp_path: Path) -> None:
    filled(url, tmp_path).close()
    words = [sys.executable, "-c", WRITER, url, str(tmp_path)]
    two = [
        subprocess.Popen([*words, who, "both"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for who in ("x", "y")
    ]
    for item in two:
        assert item.stdout is not None
        assert item.stdout.readline() == "ready\n"
    told = [element.communicate("go\n")[0].split() for element in two]
    assert [element.returncode for element in two] == [0, 0]
    with Library.open(url, folder=tmp_path) as library:
        entries = library.entries("m1")
    assert len(entries) == 180  # 60 of each, 60 that both sent, each of those once
    for who in ("x", "y"):
        mine = [entry.id for entry in entries if entry.value == who]
        assert mine == [f"{who}-{n}" for n in range(60)]
    assert told[0][::2] == told[1][::2] == ["True"] * 60
    assert all({a, b} == {"True", "False"} for a, b in zip(told[0][1::2], told[1][1::2], strict=True))


def test_a_killed_server_loses_nothing_it_confirmed(server: ScratchServer, url: str, tmp_path: Path) -> None:
    with filled(url, tmp_path) as library:
        library.append([Entry("e1", "m1", "coach", MOMENT, "r1", EntryKind.KEEP, True)])
        server.kill()
        server.start()
        for _ in range(20):  # while it recovers it says so
            try:
                library.append([Entry("e2", "m1", "coach", MOMENT, "r1", EntryKind.NOTE, "x")])
                break
            except StoreError:
                time.sleep(0.25)
        assert [entry.id for entry in library.entries("m1")] == ["e1", "e2"]


def test_erasing_rewrites_the_servers_tables(url: str, tmp_path: Path) -> None:
    with filled(url, tmp_path) as library:
        library.save_player(Player("zz", "Wilhelmina Quartermaine"))
        account = tasks.erase_player(library, "zz")
        assert "server's tables were rewritten" in account.words
        assert [player.id for player in library.players()] == ["iv", "pl"]


def test_what_belongs_to_others_or_to_a_newer_one_is_left_alone(
    server: ScratchServer, url: str, tmp_path: Path
) -> None:
    import sqlalchemy as sa

    filled(url, tmp_path).close()
    engine = postgres.engine_for_url(url)
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(NewerLibrary, match="newer goodlength"):
        Library.open(url, folder=tmp_path)
    strangers = postgres.engine_for_url(server.new_database("strangers"))
    with strangers.begin() as connection:
        connection.execute(sa.text("CREATE TABLE accounts (id int)"))
    with pytest.raises(NotOurLibrary, match="another program"):
        Library.open(server.url("strangers"), folder=tmp_path)
    engine.dispose()
    strangers.dispose()


def test_copies_and_moves_are_left_to_the_server(url: str, tmp_path: Path) -> None:
    with Library.open(url, folder=tmp_path / "files") as library:
        with pytest.raises(InputError, match="pg_dump"):
            tasks.back_up(library, tmp_path / "b.zip")
        with pytest.raises(InputError, match="own tools"):
            tasks.move_library(library, tmp_path / "new")


def test_a_server_that_waits_for_its_writer_says_so(
    url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(postgres, "WAIT_MS", 50)
    with filled(url, tmp_path) as library:
        other = postgres.engine_for_url(url).execution_options(write=True)
        with other.begin(), pytest.raises(StoreError, match="stayed locked"):
            library.set_setting("x", 1)
        other.dispose()


def test_addresses_that_are_none_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match="neither"):
        Library.open("mysql://a/b", folder=tmp_path)
    with pytest.raises(StoreError, match="cannot be reached"):
        Library.open("postgresql://nobody@127.0.0.1:1/x", folder=tmp_path)
    monkeypatch.setenv("GOODLENGTH_LIBRARY", "postgresql://coach@club/library")
    monkeypatch.setenv("GOODLENGTH_FILES", str(tmp_path))
    assert database_opening.default_place() == "postgresql://coach@club/library"
    assert database_opening.default_folder() == tmp_path
    assert sqlite.APPLICATION_ID == postgres.WRITER_LOCK


def test_the_command_line_takes_an_address(url: str, tmp_path: Path) -> None:
    filled(url, tmp_path).close()
    done = subprocess.run(
        [sys.executable, "-m", "goodlength", "--library", url, "match", "list", "--json"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "GOODLENGTH_FILES": str(tmp_path)},
    )
    assert '"m1"' in done.stdout


def test_a_second_coach_on_a_server_searches_without_replaying(url, tmp_path, monkeypatch):
    with filled(url, tmp_path / "first") as library:
        library.append([Entry("w1", "m1", "coach", MOMENT, "r1", EntryKind.WINNER, "a")])
        first = season_search.up_to_date(library).search(SeasonFilter())
    assert first.total == 1
    replayed = []
    monkeypatch.setattr(entry_log_replay, "match_from", lambda *log: replayed.append(log))
    with Library.open(url, folder=tmp_path / "second") as library:
        assert season_search.up_to_date(library).search(SeasonFilter()) == first
    assert replayed == []
