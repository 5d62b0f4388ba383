"""Rows of the footage and clips of a match; the files are never touched here."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa

from goodlength.errors import NotFound
from goodlength.record.model import Clip, Footage
from goodlength.record.store import database_tables as t
from goodlength.record.store.match_rows import require_other_letters
from goodlength.record.store.row_checksums import summed, without_sum


def _footage(row: Any) -> Footage:
    values = without_sum(dict(row._mapping))
    values["look"] = None if values["look"] is None else json.loads(values["look"])
    return Footage(**values)


def footage_of_match(connection: sa.Connection, match_id: str) -> tuple[Footage, ...]:
    """Return a match's files in the order played."""
    query = (
        sa.select(t.footage).where(t.footage.c.match == match_id).order_by(t.footage.c.place, t.footage.c.id)
    )
    return tuple(_footage(row) for row in connection.execute(query))


def footage_row(connection: sa.Connection, footage_id: str) -> Footage:
    """Return one file's row."""
    row = connection.execute(sa.select(t.footage).where(t.footage.c.id == footage_id)).one_or_none()
    if row is None:
        raise NotFound(
            f"There is no video {footage_id!r} in this library.",
            command="goodlength footage list MATCH_ID",
            page="That video is no longer in this library. Go to the Footage page of the match and "
            "choose another.",
        )
    return _footage(row)


def save(connection: sa.Connection, footage: Footage) -> None:
    """Insert or update a file's row."""
    values = asdict(footage)
    values["look"] = None if footage.look is None else json.dumps(footage.look, ensure_ascii=False)
    values = summed(t.footage, values)
    changed = connection.execute(sa.update(t.footage).where(t.footage.c.id == footage.id).values(**values))
    if changed.rowcount == 0:
        require_other_letters(connection, t.footage.c.id, footage.id, "video")
        connection.execute(sa.insert(t.footage).values(**values))


def remove(connection: sa.Connection, footage_id: str) -> None:
    """Delete a file's row."""
    footage_row(connection, footage_id)
    connection.execute(sa.delete(t.footage).where(t.footage.c.id == footage_id))


def clips(connection: sa.Connection, match_id: str) -> tuple[Clip, ...]:
    """Return clips of a match, oldest first."""
    query = sa.select(t.clips).where(t.clips.c.match == match_id).order_by(t.clips.c.made_utc, t.clips.c.id)
    return tuple(Clip(**without_sum(dict(row._mapping))) for row in connection.execute(query))


def of_every_match(connection: sa.Connection) -> tuple[tuple[Footage, ...], tuple[Clip, ...]]:
    """Return the files of every match in the order played, and its clips, the oldest first."""
    files = sa.select(t.footage).order_by(t.footage.c.match, t.footage.c.place, t.footage.c.id)
    cut = sa.select(t.clips).order_by(t.clips.c.match, t.clips.c.made_utc, t.clips.c.id)
    return (
        tuple(_footage(row) for row in connection.execute(files)),
        tuple(Clip(**without_sum(dict(row._mapping))) for row in connection.execute(cut)),
    )


def save_clip(connection: sa.Connection, clip: Clip) -> None:
    """Insert or update a clip's row."""
    values = summed(t.clips, asdict(clip))
    changed = connection.execute(sa.update(t.clips).where(t.clips.c.id == clip.id).values(**values))
    if changed.rowcount == 0:
        connection.execute(sa.insert(t.clips).values(**values))


def remove_clips(connection: sa.Connection, ids: Sequence[str]) -> None:
    """Delete rows of clips."""
    connection.execute(sa.delete(t.clips).where(t.clips.c.id.in_(ids)))
