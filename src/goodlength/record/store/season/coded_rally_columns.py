"""The columns that searches ask for as numbers in memory, in which many questions are counted quickly.

A page of conditions asks for some hundred counts. Here each takes a few comparisons of small whole numbers;
`rally_search_query` says the same in SQL, and a test compares both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.record.store.season.rally_search_query import SeasonFilter

_WORDS = ("box", "kind", "how", "return_to", "left", "ending", "stroke", "place")
_EPOCH = date(1970, 1, 1)
_NO_DAY = -(10**7)
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class CodedRallies:
    """Rallies of every match, one number a rally and column.

    `columns`: arrays of shape (n,). A column of words holds places in `codes`, -1 for none; `server_a` and
    `winner_a` are 1 for the first-named player, 0 for the other, -1 for nobody; `day` counts from 1970.
    """

    columns: Mapping[str, NDArray[Any]]
    codes: Mapping[str, Mapping[str, int]]
    people: Mapping[str, int]

    def counts(self, several: Sequence[SeasonFilter]) -> tuple[int, ...]:
        """Return how many rallies fit each of several filters, which ask for no match and no note."""
        masks: dict[tuple[object, ...], Mask] = {}
        return tuple(self._count(wanted, masks) for wanted in several)

    def _count(self, wanted: SeasonFilter, masks: dict[tuple[object, ...], Mask]) -> int:
        """Count one filter; each condition's mask is made once."""
        fits: Mask | None = None
        for key in _conditions(wanted):
            if key not in masks:
                masks[key] = self._mask(*key)
            fits = masks[key] if fits is None else fits & masks[key]
        return len(self.columns["game"]) if fits is None else int(np.count_nonzero(fits))

    def _mask(self, name: str, value: Any, more: Any = None) -> Mask:
        """Return which rallies meet one condition."""
        of = self.columns
        if name in _WORDS:
            codes = [self.codes[name].get(word, -2) for word in value]
            found = np.logical_or.reduce([of[name] == code for code in codes])
        elif name == "plays":
            found = self._is_a(value) | self._is_b(value)
        elif name in ("server_a", "winner_a"):  # whether the player is on that side: `more` says served, won
            found = self._is_a(value) & (of[name] == int(more)) | self._is_b(value) & (
                of[name] == int(not more)
            )
        elif name == "server_won":
            known = (of["winner_a"] >= 0) & (of["server_a"] >= 0)
            found = known & ((of["winner_a"] == of["server_a"]) == value)
        elif name == "since":
            found = of["day"] >= (value - _EPOCH).days
        elif name == "until":
            found = (of["day"] <= (value - _EPOCH).days) & (of["day"] != _NO_DAY)
        else:
            found = self._score_mask(name, value, more)
        return np.asarray(found)

    def _score_mask(self, name: str, value: Any, more: Any) -> Mask:
        """Return which rallies begin at such a score, or hold such a number."""
        a, b = self.columns["points_a"], self.columns["points_b"]
        if name == "points_below":
            return np.asarray(a + b < value)
        if name == "points_from":
            return np.asarray(a + b >= value)
        if name == "both_from":
            return np.asarray(np.minimum(a, b) >= value)
        if name == "not_both_from":
            return np.asarray(np.minimum(a, b) < value)
        if name == "lead":
            return np.asarray(np.sign(np.where(self._is_a(more), a - b, b - a)) == value)
        return np.asarray(self.columns[name] == value)  # game, demo, keep, watched

    def _is_a(self, player: str) -> Mask:
        return np.asarray(self.columns["player_a"] == self.people.get(player, -2))

    def _is_b(self, player: str) -> Mask:
        return np.asarray(self.columns["player_b"] == self.people.get(player, -2))


def _conditions(wanted: SeasonFilter) -> list[tuple[Any, ...]]:
    """Return what a filter asks, each as the arguments of its mask."""
    asked: list[tuple[Any, ...]] = []
    for name in _WORDS:
        value = wanted.left if name == "left" else getattr(wanted, name)
        if value not in (None, ()):
            asked.append((name, value if name == "left" else (value,)))
    asked += [("plays", player) for player in (wanted.player, wanted.opponent) if player is not None]
    if wanted.player is not None:
        for name, value in (("server_a", wanted.serving), ("winner_a", wanted.won)):
            if value is not None:
                asked.append((name, wanted.player, value))
        if wanted.lead is not None:
            asked.append(("lead", wanted.lead, wanted.player))
    numbers = ("server_won", "since", "until", "points_below", "points_from", "both_from", "not_both_from")
    for name in (*numbers, "game", "demo", "keep", "watched"):
        if (value := getattr(wanted, name)) is not None:
            asked.append((name, value))
    return asked


def coded_rallies(connection: Any) -> CodedRallies:
    """Read the columns of a season file."""
    words = ", ".join(f'list(DISTINCT "{name}" ORDER BY "{name}")' for name in _WORDS)
    *lists, first, second = connection.execute(
        f"SELECT {words}, list(DISTINCT player_a), list(DISTINCT player_b) FROM rallies"
    ).fetchone()
    values = {
        name: [word for word in found or [] if word is not None]
        for name, found in zip(_WORDS, lists, strict=True)
    }
    people = sorted({*(first or []), *(second or [])})
    picked = {name: f"coalesce({_code(name, values[name])}::INTEGER, -1)" for name in _WORDS}
    picked |= {name: f"{_code(name, people)}::INTEGER" for name in ("player_a", "player_b")}
    picked |= {
        f"{who}_a": f"coalesce(({who} = player_a)::TINYINT, -1::TINYINT)" for who in ("server", "winner")
    }
    picked |= {"game": "game", "points_a": "points_a", "points_b": "points_b", "demo": "demo"}
    picked |= {"watched": "coalesce(watched::TINYINT, -1::TINYINT)"}
    picked |= {"keep": "keep", "day": f"coalesce(day - DATE '{_EPOCH.isoformat()}', {_NO_DAY})"}
    sql = ", ".join(f'{part} AS "{name}"' for name, part in picked.items())
    columns = connection.execute(f"SELECT {sql} FROM rallies").fetchnumpy()
    codes = {name: {word: at for at, word in enumerate(found)} for name, found in values.items()}
    return CodedRallies(
        {name: np.asarray(column) for name, column in columns.items()},
        codes,
        {name: at for at, name in enumerate(people)},
    )


def _code(column: str, words: Sequence[str]) -> str:
    """Return the place of a column's word among `words`, in SQL; NULL for none."""
    listed = ", ".join("'" + word.replace("'", "''") + "'" for word in words)
    return f'enum_code("{column}"::ENUM({listed}))' if words else "NULL"
