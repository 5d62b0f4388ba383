"""The practice log: written once, taken back by an entry, gone with the player; older libraries get it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from goodlength.errors import Conflict, NotFound
from goodlength.record.model import Player
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.record.store import Library, database_opening, sqlite

AT = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
SET = PracticeEntry("s1", "iv", AT, PracticeWhat.SET, {"drill": "lob-to-the-box", "hits": 9, "attempts": 15})


@pytest.fixture
def library(tmp_path: Path):
    with Library.open(tmp_path / "lib") as opened:
        opened.save_player(Player("iv", "Imogen Vale"))
        yield opened


def test_a_set_sent_twice_counts_once(library: Library) -> None:
    assert library.append_practice([SET]) == [True]
    assert library.append_practice([SET, SET]) == [False, False]
    assert library.practice("iv") == (SET,)


def test_the_same_id_for_another_set_is_refused_and_nothing_is_lost(library: Library) -> None:
    library.append_practice([SET])
    with pytest.raises(Conflict, match="s1"):
        library.append_practice([replace(SET, id="s2"), replace(SET, value={"hits": 1})])
    assert library.practice("iv") == (SET,)


def test_a_player_that_is_not_there_is_named(library: Library) -> None:
    with pytest.raises(NotFound, match="nobody"):
        library.append_practice([replace(SET, player="nobody")])


def test_an_undo_takes_back_and_an_undo_of_it_brings_again(library: Library) -> None:
    undo = PracticeEntry("u1", "iv", AT, PracticeWhat.UNDO, None, "s1")
    library.append_practice([SET, undo])
    assert effective_entries(library.practice("iv")) == ()
    library.append_practice([PracticeEntry("u2", "iv", AT, PracticeWhat.UNDO, None, "u1")])
    assert effective_entries(library.practice("iv")) == (SET,)


def test_the_log_goes_with_the_player(library: Library) -> None:
    library.append_practice([SET])
    library.remove_player("iv")
    with pytest.raises(NotFound):
        library.practice("iv")


def test_a_library_of_the_version_before_gets_the_table_and_keeps_its_rows(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    folder.mkdir()
    file = folder / "library.sqlite3"
    database_opening.migrate_file(file, "0001", backup=False)
    engine = sqlite.engine_for(file)
    with engine.execution_options(write=True).begin() as connection:
        connection.execute(sa.text("INSERT INTO players VALUES ('iv', 'Imogen Vale', 'right', NULL, 0, '')"))
    engine.dispose()
    with Library.open(folder) as library:
        assert [player.id for player in library.players()] == ["iv"]
        assert library.append_practice([SET]) == [True]
