"""Build the searchable season columns from replayed matches: one row a rally, "not recorded" is null."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from goodlength.record.model import Match, Rally
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring.scoring_types import Side

# What replay says in a call in place of the players' names; whoever shows the call puts the names in.
NAME_A, NAME_B = "\ue00a", "\ue00b"

Columns = dict[str, np.ndarray[Any, np.dtype[Any]]]

TYPES = {
    "match": "VARCHAR",
    "day": "DATE",
    "demo": "BOOLEAN",
    "player_a": "VARCHAR",
    "player_b": "VARCHAR",
    "key": "VARCHAR",
    "n": "INTEGER",
    "game": "INTEGER",
    "n_in_game": "INTEGER",
    "server": "VARCHAR",
    "receiver": "VARCHAR",
    "winner": "VARCHAR",  # null of a let
    "loser": "VARCHAR",
    "let": "BOOLEAN",
    "box": "VARCHAR",
    "points_a": "INTEGER",  # before the rally
    "points_b": "INTEGER",
    "call": "VARCHAR",
    "kind": "VARCHAR",
    "receiver_place": "VARCHAR",
    "how": "VARCHAR",
    "return_stroke": "VARCHAR",
    "return_to": "VARCHAR",
    "left": "VARCHAR",
    "ending": "VARCHAR",
    "stroke": "VARCHAR",
    "volley": "BOOLEAN",
    "place": "VARCHAR",
    "why": "VARCHAR",
    "start_s": "DOUBLE",
    "end_s": "DOUBLE",
    "length_s": "DOUBLE",
    "shots": "INTEGER",
    "note": "VARCHAR",
    "keep": "BOOLEAN",
    "doubted": "VARCHAR",  # columns of this match two observers did not agree on, by commas
}
# Numbers have no null of their own on the way in: -1 and NaN stand for it.
_DTYPES: dict[str, Any] = {"INTEGER": np.int32, "DOUBLE": np.float64}
_WAY_IN = {
    "DOUBLE": 'CASE WHEN isnan("{0}") THEN NULL ELSE "{0}" END',
    "INTEGER": 'nullif("{0}", -1)',
    "VARCHAR": 'CAST("{0}" AS VARCHAR)',
    "BOOLEAN": 'CAST("{0}" AS BOOLEAN)',
    "DATE": 'CAST("{0}" AS DATE)',
}


@dataclass(frozen=True)
class Replayed:
    """A match as replayed, and the columns that two observers of it did not agree on."""

    match: Match
    doubted: frozenset[str] = frozenset()


def columns_of(matches: Sequence[Replayed]) -> Columns:
    """Return the rallies of some matches as arrays, one after another; the one still being written is
    left out.
    """
    rows: list[dict[str, Any]] = []
    for replayed in matches:
        match, doubted = replayed.match, ",".join(sorted(replayed.doubted)) or None
        table = rally_table(match)  # what findings read: its lengths are the ones to keep
        rallies = [rally for rally in match.rallies if rally.key != match.open_key]
        rows += [
            {**_row(match, rally), "length_s": length_s, "shots": shots, "doubted": doubted}
            for rally, length_s, shots in zip(rallies, table.length_s, table.shots, strict=True)
        ]
    out: Columns = {}
    for name, sql in TYPES.items():
        column = np.empty(len(rows), dtype=_DTYPES.get(sql, object))
        column[:] = [row[name] for row in rows]
        out[name] = column
    return out


def table_sql() -> str:
    """Return the statement that makes the table of rallies."""
    return "CREATE TABLE rallies (" + ", ".join(f'"{name}" {sql}' for name, sql in TYPES.items()) + ")"


def insert_sql(source: str) -> str:
    """Return the statement that puts arrays registered under a name into the table."""
    picked = ", ".join(_WAY_IN[sql].format(name) for name, sql in TYPES.items())
    return f"INSERT INTO rallies SELECT {picked} FROM {source}"


def _row(match: Match, rally: Rally) -> dict[str, Any]:
    info, ret = match.info, rally.ret
    server = rally.server if rally.server_known else None
    winner = None if rally.let else rally.winner

    def player(side: Side | None) -> str | None:
        return None if side is None else info.players[side.place]

    return {
        "match": info.id,
        "day": None if info.played_on is None else info.played_on.isoformat(),
        "demo": info.demo,
        "player_a": info.players[0],
        "player_b": info.players[1],
        "key": rally.key,
        "n": rally.n,
        "game": rally.game,
        "n_in_game": rally.n_in_game,
        "server": player(server),
        "receiver": player(server and server.other),
        "winner": player(winner),
        "loser": player(winner and winner.other),
        "let": rally.let,
        "box": rally.box.value if rally.box_known else None,
        "points_a": rally.before[0],
        "points_b": rally.before[1],
        "call": rally.call,
        "kind": rally.serve.kind,
        "receiver_place": rally.serve.receiver_place,
        "how": _word(ret.how),
        "return_stroke": _word(ret.stroke),
        "return_to": ret.to,
        "left": _word(ret.left),
        "ending": _word(rally.ending),
        "stroke": _word(rally.ending_stroke),
        "volley": rally.ending_volley,
        "place": rally.ending_place,
        "why": rally.ending_why,
        "start_s": np.nan if rally.start_us is None else rally.start_us / 1e6,
        "end_s": np.nan if rally.end_us is None else rally.end_us / 1e6,
        "note": rally.note or None,
        "keep": rally.keep,
    }


def _word(value: Any) -> Any:
    return None if value is None else value.value
