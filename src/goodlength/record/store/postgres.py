"""Everything specific to PostgreSQL.

One writer at a time, as with SQLite: every transaction that writes takes one lock of the server first. So the
order of entries is the order in which they were acknowledged, and nothing is read, changed and written back
by two at once. A commit takes a few milliseconds; a club does not write hundreds of answers a second.
"""

from __future__ import annotations

import sqlalchemy as sa

from goodlength.errors import InputError, NewerLibrary, NotOurLibrary
from goodlength.record.store.database_tables import metadata

DRIVER = "postgresql+psycopg"
WRITER_LOCK = 0x676C6C62  # "gllb": our own number among the server's advisory locks
CONNECT_S = 10
WAIT_MS = 5_000


def engine_for_url(url: str) -> sa.Engine:
    """Return an engine for a server's URL; commits are on its disk before they are confirmed.

    Raises
    ------
    InputError
        If the URL is no PostgreSQL one or the driver is not installed.
    """
    try:
        address = sa.make_url(url)
    except sa.exc.ArgumentError as error:
        raise InputError(
            "The library's address cannot be read. It looks like postgresql://user@server/name."
        ) from error
    if address.get_backend_name() != "postgresql":
        raise InputError(
            f"A library can be a folder or a PostgreSQL server; {address.get_backend_name()!r} is neither. "
            "An address looks like postgresql://user@server/name."
        )
    try:
        engine = sa.create_engine(
            address.set(drivername=DRIVER), pool_pre_ping=True, connect_args={"connect_timeout": CONNECT_S}
        )
    except ImportError as error:
        raise InputError(
            "A library on a server needs the package psycopg, which is not installed. "
            "Install it into goodlength's environment: pip install 'psycopg[binary]'."
        ) from error

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        if connection.get_execution_options().get("write", False):
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {WAIT_MS}")
            connection.exec_driver_sql("SET LOCAL synchronous_commit = on")
            take_turn(connection)

    return engine


def take_turn(connection: sa.Connection) -> None:
    """Wait for our turn to write; it ends with the transaction."""
    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")


def refuse_strangers(connection: sa.Connection, version: str | None, head: str, place: str) -> None:
    """Stop where the database belongs to another program, or to a newer goodlength."""
    tables = set(sa.inspect(connection).get_table_names())
    if version is None and tables:
        raise NotOurLibrary(
            f"The database {place} is not a goodlength library: it holds tables of another program. "
            "It was left as it is. Name an empty database."
        )
    if version is not None and version > head:
        raise NewerLibrary(
            f"The library {place} was written by a newer goodlength (its form is {version}, this version "
            f"knows up to {head}). It was left as it is. Update goodlength on this machine."
        )


def clean(engine: sa.Engine) -> None:
    """Rewrite every table without what was deleted from it."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for name in sorted(set(sa.inspect(connection).get_table_names()) & set(metadata.tables)):
            connection.exec_driver_sql(f'VACUUM FULL "{name}"')
