"""Checksum in every row, so that a changed bit on disk is detected and named.

CRC-32 finds every single changed bit of a row, and any other change but one in four thousand million. Rows
that are gone are found by the database's own check, which compares each table with its indexes.
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from goodlength.record.store.database_tables import metadata

COLUMN = "crc32"
PIECE = 500
PAUSE_S = 0.001
_LEFT_OUT = (COLUMN, "seq")  # `seq` is given by the database and stands in an index too
NOTHING = "\x00"
BETWEEN = "\x1f"


def checksum(*values: Any) -> int:
    """Return the CRC-32 of a row's values in a fixed order, whatever database they come from.

    It stands in libraries for good: a change of it needs a migration.

    Examples
    --------
    >>> checksum("e1", None, 3, True)
    3010362810
    """
    return of_texts([_words(value) for value in values])


def of_texts(texts: Iterable[str]) -> int:
    """Return the checksum of values that are texts already; nothing is "\\x00"."""
    return zlib.crc32(BETWEEN.join(texts).encode("utf-8"))


def _words(value: Any) -> str:
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "1" if value else "0"
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return str(value)


def summed(table: sa.Table, values: Mapping[str, object]) -> dict[str, object]:
    """Return the values of a whole row with their checksum, ready to be written."""
    wanted = [values[column.name] for column in table.c if column.name not in _LEFT_OUT]
    return {**values, COLUMN: checksum(*wanted)}


def without_sum(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row's values as they were before the checksum was put beside them."""
    return {name: value for name, value in row.items() if name != COLUMN}


def spoilt(connection: sa.Connection) -> Iterator[tuple[str, str]]:
    """Yield each row that is not as it was written, or cannot be read: its table and its name in words."""
    for table in metadata.sorted_tables:
        if COLUMN in table.c and not table.info.get("derived"):
            yield from ((table.name, row) for row in _spoilt_rows(connection, table))


def _spoilt_rows(connection: sa.Connection, table: sa.Table) -> Iterator[str]:
    try:
        for n, row in enumerate(connection.execute(sa.select(table).execution_options(yield_per=PIECE))):
            if n % PIECE == 0:
                time.sleep(PAUSE_S)  # others want to work in this process too
            values = dict(row._mapping)
            if summed(table, values)[COLUMN] != values[COLUMN]:
                yield _named(table, values)
    except (ValueError, TypeError, KeyError) as error:
        yield f"a row that cannot be read ({error})"


def _named(table: sa.Table, values: Mapping[str, Any]) -> str:
    if table.name == "entries":
        where = f" of rally {values['rally']}" if values["rally"] else ""
        return f"answer {values['id']} ({values['what']}{where}, match {values['match']})"
    return " ".join(str(values[column.name]) for column in table.primary_key.columns)
