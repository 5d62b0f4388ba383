"""Ready columns of replayed matches in the library itself, so that another coach need not replay them.

A part holds the rallies of some matches as Parquet, and the version of each match they were made from.
What no longer fits the record is passed over; a match that is removed takes its parts with it.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass
from uuid import uuid4

import sqlalchemy as sa

from goodlength.record.store import database_tables as t
from goodlength.record.store.listing.match_list_rows import in_pieces

FORM = "4"  # of the columns; another form is made anew
FEW = 20  # matches for which the database looks through the lists of the parts
SMALL_PART, MOST_SMALL_PARTS = 200, 16  # small parts come from single changed matches
MOST_BYTES = 64_000_000  # of one part; 1,000 matches take 2 MB


@dataclass(frozen=True)
class MatchVersion:
    """What a match was made from: the checksum of its details, and how far its log went."""

    details: str
    entries: int
    last_seq: int
    last_id: str


@dataclass(frozen=True)
class SeasonPart:
    """Which matches a part holds, and the version of each."""

    id: str
    matches: Mapping[str, MatchVersion]


def season_parts(connection: sa.Connection, wanted: Collection[str] | None = None) -> list[SeasonPart]:
    """Return every part of the present form, without its columns; one that cannot be read is left out.

    With a few matches wanted, parts that hold none of them are left out: the lists of all take long to read.
    """
    table = t.season_parts.c
    query = sa.select(table.id, table.matches).where(table.form == FORM)
    if wanted is not None and len(wanted) <= FEW:
        named = (json.dumps(match, ensure_ascii=False) for match in wanted)
        query = query.where(
            sa.or_(sa.false(), *(table.matches.contains(name, autoescape=True) for name in named))
        )
    found = []
    for part_id, matches in connection.execute(query):
        try:
            versions = {str(match): MatchVersion(*version) for match, version in json.loads(matches).items()}
        except (ValueError, TypeError, AttributeError):
            continue
        found.append(SeasonPart(part_id, versions))
    return found


def part_columns(connection: sa.Connection, ids: Collection[str]) -> Iterator[tuple[str, bytes]]:
    """Yield the columns of some parts as Parquet; those that are too large, or not as they
    were written, are left out."""
    table = t.season_parts.c
    for part_id in ids:
        query = sa.select(table.matches, table.rallies, table.crc32).where(
            table.id == part_id, sa.func.length(table.rallies) <= MOST_BYTES
        )
        row = connection.execute(query).one_or_none()
        if row is not None and _sum(row.matches, row.rallies) == row.crc32:
            yield part_id, bytes(row.rallies)


def add_part(connection: sa.Connection, matches: Mapping[str, MatchVersion], rallies: bytes) -> bool:
    """Add ready columns; False, and nothing is written, if a match was removed meanwhile."""
    there = 0
    for piece in in_pieces(matches):
        query = sa.select(sa.func.count()).where(t.matches.c.id.in_(piece))
        there += connection.execute(query).scalar_one()
    if there != len(matches):
        return False
    text = json.dumps({match: astuple(version) for match, version in matches.items()}, ensure_ascii=False)
    values = {
        "id": uuid4().hex,
        "form": FORM,
        "matches": text,
        "rallies": rallies,
        "crc32": _sum(text, rallies),
    }
    connection.execute(sa.insert(t.season_parts).values(**values))
    return True


def forget_parts(connection: sa.Connection, ids: Collection[str]) -> None:
    """Delete some parts."""
    for piece in in_pieces(ids):
        connection.execute(sa.delete(t.season_parts).where(t.season_parts.c.id.in_(piece)))


def forget_parts_with(connection: sa.Connection, match_id: str) -> None:
    """Delete every part that holds a match, and every part of which that cannot be said."""
    table = t.season_parts.c
    readable = {part.id: match_id in part.matches for part in season_parts(connection)}
    every = connection.execute(sa.select(table.id)).scalars().all()
    forget_parts(connection, [part_id for part_id in every if readable.get(part_id, True)])


def _sum(matches: str, rallies: bytes) -> int:
    return zlib.crc32(rallies, zlib.crc32(matches.encode("utf-8")))


def superseded_parts(parts: Sequence[SeasonPart], marks: Mapping[str, MatchVersion]) -> set[str]:
    """Return the parts to be written anew: mostly out of date, or small where there are many small ones."""
    standing = {
        part.id: sum(marks.get(match) == version for match, version in part.matches.items()) for part in parts
    }
    going = {part.id for part in parts if 2 * standing[part.id] <= len(part.matches)}
    small = {part.id for part in parts if standing[part.id] < SMALL_PART}
    return going | small if len(small - going) > MOST_SMALL_PARTS else going
