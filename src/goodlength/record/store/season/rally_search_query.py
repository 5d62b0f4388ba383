"""Search query over the season's rallies: options become conditions, values are bound parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from goodlength.record.tables.answer_origins import AnswersByOrigin


@dataclass(frozen=True)
class SeasonFilter:
    """Rallies to look for; what is None is not asked. Players by id, words as the record spells them."""

    player: str | None = None
    opponent: str | None = None
    serving: bool | None = None  # true: the player serves; false: receives
    won: bool | None = None  # of the player
    server_won: bool | None = None
    box: str | None = None
    kind: str | None = None
    how: str | None = None
    left: tuple[str, ...] = ()
    return_to: str | None = None
    ending: str | None = None
    stroke: str | None = None
    place: str | None = None
    game: int | None = None
    points_below: int | None = None  # both players' points together, before the rally
    points_from: int | None = None
    both_from: int | None = None  # each player has at least so many
    not_both_from: int | None = None
    lead: int | None = None  # sign of the player's points less the opponent's: 1, 0, -1
    since: date | None = None
    until: date | None = None
    text: str | None = None
    keep: bool | None = None
    demo: bool | None = None
    match: str | None = None
    watched: bool | None = None  # whether a person said anything of how it went


@dataclass(frozen=True)
class SeasonRally:
    """One rally found. `call` holds `NAME_A` and `NAME_B` where a player is named."""

    match: str
    day: date | None
    players: tuple[str, str]
    key: str
    n: int
    game: int
    n_in_game: int
    server: str | None
    winner: str | None
    let: bool
    box: str | None
    points: tuple[int, int]
    call: str
    kind: str | None
    how: str | None
    left: str | None
    ending: str | None
    stroke: str | None
    place: str | None
    start_s: float | None
    end_s: float | None
    note: str


@dataclass(frozen=True)
class SeasonRallies:
    """How many rallies fit, in how many matches, and the newest of them.

    `decided` leaves out lets and rallies without a winner; `won` are those the player won (the server,
    where no player was asked for). `answers` says who gave their answers.
    """

    total: int
    matches: int
    decided: int
    won: int
    lets: int
    rallies: tuple[SeasonRally, ...]
    answers: AnswersByOrigin


_SHOWN = (
    "match",
    "day",
    "player_a",
    "player_b",
    "key",
    "n",
    "game",
    "n_in_game",
    "server",
    "winner",
    "let",
    "box",
    "points_a",
    "points_b",
    "call",
    "kind",
    "how",
    '"left"',
    "ending",
    "stroke",
    "place",
    "start_s",
    "end_s",
    "note",
)
_BY_ORIGIN = ", ".join(f"coalesce(sum({name}), 0)" for name in ("by_person", "unwatched", "drafted", "along"))
SqlPart = tuple[str, list[Any]]
_EQUAL = ("box", "kind", "how", "return_to", "ending", "stroke", "place", "game", "demo", "match", "watched")


def found_in(connection: Any, wanted: SeasonFilter, limit: int) -> SeasonRallies:
    """Count the rallies that fit, and read the newest of them."""
    where, values = conditions(wanted)
    won = "winner = ?" if wanted.player else "winner = server"
    counts = connection.execute(
        "SELECT count(*), count(DISTINCT match), count(winner), "
        f"count(*) FILTER ({won}), count(*) FILTER (let), {_BY_ORIGIN} FROM rallies WHERE {where}",
        [*([wanted.player] if wanted.player else []), *values],
    ).fetchone()
    rows = connection.execute(
        f"SELECT {', '.join(_SHOWN)} FROM rallies WHERE {where} "
        "ORDER BY day DESC NULLS LAST, match, n LIMIT ?",
        [*values, limit],
    ).fetchall()
    total, matches, decided, wins, lets, *origins = (int(count) for count in counts)
    found = tuple(_rally(row) for row in rows)
    return SeasonRallies(total, matches, decided, wins, lets, found, AnswersByOrigin(*origins))


def counts_in(connection: Any, several: Sequence[SeasonFilter]) -> tuple[int, ...]:
    """Return how many rallies fit each of several filters, in one reading of the table.

    What all of them ask is asked once, so that only the rallies that can fit are looked at.
    """
    if not several:
        return ()
    parts = [_parts(wanted) for wanted in several]
    shared = [part for part in parts[0] if all(part in others for others in parts)]
    own = [[part for part in each if part not in shared] for each in parts]
    counts = ", ".join(f"count(*) FILTER ({_all_of(each)})" for each in own)
    values = [value for each in (*own, shared) for _, more in each for value in more]
    statement = f"SELECT {counts} FROM rallies WHERE {_all_of(shared)}"
    return tuple(int(count) for count in connection.execute(statement, values).fetchone())


def conditions(wanted: SeasonFilter) -> tuple[str, list[Any]]:
    """Return the condition, and the values of its question marks.

    Examples
    --------
    >>> conditions(SeasonFilter(kind="lob", left=("loose",)))
    ('"kind" = ? AND list_contains(?, "left")', ['lob', ['loose']])
    >>> conditions(SeasonFilter())
    ('true', [])
    """
    parts = _parts(wanted)
    return _all_of(parts), [value for _, more in parts for value in more]


def _all_of(parts: Sequence[SqlPart]) -> str:
    return " AND ".join(sql for sql, _ in parts) or "true"


def _parts(wanted: SeasonFilter) -> list[SqlPart]:
    """Return each condition with the values of its question marks."""
    parts: list[SqlPart] = [
        (f'"{name}" = ?', [value]) for name in _EQUAL if (value := getattr(wanted, name)) is not None
    ]
    parts += _of_players(wanted)
    parts += _of_score(wanted)
    if wanted.left:
        parts.append(('list_contains(?, "left")', [list(wanted.left)]))
    if wanted.since is not None:
        parts.append(("day >= ?", [wanted.since]))
    if wanted.until is not None:
        parts.append(("day <= ?", [wanted.until]))
    if wanted.text:
        parts.append(("contains(strip_accents(lower(note)), strip_accents(lower(?)))", [wanted.text]))
    if wanted.keep is not None:
        parts.append(("keep = ?", [wanted.keep]))
    return parts


def _of_players(wanted: SeasonFilter) -> list[tuple[str, list[Any]]]:
    """Return who plays, who serves, who wins."""
    parts: list[tuple[str, list[Any]]] = []
    for text in (wanted.player, wanted.opponent):
        if text is not None:
            parts.append(("(player_a = ? OR player_b = ?)", [text, text]))
    if wanted.player is not None:
        if wanted.serving is not None:
            parts.append((f"{'server' if wanted.serving else 'receiver'} = ?", [wanted.player]))
        if wanted.won is not None:
            parts.append((f"{'winner' if wanted.won else 'loser'} = ?", [wanted.player]))
    if wanted.server_won is not None:
        parts.append((f"winner = {'server' if wanted.server_won else 'receiver'}", []))
    return parts


def _of_score(wanted: SeasonFilter) -> list[tuple[str, list[Any]]]:
    """Return the score before the rally."""
    parts: list[tuple[str, list[Any]]] = []
    for sql, value in (
        ("points_a + points_b < ?", wanted.points_below),
        ("points_a + points_b >= ?", wanted.points_from),
        ("least(points_a, points_b) >= ?", wanted.both_from),
        ("least(points_a, points_b) < ?", wanted.not_both_from),
    ):
        if value is not None:
            parts.append((sql, [value]))
    if wanted.lead is not None and wanted.player is not None:
        mine = "CASE WHEN player_a = ? THEN points_a - points_b ELSE points_b - points_a END"
        parts.append((f"sign({mine}) = ?", [wanted.player, wanted.lead]))
    return parts


def _rally(row: tuple[Any, ...]) -> SeasonRally:
    fields = dict(zip((name.strip('"') for name in _SHOWN), row, strict=True))
    return SeasonRally(
        players=(fields.pop("player_a"), fields.pop("player_b")),
        points=(fields.pop("points_a"), fields.pop("points_b")),
        note=fields.pop("note") or "",
        **fields,
    )
