"""Rows of a player's practice log, append-only."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa

from goodlength.errors import Conflict
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat
from goodlength.record.store import player_and_consent_rows
from goodlength.record.store.database_tables import practice as table
from goodlength.record.store.row_checksums import summed


def append(connection: sa.Connection, new: Sequence[PracticeEntry]) -> list[bool]:
    """Write entries inside the caller's transaction; True for each that was not there before.

    Raises
    ------
    Conflict
        If an id is already taken by an entry with another content.
    NotFound
        If a player is not in the library.
    """
    fresh = []
    for entry in new:
        player_and_consent_rows.player(connection, entry.player)
        row = {
            "id": entry.id,
            "player": entry.player,
            "at_utc": entry.at_utc,
            "what": entry.what.value,
            "value": json.dumps(entry.value, ensure_ascii=False, separators=(",", ":"), sort_keys=True),
            "replaces": entry.replaces,
        }
        query = sa.select(*(column for column in table.c if column.name in row)).where(table.c.id == entry.id)
        before = connection.execute(query).one_or_none()
        if before is not None and dict(before._mapping) != row:
            raise Conflict(
                f"The id {entry.id} already stands for another line of the practice log. "
                "Nothing was written. Send it again with a new id.",
                page="This set was stored already. Nothing was written. Reload the page and log it again.",
            )
        if before is None:
            connection.execute(sa.insert(table).values(**summed(table, row)))
        fresh.append(before is None)
    return fresh


def of_player(connection: sa.Connection, player: str) -> tuple[PracticeEntry, ...]:
    """Return a player's practice log; lines this version cannot read are left out."""
    query = sa.select(table).where(table.c.player == player).order_by(table.c.seq)
    return tuple(_read(connection, query))


def of_everybody(connection: sa.Connection) -> dict[str, tuple[PracticeEntry, ...]]:
    """Return the practice log of each player who has one, as `of_player` reads it."""
    found: dict[str, list[PracticeEntry]] = {}
    for entry in _read(connection, sa.select(table).order_by(table.c.seq)):
        found.setdefault(entry.player, []).append(entry)
    return {player: tuple(entries) for player, entries in found.items()}


def _read(connection: sa.Connection, query: sa.Select[Any]) -> Iterator[PracticeEntry]:
    known = {what.value: what for what in PracticeWhat}
    for row in connection.execute(query):
        if row.what in known:
            value = json.loads(row.value)
            yield PracticeEntry(row.id, row.player, row.at_utc, known[row.what], value, row.replaces)


def remove(connection: sa.Connection, ids: Sequence[str]) -> None:
    """Delete lines for good."""
    connection.execute(sa.delete(table).where(table.c.id.in_(ids)))
