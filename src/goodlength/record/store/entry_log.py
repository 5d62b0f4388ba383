"""The append-only entry log of a match."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from zlib import crc32 as crc32_of

import sqlalchemy as sa

from goodlength.errors import Conflict, NotFound
from goodlength.record.entry_value_types import Content, content_of
from goodlength.record.model import Entry, EntryKind
from goodlength.record.store.database_tables import entries as table
from goodlength.record.store.database_tables import matches
from goodlength.record.store.row_checksums import BETWEEN, NOTHING, of_texts, summed

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_WHATS = {what.value: what for what in EntryKind}
_CHUNK = 400
_WHOLE_SECOND = ".000000+00:00"
_SHORT = 40  # letters of a value that comes again: a word, a number, nothing
# Put together once: each answer asks them, and putting them together takes longer than an index of the file
_KNOWN = sa.select(matches.c.id).where(matches.c.id.in_(sa.bindparam("wanted", expanding=True)))
_STORED = sa.select(*(column for column in table.c if column.name not in ("seq", "crc32"))).where(
    table.c.id.in_(sa.bindparam("ids", expanding=True))
)
_EXTENT = sa.select(sa.func.count(), sa.func.max(table.c.seq)).where(table.c.match == sa.bindparam("of"))
_AFTER = (
    sa.select(table)
    .where(table.c.match == sa.bindparam("of"), table.c.seq > sa.bindparam("past"))
    .order_by(table.c.seq)
)
_INSERT = sa.insert(table)


def to_row(entry: Entry) -> dict[str, object]:
    """Return an entry as the columns of its row."""
    return {
        "id": entry.id,
        "match": entry.match,
        "observer": entry.observer,
        "at_utc": entry.at_utc,
        "rally": entry.rally,
        "what": entry.what.value,
        "value": json.dumps(entry.value, ensure_ascii=False, separators=(",", ":"), sort_keys=True),
        "replaces": entry.replaces,
    }


def from_row(row: Any) -> Entry:
    """Return an entry from its row; one that cannot be read comes back as DAMAGED, with why."""
    _, name, match, observer, at_utc, rally, what, text, replaces, crc32 = row
    try:
        before = NOTHING if replaces is None else replaces
        texts = (name, match, observer, at_utc.isoformat(), rally, what, text, before)
        if crc32 is not None and of_texts(texts) == crc32:
            value = _plain_value(text) if len(text) <= _SHORT else json.loads(text)
            return Entry(name, match, observer, at_utc, rally, _WHATS[what], value, replaces)
    except (ValueError, TypeError, KeyError, AttributeError):
        pass  # something about it is not as it was written
    return _from_spoilt_row(row)


def _plain_value(text: str) -> Any:
    """Return a value that is read again and again; one with parts is made anew each time."""
    return json.loads(text) if text[:1] in "{[" else _word_value(text)


@lru_cache(maxsize=2048)
def _word_value(text: str) -> Any:
    return json.loads(text)


def _from_spoilt_row(row: Any) -> Entry:
    """Return an entry from its row, as far as it can be read, with why it cannot."""
    why = None
    try:
        value = json.loads(row.value)
    except (ValueError, TypeError):
        value, why = None, "its value cannot be read"
    what = _WHATS.get(row.what)
    if what is None:
        why = f"this version does not know the answer “{row.what}”"
    at_utc = row.at_utc or _EPOCH
    names = (row.id, row.match, row.observer, row.rally)
    if not all(isinstance(name, str) for name in names):
        why = "its row is damaged"
    elif why is None and (row.crc32 is None or row.crc32 != _sum_of(row, at_utc)):
        why = "it is not as it was written (its checksum does not fit)"
    if why is not None or what is None:
        value = {"why": why, "what": str(row.what), "value": str(row.value)}
        what = EntryKind.DAMAGED
    replaces = row.replaces if isinstance(row.replaces, str) else None
    rowid, match, observer, rally = (str(name) for name in names)
    return Entry(rowid, match, observer, at_utc, rally, what, value, replaces)


def _sum_of(row: Any, at_utc: datetime) -> int | None:
    """Return what `summed` gives for a row that was read, its moment in UTC; None where a text is none."""
    _, name, match, observer, _, rally, what, value, replaces, _ = row
    before = NOTHING if replaces is None else replaces
    try:
        return of_texts((name, match, observer, at_utc.isoformat(), rally, what, value, before))
    except TypeError:
        return None


def append(connection: sa.Connection, new: Sequence[Entry]) -> list[bool]:
    """Write entries inside the caller's transaction; True for each that was not there before.

    Raises
    ------
    Conflict
        If an id is already taken by an entry with another content.
    NotFound
        If a match is not in the library.
    """
    _know_matches(connection, {entry.match for entry in new})
    there = _stored(connection, [entry.id for entry in new])
    fresh: list[bool] = []
    rows: list[dict[str, object]] = []
    for entry in new:
        row = to_row(entry)
        before = there.get(entry.id)
        if before is not None and before != row:
            raise Conflict(
                f"The id {entry.id} already stands for another answer ({before['what']} in rally "
                f"{before['rally']!r}). Nothing was written. Send the answer again with a new id.",
                page="This answer was stored already with another value. Nothing was written. Reload "
                "the page and answer again.",
            )
        fresh.append(before is None)
        if before is None:
            there[entry.id] = row
            rows.append(summed(table, row))
    if rows:
        connection.execute(_INSERT, rows)
    return fresh


def _know_matches(connection: sa.Connection, wanted: set[str]) -> None:
    found = set(connection.execute(_KNOWN, {"wanted": list(wanted)}).scalars())
    for missing in sorted(wanted - found):
        raise NotFound(f"There is no match {missing!r} in this library.", command="goodlength match list")


def _stored(connection: sa.Connection, ids: Sequence[str]) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {}
    for at in range(0, len(ids), _CHUNK):
        rows = connection.execute(_STORED, {"ids": list(ids[at : at + _CHUNK])})
        found.update({row.id: dict(row._mapping) for row in rows})
    return found


class EntryReader:
    """Reads a match's entries, and next time only those written since."""

    def __init__(self, keep: int = 8) -> None:
        self._keep = keep
        self._known: dict[str, tuple[int, int, tuple[Entry, ...]]] = {}

    def read(self, connection: sa.Connection, match: str) -> tuple[Entry, ...]:
        """Return every entry of a match in the order written."""
        count, last = connection.execute(_EXTENT, {"of": match}).one()
        known_count, known_last, known = self._known.get(match, (0, 0, ()))
        if count == known_count and (last or 0) == known_last:
            return known
        newer = self._after(connection, match, known_last)
        if known_count + len(newer) != count:  # rows gone, or written out of order by somebody else
            known, newer = (), self._after(connection, match, 0)
        together = known + newer
        self._remember(match, (int(count), int(last or 0), together))
        return together

    def forget(self, match: str) -> None:
        """Read this match anew next time."""
        self._known.pop(match, None)

    def _after(self, connection: sa.Connection, match: str, seq: int) -> tuple[Entry, ...]:
        return tuple(from_row(row) for row in connection.execute(_AFTER, {"of": match, "past": seq}))

    def _remember(self, match: str, what: tuple[int, int, tuple[Entry, ...]]) -> None:
        self._known.pop(match, None)
        self._known[match] = what
        while len(self._known) > self._keep:
            self._known.pop(next(iter(self._known)))


