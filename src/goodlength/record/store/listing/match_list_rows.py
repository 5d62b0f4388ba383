"""What a list needs of every match, read without the details of any."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa

from goodlength.record.store import database_tables as t


@dataclass(frozen=True)
class MatchHead:
    """A match in a list: who played, where and when."""

    id: str
    players: tuple[str, str]
    event: str
    played_on: date | None
    demo: bool


def match_heads(connection: sa.Connection, player_id: str | None = None) -> tuple[MatchHead, ...]:
    """Return every match, of one player where named: newest day first, those without a day last."""
    m = t.matches.c
    query = sa.select(m.id, m.player_a, m.player_b, m.event, m.played_on, m.demo).order_by(
        m.played_on.is_(None), m.played_on.desc(), m.made_utc, m.id
    )
    if player_id is not None:
        query = query.where(sa.or_(m.player_a == player_id, m.player_b == player_id))
    return tuple(
        MatchHead(match_id, (a, b), event, played_on, demo)
        for match_id, a, b, event, played_on, demo in connection.execute(query)
    )


def in_pieces(ids: Collection[str], size: int = 400) -> list[list[str]]:
    """Return ids in pieces that fit one query.

    Examples
    --------
    >>> in_pieces("abcde", 2)
    [['a', 'b'], ['c', 'd'], ['e']]
    """
    ordered = list(ids)
    return [ordered[at : at + size] for at in range(0, len(ordered), size)]
