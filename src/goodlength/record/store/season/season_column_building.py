"""Build the searchable season columns from replayed matches: one row a rally, "not recorded" is null."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from goodlength.record.effective_answers import EffectiveAnswers
from goodlength.record.entry_log_replay import RallyForColumns, played_rallies
from goodlength.record.model import Ending, Left, MatchInfo
from goodlength.record.tables.answer_origins import AnswersByOrigin, origin_of_rally
from goodlength.record.tables.rally_table_building import shots_struck, span_length_s
from goodlength.scoring.scoring_types import Side

# What replay says in a call in place of the players' names; whoever shows the call puts the names in.
NAME_A, NAME_B = "\ue00a", "\ue00b"
_FAULT, _MISSED = Ending.SERVICE_FAULT.value, Left.NOT_MADE.value

_NOBODY = (False, AnswersByOrigin(0, 0))

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
    "watched": "BOOLEAN",  # whether a person said anything of how it went
    "by_person": "INTEGER",  # answers that findings count, by who gave them: `AnswersByOrigin`
    "unwatched": "INTEGER",
    "drafted": "INTEGER",
    "along": "INTEGER",
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
    """The rallies of a match as replayed, and the columns that two observers of it did not agree on.

    `origins` says by key whether a person watched a rally, and who gave its answers.
    """

    info: MatchInfo
    rallies: Sequence[RallyForColumns]
    doubted: frozenset[str] = frozenset()
    origins: Mapping[str, tuple[bool, AnswersByOrigin]] = field(default_factory=dict)


def replayed_from(
    info: MatchInfo, answers: EffectiveAnswers, doubted: frozenset[str] = frozenset()
) -> Replayed:
    """Replay a match from the answers that stand."""
    origins = {facts.key: origin_of_rally(facts) for facts in answers.facts}
    return Replayed(info, played_rallies(info, answers, (NAME_A, NAME_B)), doubted, origins)


def columns_of(matches: Sequence[Replayed]) -> Columns:
    """Return the rallies of some matches as arrays, one after another."""
    rows: list[tuple[Any, ...]] = []
    for replayed in matches:
        rows += _rows(replayed)
    out: Columns = {}
    values = zip(*rows, strict=True) if rows else [()] * len(TYPES)
    for (name, sql), column in zip(TYPES.items(), values, strict=True):
        out[name] = np.empty(len(rows), dtype=_DTYPES.get(sql, object))
        out[name][:] = column
    return out


def table_sql() -> str:
    """Return the statement that makes the table of rallies."""
    return "CREATE TABLE rallies (" + ", ".join(f'"{name}" {sql}' for name, sql in TYPES.items()) + ")"


def insert_sql(source: str) -> str:
    """Return the statement that puts arrays registered under a name into the table."""
    picked = ", ".join(_WAY_IN[sql].format(name) for name, sql in TYPES.items())
    return f"INSERT INTO rallies SELECT {picked} FROM {source}"


def _rows(of: Replayed) -> Iterator[tuple[Any, ...]]:
    """Yield each rally's values in the order of `TYPES`."""
    info, (a, b) = of.info, of.info.players
    day = None if info.played_on is None else info.played_on.isoformat()
    same = (info.id, day, info.demo, a, b)
    doubted = ",".join(sorted(of.doubted)) or None
    by_side: dict[Side | None, tuple[str | None, str | None]]
    by_side = {Side.A: (a, b), Side.B: (b, a), None: (None, None)}
    for rally in of.rallies:
        server, receiver = by_side[rally.server]
        winner, loser = by_side[None if rally.let else rally.winner]
        start_us, end_us = rally.start_us, rally.end_us
        watched, given = of.origins.get(rally.key, _NOBODY)
        yield (
            *same,
            rally.key,
            rally.n,
            rally.game,
            rally.n_in_game,
            server,
            receiver,
            winner,
            loser,
            rally.let,
            None if rally.box is None else rally.box.value,
            *rally.before,
            rally.call,
            rally.kind,
            rally.receiver_place,
            rally.how,
            rally.return_stroke,
            rally.return_to,
            rally.left,
            rally.ending,
            rally.stroke,
            rally.volley,
            rally.place,
            rally.why,
            np.nan if start_us is None else start_us / 1e6,
            np.nan if end_us is None else end_us / 1e6,
            span_length_s(start_us, end_us),
            shots_struck(
                info.depth, rally.shots_in_all, fault=rally.ending == _FAULT, not_made=rally.left == _MISSED
            ),
            rally.note or None,
            rally.keep,
            watched,
            given.by_person,
            given.unwatched,
            given.proposed,
            given.along,
            doubted,
        )
