"""Everything specific to SQLite: pragmas, explicit BEGIN, its backup and its clean-up.

No other module of the store may hold SQL that PostgreSQL would not take.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy.dialects import registry
from sqlalchemy.dialects.sqlite.pysqlite import SQLiteDialect_pysqlite
from sqlalchemy.pool import NullPool
from sqlalchemy.util import LRUCache

from goodlength.errors import NoSpace
from goodlength.files.atomic_write import atomic_write

APPLICATION_ID = 0x676C6C62  # "gllb" in the head of the file: it is ours
BUSY_MS = 5_000
HEAD_BYTES = b"SQLite format 3\x00"
_PLAIN = {"table": "CREATE TABLE ", "index": "CREATE INDEX "}
TRUST_NOTHING = "trusted_schema=OFF"  # nothing in the file may call what could do harm
DRIVER = "sqlite+goodlength"
STATEMENTS: LRUCache[Any, Any] = LRUCache(1000)


class SharedDialect(SQLiteDialect_pysqlite):
    """The dialect of Python's own driver, each equal to the next.

    The compiled form of a statement is kept by dialect and statement: one that was compiled for one library
    serves every other that is opened.
    """

    supports_statement_cache = True

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self)

    def __hash__(self) -> int:
        return hash(type(self))


registry.register(DRIVER.replace("+", "."), __name__, SharedDialect.__name__)


_WAIT = {"timeout": BUSY_MS / 1000}


def _engine(url: sa.URL, **more: Any) -> sa.Engine:
    """Return an engine that takes compiled statements from, and gives them to, all others."""
    engine = sa.create_engine(url, **more)
    engine.update_execution_options(compiled_cache=STATEMENTS)
    return engine


def engine_for(file: Path, *, foreign_keys: bool = True) -> sa.Engine:
    """Return an engine on one file: WAL, full synchronous, own BEGIN IMMEDIATE, nothing left of deleted
    rows.
    """
    pool: dict[str, Any] = {} if foreign_keys else {"poolclass": NullPool}
    engine = _engine(sa.URL.create(DRIVER, database=str(file.absolute())), connect_args=_WAIT, **pool)

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: object) -> None:
        # The driver would commit around DDL by itself; with None only our own BEGIN counts.
        connection.isolation_level = None
        for pragma in (
            "journal_mode=WAL",
            "synchronous=FULL",
            f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
            "secure_delete=ON",
            TRUST_NOTHING,
        ):
            connection.execute(f"PRAGMA {pragma}").fetchall()

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        # A reader that later writes under a deferred BEGIN fails at once, however long it would wait.
        write = connection.get_execution_options().get("write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")

    return engine


def read_only_engine(file: Path) -> sa.Engine:
    """Return an engine that opens the file as it stands and changes nothing, not even its journal mode."""
    url = sa.URL.create(DRIVER, database=str(file.absolute()))
    engine = _engine(url, connect_args=_WAIT, poolclass=NullPool)
    sa.event.listen(engine, "connect", _trust_nothing)
    return engine


def engine_to_read(file: Path, *, still: bool) -> sa.Engine:
    """Return an engine that can only read; `still` for media nobody can write to, where no side files can
    be made.
    """
    name = _name_to_read(file, still)

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(name, uri=True, timeout=BUSY_MS / 1000, check_same_thread=False)

    engine = _engine(sa.URL.create(DRIVER), creator=connect, poolclass=NullPool)
    sa.event.listen(engine, "connect", _trust_nothing)
    return engine


def _trust_nothing(connection: sqlite3.Connection, _record: object) -> None:
    connection.execute(f"PRAGMA {TRUST_NOTHING}")


def foreign_parts(connection: sa.Connection) -> list[str]:
    """Return what goodlength never puts into a library and what could act by itself.

    SQLite goes by the text of each part, whatever its type is called: only a plain table or index is let in,
    and no rule of a stranger that values must be unique.
    """
    rows = connection.exec_driver_sql("SELECT type, name, sql FROM sqlite_master").all()
    return [
        f"{str(kind)[:20]} {str(name)[:60]!r}"
        for kind, name, sql in rows
        if sql is not None and not (kind in _PLAIN and str(sql).startswith(_PLAIN[kind]))
    ]


def first_damage(connection: sa.Connection) -> str | None:
    """Return the first thing the quick check finds; None when the file is sound as far as it looks."""
    message = str(connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one())
    return None if message == "ok" else message


def journal_mode(connection: sa.Connection) -> str:
    """Return the journal mode the file really has ("wal" is wanted)."""
    return str(connection.exec_driver_sql("PRAGMA journal_mode").scalar_one())


def mark_as_ours(connection: sa.Connection) -> None:
    """Write the application's number into the head of the file."""
    connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")


def application_id(connection: sa.Connection) -> int:
    """Return the number in the head of the file; 0 where no program has set one."""
    return int(connection.exec_driver_sql("PRAGMA application_id").scalar_one())


def broken_links(connection: sa.Connection) -> list[str]:
    """Return rows that point to a parent which is not there, one text each."""
    rows = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    return [f"{row[0]} row {row[1]} points to a missing row of {row[2]}" for row in rows]


def damage(connection: sa.Connection) -> list[str]:
    """Return what the database's own check finds; empty when the file is sound."""
    rows = connection.exec_driver_sql("PRAGMA integrity_check").fetchall()
    return [str(row[0]) for row in rows if row[0] != "ok"]


def clean(engine: sa.Engine) -> None:
    """Rewrite the file without its free pages and empty the write-ahead log."""
    with closing(engine.raw_connection()) as proxied:
        driver = proxied.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        driver.execute("VACUUM")
        driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


def copy_to(source: Path, target: Path) -> None:
    """Copy the whole database, also while it is in use; a copy of the file alone would lose its log."""
    try:
        with (
            atomic_write(target) as part,
            closing(_only_read(source)) as here,
            closing(sqlite3.connect(part)) as there,
        ):
            here.backup(there)
            _compact(there)
    except sqlite3.Error as error:
        if "full" in str(error):
            raise NoSpace(
                f"The disk with {target.parent} is full, so no copy of the library could be made. Free some "
                "space or name another disk; the library is as it was."
            ) from error
        raise sa.exc.DatabaseError("copy", None, error) from error


def _compact(copy: sqlite3.Connection) -> None:
    """Leave out what is free in a copy where that is most of it."""
    pages, free = (copy.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "freelist_count"))
    if 2 * free > pages:
        copy.isolation_level = None
        copy.execute("VACUUM")


def _name_to_read(file: Path, still: bool) -> str:
    return f"file:{quote(str(file.absolute()))}?mode=ro{'&immutable=1' if still else ''}"


def _only_read(file: Path) -> sqlite3.Connection:
    """Return the file opened to read; as it stands where no side files can be made."""
    if os.access(file.parent, os.W_OK):
        return sqlite3.connect(file)
    return sqlite3.connect(_name_to_read(file, still=True), uri=True)
