"""Migrations: they make the tables the store speaks of, and rebuilding a parent keeps its children."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from goodlength.errors import StoreError
from goodlength.record import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library, database_opening, sqlite
from goodlength.record.store.database_tables import HEAD, metadata

REBUILD = '''"""Rebuilds the table of players, to which consents and matches point."""
import sqlalchemy as sa
from alembic import op
revision = "next"
down_revision = "0002"


def upgrade():
    if {players}:
        with op.batch_alter_table("players", recreate="always") as batch:
            batch.add_column(sa.Column("club", sa.Text))
    with op.batch_alter_table("matches", recreate="always") as batch:
        batch.add_column(sa.Column("hall", sa.Text))
    {more}


def downgrade():
    pass
'''


def newer(tmp_path: Path, more: str = "pass", players: bool = True) -> Path:
    """The migrations with one more, which rebuilds both parents."""
    there = tmp_path / "migrations"
    shutil.copytree(database_opening.MIGRATIONS, there, ignore=shutil.ignore_patterns("__pycache__"))
    (there / "versions" / "v9999_rebuild.py").write_text(REBUILD.format(more=more, players=players))
    return there


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    with Library.open(tmp_path / "lib") as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl")))
        moment = datetime(2026, 3, 7, tzinfo=UTC)
        library.append([Entry(f"e{n}", "m1", "coach", moment, "r1", EntryKind.NOTE, "x") for n in range(20)])
    return tmp_path / "lib" / "library.sqlite3"


def rows(file: Path, table: str) -> int:
    engine = sqlite.engine_for(file)
    with engine.connect() as connection:
        count = int(connection.execute(sa.text(f"SELECT count(*) FROM {table}")).scalar_one())
    engine.dispose()
    return count


def test_the_newest_migration_is_the_one_the_store_names():
    config = Config()
    config.set_main_option("script_location", str(database_opening.MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_current_head() == HEAD


def test_the_migrations_make_exactly_the_tables_of_the_store(filled):
    engine = sqlite.engine_for(filled)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    engine.dispose()


def made_of(file: Path) -> set[tuple[str, ...]]:
    """What the file says it is made of: each statement's parts, whatever their order and blanks."""
    engine = sqlite.engine_for(file)
    with engine.connect() as connection:
        rows = connection.execute(sa.text("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")).scalars()
        bare = str.maketrans("", "", "() ,\n\t")
        found = {tuple(sorted(part.translate(bare) for part in sql.split("CONSTRAINT"))) for sql in rows}
    engine.dispose()
    return found


def test_a_new_library_is_made_of_the_same_as_one_that_was_migrated(filled, tmp_path):
    migrated = tmp_path / "migrated.sqlite3"
    database_opening.migrate_file(migrated, backup=False)
    assert made_of(migrated) == made_of(filled)


def test_rebuilding_parents_keeps_every_child_row_and_a_copy_from_before(filled, tmp_path):
    copy = database_opening.migrate_file(filled, "next", newer(tmp_path))
    assert (rows(filled, "players"), rows(filled, "matches"), rows(filled, "entries")) == (2, 1, 20)
    assert copy is not None
    assert rows(copy, "entries") == 20
    engine = sqlite.engine_for(filled)
    with engine.connect() as connection:
        assert "club" in {column["name"] for column in sa.inspect(connection).get_columns("players")}
        assert sqlite.damage(connection) == []
        assert sqlite.broken_links(connection) == []
    engine.dispose()


def test_the_trap_is_real_with_keys_on_the_same_rebuild_loses_the_children(filled, tmp_path):
    """Why `migrate_file` turns the keys off: otherwise every entry goes, in silence."""
    engine = sqlite.engine_for(filled, foreign_keys=True).execution_options(write=True)
    with engine.begin() as connection:
        database_opening.upgrade(connection, "next", newer(tmp_path, players=False))
    engine.dispose()
    assert rows(filled, "entries") == 0


def test_a_migration_that_breaks_a_link_is_taken_back_whole(filled, tmp_path):
    with pytest.raises(StoreError, match="left as it was"):
        database_opening.migrate_file(filled, "next", newer(tmp_path, 'op.execute("DELETE FROM players")'))
    assert (rows(filled, "players"), rows(filled, "entries")) == (2, 20)
    with Library.open(filled.parent) as library:
        assert library.check() == ()


def test_a_migration_that_fails_half_way_leaves_nothing_behind(filled, tmp_path):
    with pytest.raises(sa.exc.OperationalError):
        database_opening.migrate_file(
            filled, "next", newer(tmp_path, 'op.execute("SELECT nothing FROM nowhere")')
        )
    engine = sqlite.engine_for(filled)
    with engine.connect() as connection:
        assert "club" not in {column["name"] for column in sa.inspect(connection).get_columns("players")}
    engine.dispose()


def test_the_same_migrations_are_written_for_postgresql():
    said = io.StringIO()
    config = Config(output_buffer=said)
    config.set_main_option("script_location", str(database_opening.MIGRATIONS))
    config.set_main_option("dialect", "postgresql")
    command.upgrade(config, "head", sql=True)
    for table in metadata.tables:
        assert f"CREATE TABLE {table} (" in said.getvalue()
    assert "at_utc TIMESTAMP WITH TIME ZONE NOT NULL" in said.getvalue()
    assert "PRAGMA" not in said.getvalue()


def test_opening_a_library_of_the_newest_form_does_not_load_the_migration_library(filled):
    code = (
        "import sys; from goodlength.record.store import Library\n"
        f"Library.open({str(filled.parent)!r}).close()\n"
        "assert 'alembic' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
