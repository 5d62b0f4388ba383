"""Build rally tables for findings from the season's columns, as replay gives them, without replaying."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.record.tables.answer_origins import AnswersByOrigin
from goodlength.record.tables.rally_table import (
    ENDINGS,
    HOW_TAKEN,
    LEFT,
    STROKES,
    Codes,
    RallyTable,
)

_READ = (
    "match",
    "day",
    "demo",
    "player_a",
    "player_b",
    "key",
    "game",
    "n_in_game",
    "server",
    "box",
    "kind",
    "how",
    '"left"',
    "winner",
    "let",
    "ending",
    "stroke",
    "points_a",
    "points_b",
    "length_s",
    "shots",
    "place",
    "receiver_place",
    "return_to",
    "doubted",
    "watched",
    "by_person",
    "unwatched",
    "drafted",
    "along",
)


@dataclass(frozen=True)
class PlayedTable:
    """One match with its players' ids, its day, and its rallies as findings read them."""

    match: str
    day: date | None
    demo: bool
    players: tuple[str, str]
    table: RallyTable
    doubted: frozenset[str]  # columns that two observers did not agree on
    watched: NDArray[np.bool_]  # of each rally, whether a person said anything of how it went
    answers: AnswersByOrigin
    left_out: AnswersByOrigin  # those of rallies that nobody watched


def tables_in(connection: Any, player: str, kinds: Sequence[str]) -> tuple[PlayedTable, ...]:
    """Return every match of one player that has a rally, the oldest first; those without a day come first."""
    columns = connection.execute(
        f"SELECT {', '.join(_READ)} FROM rallies WHERE player_a = ? OR player_b = ? "
        "ORDER BY day NULLS FIRST, match, n",
        [player, player],
    ).fetchnumpy()
    names = np.asarray(columns["match"], dtype=object)
    if not names.size:
        return ()
    starts = [0, *(np.flatnonzero(names[1:] != names[:-1]) + 1).tolist(), names.size]
    return tuple(
        _played({name: column[begin:end] for name, column in columns.items()}, kinds)
        for begin, end in pairwise(starts)
    )


def _played(of: Mapping[str, Any], kinds: Sequence[str]) -> PlayedTable:
    players = (str(of["player_a"][0]), str(of["player_b"][0]))
    sides = {players[0]: 0, players[1]: 1}
    columns = {name: _objects(of[name]) for name in ("kind", "place", "receiver_place", "return_to")}
    ids = [*kinds, *sorted({kind for kind in columns["kind"] if kind is not None} - set(kinds))]
    table = RallyTable(
        match=str(of["match"][0]),
        key=tuple(str(key) for key in of["key"]),
        game=_whole(of["game"]),
        n_in_game=_whole(of["n_in_game"]),
        server=_coded(of["server"], sides),
        box=_coded(of["box"], {"right": 0, "left": 1}),
        kinds=tuple(ids),
        kind=_coded(of["kind"], {kind: code for code, kind in enumerate(ids)}),
        how_taken=_coded(of["how"], _codes(HOW_TAKEN)),
        left=_coded(of["left"], _codes(LEFT)),
        winner=_coded(of["winner"], sides),
        let=np.asarray(of["let"], dtype=np.bool_),
        ending=_coded(of["ending"], _codes(ENDINGS)),
        ending_stroke=_coded(of["stroke"], _codes(STROKES)),
        score_a=_whole(of["points_a"]),
        score_b=_whole(of["points_b"]),
        length_s=np.ma.filled(np.ma.asarray(of["length_s"], dtype=np.float64), np.nan),
        shots=_whole(of["shots"]),
        placed=columns["place"],
        receiver_place=columns["receiver_place"],
        return_to=columns["return_to"],
    )
    day = _objects(of["day"].astype("datetime64[D]").astype(object))[0]
    doubted = frozenset(filter(None, (_objects(of["doubted"])[0] or "").split(",")))
    watched = np.asarray(of["watched"], dtype=np.bool_)
    answers, left_out = _answers(of, np.ones_like(watched)), _answers(of, ~watched)
    return PlayedTable(
        table.match, day, bool(of["demo"][0]), players, table, doubted, watched, answers, left_out
    )


def _answers(of: Mapping[str, Any], among: NDArray[np.bool_]) -> AnswersByOrigin:
    columns = (of[name] for name in ("by_person", "unwatched", "drafted", "along"))
    return AnswersByOrigin(*(int(np.asarray(column)[among].sum()) for column in columns))


def _objects(column: Any) -> tuple[Any, ...]:
    """Return a column of words with None for null."""
    masked = np.ma.getmaskarray(column)
    return tuple(
        None if hidden else value for value, hidden in zip(np.ma.getdata(column), masked, strict=True)
    )


def _whole(column: Any) -> Codes:
    return np.ma.filled(np.ma.asarray(column), -1).astype(np.int16)


def _coded(column: Any, codes: Mapping[str, int]) -> Codes:
    return np.array([codes.get(value, -1) for value in _objects(column)], dtype=np.int16)


def _codes(words: Sequence[Any]) -> dict[str, int]:
    return {word.value: code for code, word in enumerate(words)}
