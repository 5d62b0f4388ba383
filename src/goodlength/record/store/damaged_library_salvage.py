"""Salvage a damaged library into a new one, row by row, with an account of what is lost.

Rows are read from the front until one cannot be, then from the back, then in between by leaps. The damaged
file is only read. What is read but fits nowhere (answers of a match that is lost) is written beside.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa

from goodlength.errors import GoodlengthError, NotOurLibrary
from goodlength.record.model import MatchInfo
from goodlength.record.record_json_conversion import info_from_plain, info_to_plain
from goodlength.record.store import database_opening, sqlite
from goodlength.record.store.database_tables import UtcTime, metadata
from goodlength.record.store.row_checksums import COLUMN, summed

UNPLACED_ROWS_FILE = "rows-without-a-place.jsonl"
LEAPS = 40  # tries to get over one damaged stretch, each twice as far
PIECE = 500  # rows written at a time
LOST_NAME = "(name lost)"


@dataclass(frozen=True)
class Salvaged:
    """Rows saved of each table, stretches of rows that could not be read, and rows that fit nowhere."""

    saved: dict[str, int]
    unreadable: dict[str, int]
    without_a_place: int
    names_lost: int


def salvage(file: Path, folder: Path) -> Salvaged:
    """Make a new library in an empty folder of what can be read of a damaged one.

    Raises
    ------
    NotOurLibrary
        If not even the list of tables can be read.
    """
    rows: dict[str, list[dict[str, Any]]] = {}
    gaps: dict[str, int] = {}
    name = f"file:{quote(str(file.absolute()))}?mode=ro"
    with closing(sqlite3.connect(name, uri=True)) as damaged:
        damaged.row_factory = sqlite3.Row
        damaged.execute(f"PRAGMA {sqlite.TRUST_NOTHING}")
        try:
            there = {item[0] for item in damaged.execute("SELECT name FROM sqlite_master WHERE type='table'")}
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            raise NotOurLibrary(
                f"Nothing can be read of {file}: its list of tables is damaged ({error}). Restore a back-up.",
                command="goodlength library restore",
            ) from error
        for table in metadata.sorted_tables:
            if table.name in there and not table.info.get("derived"):
                rows[table.name], gaps[table.name] = _rows(damaged, table.name)
    return _written(rows, gaps, folder)


def _rows(damaged: sqlite3.Connection, table: str) -> tuple[list[dict[str, Any]], int]:
    """Return every row that can be read, by its number, and how many stretches could not."""
    found: dict[int, dict[str, Any]] = {}
    whole = _read(damaged, table, "", "rowid", found)
    gaps = 0
    if not whole:
        front = max(found, default=0)
        _read(damaged, table, f"WHERE rowid > {front}", "rowid DESC", found)
        gaps, at = 1, front
        for leap in range(LEAPS):
            at += 2**leap
            before = len(found)
            if at >= max(found, default=0) and before:
                break
            _read(damaged, table, f"WHERE rowid >= {at}", "rowid", found)
            gaps += len(found) > before
    return [found[number] for number in sorted(found)], gaps


def _read(damaged: sqlite3.Connection, table: str, where: str, order: str, found: dict[int, Any]) -> bool:
    """Read on until a row cannot be read; True when all could."""
    try:
        for row in damaged.execute(
            f'SELECT rowid AS "row number", * FROM "{table}" {where} ORDER BY {order}'
        ):
            plain = dict(row)
            found[plain.pop("row number")] = plain
    except (sqlite3.DatabaseError, UnicodeDecodeError, OverflowError):
        return False
    return True


def _written(rows: dict[str, list[dict[str, Any]]], gaps: dict[str, int], folder: Path) -> Salvaged:
    database_opening.open_folder(folder, create=True).engine.dispose()
    engine = sqlite.engine_for(folder / database_opening.FILE_NAME).execution_options(write=True)
    saved: dict[str, int] = {}
    apart: list[dict[str, Any]] = []
    lost_names = 0
    for table in metadata.sorted_tables:
        rows[table.name] = list(_sound_rows(table, rows.get(table.name, []), apart))
    with engine.begin() as connection:
        names = _missing_players(rows)
        lost_names = len(names)
        rows["players"] = [*rows.get("players", []), *names]
        for table in metadata.sorted_tables:
            if table.name != "about" and not table.info.get("derived"):
                whole = [_with_sum(table, row) for row in rows.get(table.name, [])]
                inserted = list(_insert(connection, table, whole, apart))
                saved[table.name] = len(inserted)
    engine.dispose()
    if apart:
        lines = "".join(json.dumps(fields, ensure_ascii=False, default=repr) + "\n" for fields in apart)
        (folder / UNPLACED_ROWS_FILE).write_text(lines, encoding="utf-8")
    return Salvaged(saved, {name: n for name, n in gaps.items() if n}, len(apart), lost_names)


def _missing_players(rows: dict[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    """Return a row for each player a match names whose own row is lost."""
    known = {row.get("id") for row in rows.get("players", [])}
    wanted = {row.get(side) for row in rows.get("matches", []) for side in ("player_a", "player_b")}
    return [
        {"id": text, "name": LOST_NAME, "hand": "right", "born_year": None, "junior": True, "notes": ""}
        for text in sorted(str(item) for item in wanted - known if item)
    ]


def _sound_rows(
    table: sa.Table, rows: list[dict[str, Any]], apart: list[dict[str, Any]]
) -> Iterator[dict[str, Any]]:
    """Yield rows whose every value can be read; the others go beside.

    A match whose details are spoilt keeps its players with the usual details, so that its answers have a
    place; what stood there is beside.
    """
    for row in rows:
        if _readable(table, row):
            yield row
            continue
        apart.append({"table": table.name, **row})
        if table.name == "matches" and (plain := _plain_match(row)) and _readable(table, plain):
            yield plain


def _with_sum(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    """Return a row of an older form, or one made here, with its checksum; another keeps the one it was given.

    So a row that is not as it was written stays named in the new library.
    """
    if row.get(COLUMN) is not None:
        return row
    read = {
        column.name: datetime.fromisoformat(row[column.name]).replace(tzinfo=UTC)
        if isinstance(column.type, UtcTime) and row.get(column.name)
        else row.get(column.name)
        for column in table.c
    }
    return {**row, COLUMN: summed(table, read)[COLUMN]}


def _plain_match(row: dict[str, Any]) -> dict[str, Any] | None:
    named = [row.get(name) for name in ("id", "player_a", "player_b")]
    if not all(isinstance(text, str) and text for text in named):
        return None
    match_id, a, b = (str(item) for item in named)
    info = json.dumps(info_to_plain(MatchInfo(match_id, (a, b))))
    return {
        "id": match_id,
        "player_a": a,
        "player_b": b,
        "event": "",
        "played_on": None,
        "demo": 0,
        "info": info,
        "made_utc": f"{datetime.now(UTC):%Y-%m-%d %H:%M:%S}",
    }


def _insert(
    connection: sa.Connection, table: sa.Table, rows: list[dict[str, Any]], apart: list[dict[str, Any]]
) -> Iterator[bool]:
    """Write rows, a piece at a time; where a piece is refused, row by row."""
    for at in range(0, len(rows), PIECE):
        piece = rows[at : at + PIECE]
        if _copy_rows(connection, table, piece):
            yield from (True for _ in piece)
            continue
        for row in piece:
            if _copy_rows(connection, table, [row]):
                yield True
            else:
                apart.append({"table": table.name, **row})


def _copy_rows(connection: sa.Connection, table: sa.Table, rows: list[dict[str, Any]]) -> bool:
    columns = [column.name for column in table.c if column.name in rows[0]]
    named = ", ".join(f'"{name}"' for name in columns)
    words = f'INSERT INTO "{table.name}" ({named}) VALUES ({", ".join("?" * len(columns))})'
    try:
        with connection.begin_nested():
            connection.exec_driver_sql(words, [tuple(row[name] for name in columns) for row in rows])
    except (sa.exc.DatabaseError, UnicodeEncodeError, OverflowError):
        return False
    return True


def _readable(table: sa.Table, row: dict[str, Any]) -> bool:
    """Return whether every value can be read as what its column holds, so that the new library is sound."""
    for column in table.c:
        value = row.get(column.name)
        if value is None:
            if column.name in row and not column.nullable:
                return False
            continue
        if not _fits(column.type, value):
            return False
    try:
        if table.name == "matches":
            info_from_plain(json.loads(row["info"]))
        if table.name in ("settings", "consents"):
            json.loads(row["value" if table.name == "settings" else "purposes"])
    except (KeyError, ValueError, TypeError, GoodlengthError):
        return False
    return True


def _fits(kind: Any, value: Any) -> bool:
    try:
        if isinstance(kind, UtcTime):
            datetime.fromisoformat(value)
        elif isinstance(kind, sa.Date):
            date.fromisoformat(value)
        elif isinstance(kind, sa.Boolean):
            return value in (0, 1)
        elif isinstance(kind, sa.Integer):
            return isinstance(value, int)
        else:
            return isinstance(value, str)
    except (ValueError, TypeError):
        return False
    return True