def of_matches(connection: sa.Connection, ids: Sequence[str]) -> dict[str, list[Entry]]:
    """Return every entry of some matches in the order written, by match."""
    found: dict[str, list[Entry]] = {}
    for at in range(0, len(ids), _CHUNK):
        query = sa.select(table).where(table.c.match.in_(ids[at : at + _CHUNK])).order_by(table.c.seq)
        for row in connection.execute(query):
            entry = from_row(row)
            found.setdefault(entry.match, []).append(entry)
    return found


PlainRow = tuple[str, str, EntryKind, Content, str | None]  # id, rally, what, its content, id it replaces


@dataclass
class PlainLog:
    """The log of one match in the order written, without when each entry was written and by which tab.

    For reading very many matches: an `Entry` of each row takes three times as long. `sound` is false where
    a row is not as it was written, or cannot be read: `of_matches` says what is wrong with it.
    """

    observers: set[str] = field(default_factory=set)
    rows: list[PlainRow] = field(default_factory=list)
    sound: bool = True


def plain_logs(connection: sa.Connection, ids: Sequence[str]) -> dict[str, PlainLog]:
    """Return the logs of some matches, each row compared with its checksum."""
    found = {name: PlainLog() for name in ids}
    c = table.c
    columns = (c.id, c.match, c.observer, _moment_text(connection.dialect.name), c.rally)
    for at in range(0, len(ids), _CHUNK):
        piece = ids[at : at + _CHUNK]
        query = sa.select(*columns, c.what, c.value, c.replaces, c.crc32).where(c.match.in_(piece))
        for row in connection.execute(query.order_by(c.seq)).all():
            _put_in(found[row[1]], row)
    return found


def _put_in(log: PlainLog, row: Any) -> None:
    name, match, observer, moment, rally, what, text, replaces, crc32 = row
    try:
        # as `from_row` does it, without a call for each part: there are millions of them
        at_utc = f"{moment[:10]}T{moment[11:]}+00:00"
        if at_utc.endswith(_WHOLE_SECOND):
            at_utc = f"{at_utc[:19]}+00:00"
        before = NOTHING if replaces is None else replaces
        texts = (name, match, observer, at_utc, rally, what, text, before)
        if crc32_of(BETWEEN.join(texts).encode()) != crc32:
            log.sound = False
        if len(text) > _SHORT or text[:1] in "{[":
            value = content_of(what, json.loads(text))
        else:
            value = _content_often(what, text)
        log.rows.append((name, rally, _WHATS[what], value, replaces))
        log.observers.add(observer)
    except (ValueError, TypeError, KeyError, AttributeError):
        log.sound = False


@lru_cache(maxsize=4096)
def _content_often(what: str, text: str) -> Content:
    return content_of(what, json.loads(text))


def _moment_text(dialect: str) -> sa.ColumnElement[Any]:
    """Return the moment as text with microseconds: only its checksum is wanted, and a time takes longer."""
    if dialect == "postgresql":
        return sa.func.to_char(sa.func.timezone("UTC", table.c.at_utc), 'YYYY-MM-DD"T"HH24:MI:SS.US')
    return sa.type_coerce(table.c.at_utc, sa.types.NullType())  # SQLite has no times, only texts


def rally_marks(
    connection: sa.Connection, ids: Sequence[str]
) -> list[tuple[str, int, str, str, str, str, str | None]]:
    """Return (match, seq, id, observer, rally, what, replaces) of some matches' entries in the order written.

    It is enough to count rallies.
    """
    columns = (table.c.match, table.c.seq, table.c.id, table.c.observer, table.c.rally, table.c.what)
    query = sa.select(*columns, table.c.replaces).where(table.c.match.in_(ids)).order_by(table.c.seq)
    return [tuple(row) for row in connection.execute(query)]
