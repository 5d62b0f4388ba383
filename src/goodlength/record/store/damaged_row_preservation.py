"""Preserve damaged rows of a match: read as they are, and written back unchanged."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, TypedDict

import sqlalchemy as sa

from goodlength.record.model import EntryKind
from goodlength.record.store import database_tables as t
from goodlength.record.store import entry_log
from goodlength.record.store.row_checksums import COLUMN, summed

_TABLES = {"matches": (t.matches, t.matches.c.id)} | {
    table.name: (table, table.c.match) for table in (t.entries, t.footage, t.clips)
}


class DamagedRowJson(TypedDict):
    """A row as JSON values, and the name of its table."""

    table: str
    row: dict[str, object]


def of_match(connection: sa.Connection, match_id: str) -> list[DamagedRowJson]:
    """Return each damaged row of a match as JSON values, with the name of its table.

    An answer of a kind that this version does not know counts too: it cannot be read here.
    """
    found: list[DamagedRowJson] = []
    for name, (table, of) in _TABLES.items():
        for row in connection.execute(sa.select(table).where(of == match_id)):
            values = dict(row._mapping)
            if name == "entries":
                damaged = entry_log.from_row(row).what is EntryKind.DAMAGED
            else:
                damaged = summed(table, values)[COLUMN] != values[COLUMN]
            if damaged:
                fields = {key: _plain(value) for key, value in values.items() if key != "seq"}
                found.append({"table": name, "row": fields})
    return found


def restore(connection: sa.Connection, match_id: str, rows: Sequence[DamagedRowJson]) -> None:
    """Write damaged rows back so that they are told as damaged again.

    An answer is written as it was; of other rows, which were written anew, the checksum is.

    Raises
    ------
    KeyError, TypeError, ValueError
        What is given is no row of a match.
    """
    for fields in rows:
        table, of = _TABLES[fields["table"]]
        row = {column.name: _typed(column, fields["row"].get(column.name)) for column in table.c}
        if row[of.name] != match_id:
            raise ValueError(f"a damaged row of another match, {row[of.name]!r:.60}")
        if table is t.entries:
            row.pop("seq")
            there = connection.execute(sa.select(table.c.id).where(table.c.id == row["id"])).first()
            if there is None:
                connection.execute(sa.insert(table).values(**row))
        else:
            same = sa.update(table).where(table.c.id == row["id"], of == match_id)
            connection.execute(same.values({COLUMN: row[COLUMN]}))


def _plain(value: Any) -> Any:
    if isinstance(value, date):  # a moment too
        return value.isoformat()
    return value if value is None or isinstance(value, str | int | float | bool) else str(value)


def _typed(column: sa.Column[Any], value: Any) -> Any:
    return (
        datetime.fromisoformat(value) if value is not None and isinstance(column.type, t.UtcTime) else value
    )
