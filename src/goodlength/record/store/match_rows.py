"""Rows of matches and their details; a change of details is also an entry of the log."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import replace
from datetime import UTC, datetime
from uuid import uuid4

import sqlalchemy as sa

from goodlength.errors import InputError, NotFound
from goodlength.record.model import Entry, EntryKind, MatchInfo
from goodlength.record.record_json_conversion import info_from_plain, info_to_plain
from goodlength.record.store import database_tables as t
from goodlength.record.store import entry_log
from goodlength.record.store.listing.match_list_rows import in_pieces
from goodlength.record.store.row_checksums import summed

# Asked for each answer, so put together once
_INFO = sa.select(t.matches.c.info).where(t.matches.c.id == sa.bindparam("of"))
_FOOTAGE = (
    sa.select(t.footage.c.id)
    .where(t.footage.c.match == sa.bindparam("of"))
    .order_by(t.footage.c.place, t.footage.c.id)
)


def info_text(connection: sa.Connection, match_id: str) -> str:
    """Return the stored details of a match; NotFound names the id."""
    found = connection.execute(_INFO, {"of": match_id}).scalar()
    if found is None:
        raise NotFound(
            f"There is no match {match_id!r} in this library.",
            command="goodlength match list",
            page="That match is not in this library. Choose one on the Matches page.",
        )
    return str(found)


def is_there(connection: sa.Connection, match_id: str) -> bool:
    """Return whether a match of this id is in the library."""
    return connection.execute(sa.select(t.matches.c.id).where(t.matches.c.id == match_id)).first() is not None


def count(connection: sa.Connection) -> int:
    """Return how many matches are in the library."""
    return connection.execute(sa.select(sa.func.count()).select_from(t.matches)).scalar_one()


def info(connection: sa.Connection, match_id: str) -> MatchInfo:
    """Return details of one match, its footage in order."""
    base = info_from_plain(json.loads(info_text(connection, match_id)))
    return replace(base, footage=_footage_ids(connection, match_id))


def infos(connection: sa.Connection, ids: Collection[str]) -> dict[str, MatchInfo]:
    """Return details of some matches by id, without their footage; one that is not there is left out."""
    found = {}
    for part in in_pieces(ids):
        query = sa.select(t.matches.c.id, t.matches.c.info).where(t.matches.c.id.in_(part))
        found.update({row.id: info_from_plain(json.loads(row.info)) for row in connection.execute(query)})
    return found


def _footage_ids(connection: sa.Connection, match_id: str) -> tuple[str, ...]:
    return tuple(connection.execute(_FOOTAGE, {"of": match_id}).scalars())


def all_infos(connection: sa.Connection) -> tuple[MatchInfo, ...]:
    """Return details of every match, newest day first; those without a day last."""
    rows = connection.execute(sa.select(t.matches).order_by(t.matches.c.made_utc, t.matches.c.id)).all()
    ordered = sorted(
        rows, key=lambda row: (row.played_on is None, -(row.played_on or datetime.min).toordinal())
    )
    footage: dict[str, list[str]] = {}
    for file in connection.execute(
        sa.select(t.footage.c.match, t.footage.c.id).order_by(t.footage.c.place, t.footage.c.id)
    ):
        footage.setdefault(file.match, []).append(file.id)
    return tuple(
        replace(info_from_plain(json.loads(row.info)), footage=tuple(footage.get(row.id, ())))
        for row in ordered
    )


def _row(info: MatchInfo, made_utc: datetime) -> dict[str, object]:
    values = {
        "id": info.id,
        "made_utc": made_utc,
        "player_a": info.players[0],
        "player_b": info.players[1],
        "event": info.event,
        "played_on": info.played_on,
        "demo": info.demo,
        "info": json.dumps(info_to_plain(replace(info, footage=())), ensure_ascii=False),
    }
    return summed(t.matches, values)


def _know_players(connection: sa.Connection, info: MatchInfo) -> None:
    found = set(
        connection.execute(sa.select(t.players.c.id).where(t.players.c.id.in_(info.players))).scalars()
    )
    missing = [player for player in info.players if player not in found]
    if missing:
        raise NotFound(
            f"There is no player {missing[0]!r} in this library, so the match cannot be saved. "
            "Add the player first."
        )


def save(connection: sa.Connection, info: MatchInfo) -> None:
    """Insert, or update and write what changed to the log."""
    new = info_to_plain(info)
    info_from_plain(new)
    _know_players(connection, info)
    stored = connection.execute(sa.select(t.matches.c.info).where(t.matches.c.id == info.id)).scalar()
    if stored is None:
        require_other_letters(connection, t.matches.c.id, info.id, "match")
        connection.execute(sa.insert(t.matches).values(**_row(info, datetime.now(UTC))))
        return
    old = json.loads(stored)
    changed = {key: value for key, value in new.items() if key != "footage" and old.get(key) != value}
    if not changed:
        return
    _update(connection, info)
    entry = Entry(uuid4().hex, info.id, info.observer, _now(), "", EntryKind.MATCH, changed)
    entry_log.append(connection, [entry])


def require_other_letters(
    connection: sa.Connection, column: sa.ColumnElement[str], new: str, what: str
) -> None:
    """Refuse a new id that differs from another in capitals only: on many disks they would share files."""
    same = sa.select(column).where(sa.func.lower(column) == new.lower(), column != new)
    other = connection.execute(same.limit(1)).scalar()
    if other is not None:
        raise InputError(
            f"The id {new!r:.80} of a {what} differs from {other!r:.80} in capitals only, and on many disks "
            "they would share files. Choose another id."
        )


def _update(connection: sa.Connection, info: MatchInfo) -> None:
    this = t.matches.c.id == info.id
    made_utc = connection.execute(sa.select(t.matches.c.made_utc).where(this)).scalar_one()
    connection.execute(sa.update(t.matches).where(this).values(**_row(info, made_utc)))


def _now() -> datetime:
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


def apply_change(connection: sa.Connection, entry: Entry) -> None:
    """Put the details named by a `match` entry into the match's row."""
    plain = json.loads(info_text(connection, entry.match))
    unknown = sorted(set(entry.value) - set(plain))
    if unknown or entry.value.get("id", entry.match) != entry.match:
        raise InputError(
            f"Entry {entry.id}: {unknown[0] if unknown else 'id'!r} is not a detail of a match that "
            f"can change. It has: {', '.join(sorted(set(plain) - {'id'}))}.",
            page="That detail of the match cannot be changed. Reload the Details page.",
        )
    changed = info_from_plain({**plain, **entry.value})
    _know_players(connection, changed)
    _update(connection, changed)


def remove(connection: sa.Connection, match_id: str) -> None:
    """Delete a match; its entries, footage rows and clip rows go with it."""
    info_text(connection, match_id)
    connection.execute(sa.delete(t.matches).where(t.matches.c.id == match_id))
