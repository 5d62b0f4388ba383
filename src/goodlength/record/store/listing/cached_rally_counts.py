"""Rallies counted once for each match and kept, until its log grows.

A count stands as long as the match has as many entries as were counted, and the same last one: an entry never
changes, and an undo is an entry.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass

import sqlalchemy as sa

from goodlength.record.model import EntryKind
from goodlength.record.store import database_tables as t
from goodlength.record.store import entry_log
from goodlength.record.store.listing.match_list_rows import in_pieces
from goodlength.record.store.row_checksums import checksum, summed

_NOT_RALLIES = frozenset(
    kind.value
    for kind in (
        EntryKind.MATCH,
        EntryKind.UNDO,
        EntryKind.CONDUCT,
        EntryKind.RETIRED,
        EntryKind.PROPOSED,
    )
)
_Mark = tuple[str, str, str, str | None]  # id, rally, what, replaces


@dataclass(frozen=True)
class RallyCount:
    """Rallies written down in a match, and its measured serves, of so many entries up to the last one."""

    entries: int
    last_seq: int
    rallies: int
    measured: int


def counts_on_record(
    connection: sa.Connection, ids: Collection[str] | None = None
) -> tuple[dict[str, RallyCount], list[str]]:
    """Return the counts that stand, and the matches to be counted; of all matches without `ids`."""
    query = sa.select(t.matches.c.id, _of_entries(sa.func.count()), _of_entries(sa.func.max(t.entries.c.seq)))
    known = _written_counts(connection)
    pieces = [query] if ids is None else [query.where(t.matches.c.id.in_(part)) for part in in_pieces(ids)]
    stand, stale = {}, []
    for piece in pieces:
        for match, entries, last_seq in connection.execute(piece):
            count = known.get(match)
            if count is not None and (count.entries, count.last_seq) == (entries, last_seq or 0):
                stand[match] = count
            else:
                stale.append(match)
    return stand, stale


def _written_counts(connection: sa.Connection) -> dict[str, RallyCount]:
    """Return every count as it was written; one that is damaged is left out."""
    return {
        match: RallyCount(*numbers)
        for match, *numbers, crc in connection.execute(sa.select(t.match_counts))
        if checksum(match, *numbers) == crc
    }


def _of_entries(number: sa.ColumnElement[int]) -> sa.ScalarSelect[int]:
    """Return a number of the entries of the match that a query is at."""
    return sa.select(number).where(t.entries.c.match == t.matches.c.id).scalar_subquery()


def count_rallies(connection: sa.Connection, ids: Collection[str]) -> dict[str, RallyCount]:
    """Count the rallies of some matches by their own observers, undone and removed ones left out."""
    found = {}
    for part in in_pieces(ids, 50):
        rows = connection.execute(sa.select(t.matches.c.id, t.matches.c.info).where(t.matches.c.id.in_(part)))
        observers = {row.id: json.loads(row.info).get("observer", "coach") for row in rows}
        marks: dict[str, list[_Mark]] = {match: [] for match in observers}
        ends = dict.fromkeys(observers, (0, 0))
        for match, seq, entry_id, observer, rally, what, replaces in entry_log.rally_marks(connection, part):
            ends[match] = (ends[match][0] + 1, seq)
            if observer.split("/", 1)[0] == observers[match]:
                marks[match].append((entry_id, rally, what, replaces))
        for match, of_match in marks.items():
            found[match] = RallyCount(*ends[match], *_count(of_match))
    return found


def keep_counts(connection: sa.Connection, counts: Mapping[str, RallyCount]) -> None:
    """Keep counts; another program may have kept some of them meanwhile."""
    for part in in_pieces(counts):
        connection.execute(sa.delete(t.match_counts).where(t.match_counts.c.match.in_(part)))
    there = {
        match
        for part in in_pieces(counts)
        for match in connection.execute(sa.select(t.matches.c.id).where(t.matches.c.id.in_(part))).scalars()
    }
    rows = [
        summed(t.match_counts, {"match": match, **asdict(count)})
        for match, count in counts.items()
        if match in there
    ]
    if rows:
        connection.execute(sa.insert(t.match_counts), rows)


def _count(marks: list[_Mark]) -> tuple[int, int]:
    """Return the rallies that stand, and the entries with a measured serve."""
    taken_back: set[str | None] = set()
    seen: set[str] = set()
    removed: set[str] = set()
    measured = 0
    for entry_id, rally, what, replaces in reversed(marks):
        if entry_id in taken_back:
            continue
        measured += what == EntryKind.MEASURED.value
        if what == EntryKind.UNDO.value:
            taken_back.add(replaces)
        elif what == EntryKind.REMOVE.value:
            removed.add(rally)
        elif rally and what not in _NOT_RALLIES:
            seen.add(rally)
    return len(seen - removed), measured
