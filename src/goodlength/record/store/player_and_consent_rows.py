"""Rows of players with their consents, kinds of serve, and settings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from goodlength.errors import InputError, NotFound
from goodlength.files.json_types import JsonObject
from goodlength.record.model import DEFAULT_KINDS, Consent, KindOfServe, Player
from goodlength.record.record_json_conversion import (
    consent_to_plain,
    player_from_plain,
    player_to_plain,
)
from goodlength.record.store import database_tables as t
from goodlength.record.store.row_checksums import summed

MOST_KINDS_IN_USE = 8  # keys 1 to 8; 9 is "fault"

# Asked for each answer, so put together once
_PLAYERS = sa.select(t.players).where(t.players.c.id.in_(sa.bindparam("ids", expanding=True)))
_CONSENTS = (
    sa.select(t.consents)
    .where(t.consents.c.player.in_(sa.bindparam("ids", expanding=True)))
    .order_by(t.consents.c.seq)
)
_KINDS = sa.select(t.kinds).order_by(t.kinds.c.place)


def _consent(row: Any) -> Consent:
    return Consent(row.given_by, row.given_on, tuple(json.loads(row.purposes)), row.until)


def _player(row: Any, consent: Consent | None) -> Player:
    return Player(row.id, row.name, row.hand, row.born_year, row.junior, consent, row.notes)


def players(connection: sa.Connection) -> tuple[Player, ...]:
    """Return everybody, by name."""
    newest = {
        row.player: _consent(row)
        for row in connection.execute(sa.select(t.consents).order_by(t.consents.c.seq))
    }
    rows = connection.execute(sa.select(t.players).order_by(t.players.c.name, t.players.c.id))
    return tuple(_player(row, newest.get(row.id)) for row in rows)


def player(connection: sa.Connection, player_id: str) -> Player:
    """Return one player with the consent in force."""
    row = connection.execute(sa.select(t.players).where(t.players.c.id == player_id)).one_or_none()
    if row is None:
        raise NotFound(
            f"There is no player {player_id!r} in this library.",
            command="goodlength player list",
            page="That player is not in this library. Choose one on the Players page.",
        )
    return _player(row, _newest_consent(connection, player_id))


def pair(connection: sa.Connection, ids: tuple[str, str]) -> tuple[Player, Player]:
    """Return the two players of a match, each with the consent in force."""
    both = {"ids": list(ids)}
    rows = {row.id: row for row in connection.execute(_PLAYERS, both)}
    newest = {row.player: _consent(row) for row in connection.execute(_CONSENTS, both)}
    return _player(rows[ids[0]], newest.get(ids[0])), _player(rows[ids[1]], newest.get(ids[1]))


def _newest_consent(connection: sa.Connection, player_id: str) -> Consent | None:
    query = sa.select(t.consents).where(t.consents.c.player == player_id).order_by(t.consents.c.seq.desc())
    row = connection.execute(query.limit(1)).one_or_none()
    return None if row is None else _consent(row)


def consents(connection: sa.Connection, player_id: str) -> tuple[JsonObject, ...]:
    """Return every consent of a player, oldest first."""
    query = sa.select(t.consents).where(t.consents.c.player == player_id).order_by(t.consents.c.seq)
    return tuple(consent_to_plain(_consent(row)) or {} for row in connection.execute(query))


def save(connection: sa.Connection, player: Player) -> None:
    """Insert or update; a consent that differs from the one in force is added to the history."""
    player_from_plain(player_to_plain(player))
    values: dict[str, object] = {
        "id": player.id,
        "name": player.name,
        "hand": player.hand,
        "born_year": player.born_year,
        "junior": player.junior,
        "notes": player.notes,
    }
    values = summed(t.players, values)
    changed = connection.execute(sa.update(t.players).where(t.players.c.id == player.id).values(**values))
    if changed.rowcount == 0:
        connection.execute(sa.insert(t.players).values(**values))
    if player.consent is not None and player.consent != _newest_consent(connection, player.id):
        given = {
            "player": player.id,
            "given_by": player.consent.given_by,
            "given_on": player.consent.when,
            "purposes": json.dumps(list(player.consent.purposes)),
            "until": player.consent.until,
        }
        connection.execute(sa.insert(t.consents).values(**summed(t.consents, given)))


def remove(connection: sa.Connection, player_id: str) -> None:
    """Delete a player; refused while a match names them."""
    player(connection, player_id)
    in_matches = sa.or_(t.matches.c.player_a == player_id, t.matches.c.player_b == player_id)
    match_ids = connection.execute(sa.select(t.matches.c.id).where(in_matches)).scalars().all()
    if match_ids:
        raise InputError(
            f"The player {player_id!r} is in {len(match_ids)} matches ({', '.join(match_ids[:5])}), so the "
            "row stays. Remove those matches first, or erase the player.",
            command="goodlength player erase",
            page="This player is in matches of this library. Remove those matches first, or erase the "
            "player.",
        )
    connection.execute(sa.delete(t.players).where(t.players.c.id == player_id))


def kinds(connection: sa.Connection) -> tuple[KindOfServe, ...]:
    """Return the list as kept, or the one every library begins with."""
    rows = connection.execute(_KINDS).all()
    if not rows:
        return DEFAULT_KINDS
    return tuple(KindOfServe(row.id, row.words, row.retired) for row in rows)


def save_kinds(connection: sa.Connection, wanted: Sequence[KindOfServe]) -> None:
    """Keep the list; what was there and is left out stays, retired."""
    ids = [kind.id for kind in wanted]
    if len(set(ids)) != len(ids) or any(not kind.id or not kind.words.strip() for kind in wanted):
        raise InputError("Every kind of serve needs an id of its own and words; nothing was changed.")
    in_use = sum(1 for kind in wanted if not kind.retired)
    if not 1 <= in_use <= MOST_KINDS_IN_USE:
        raise InputError(
            f"{in_use} kinds of serve would be in use; from 1 to {MOST_KINDS_IN_USE} are possible, one for "
            "each "
            "key (9 is a fault). Old matches keep the names of retired kinds."
        )
    gone = [
        KindOfServe(kind.id, kind.words, retired=True)
        for kind in kinds(connection)
        if kind.id not in set(ids)
    ]
    connection.execute(sa.delete(t.kinds))
    rows = [
        summed(t.kinds, {"id": kind.id, "words": kind.words, "retired": kind.retired, "place": place})
        for place, kind in enumerate([*wanted, *gone])
    ]
    connection.execute(sa.insert(t.kinds), rows)


def settings(connection: sa.Connection) -> dict[str, Any]:
    """Return every setting kept."""
    rows = connection.execute(sa.select(t.settings).order_by(t.settings.c.key))
    return {row.key: json.loads(row.value) for row in rows}


def set_setting(connection: sa.Connection, key: str, value: Any) -> None:
    """Keep, change, or (None) forget a setting."""
    connection.execute(sa.delete(t.settings).where(t.settings.c.key == key))
    if value is not None:
        fields = {"key": key, "value": json.dumps(value, ensure_ascii=False)}
        connection.execute(sa.insert(t.settings).values(**summed(t.settings, fields)))
