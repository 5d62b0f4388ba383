"""Simulated seasons stored in a library, with their search columns."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.files.json_types import Json
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Entry, EntryKind, MatchInfo, Player
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.simulated_matches import null_match

if TYPE_CHECKING:
    from goodlength.record.store import Library


PLAYERS = 200


MODELS = 40  # different invented matches; the library repeats them with other players and days


PART = 500  # matches made at a time


FIRST_DAY = date(2020, 1, 1)


def invent(library: Library, rng: np.random.Generator, matches: int) -> int:
    """Fill a library with matches in name, and its season with their rallies; gives how many rallies."""
    from goodlength.record.store import entry_log
    from goodlength.record.store import match_rows as stored
    from goodlength.record.store.season.season_duckdb_file import Season

    for n in range(PLAYERS):
        library.save_player(Player(f"p{n}", f"Player {n} of {PLAYERS}"))
    models = [null_match(rng) for _ in range(MODELS)]
    infos = [_info(n, rng) for n in range(matches)]
    with library._write() as connection:
        for info in infos:
            stored.save(connection, info)
        entry_log.append(connection, [stored_entry(info.id, "begun", EntryKind.NOTE, "") for info in infos])
    Season(library.folder).write_columns(library, _parts(infos, models))
    return sum(len(models[n % MODELS].key) for n in range(matches))


def _info(n: int, rng: np.random.Generator) -> MatchInfo:
    a, b = rng.choice(PLAYERS, 2, replace=False)
    day = FIRST_DAY + timedelta(days=int(rng.integers(0, 2200)))
    return MatchInfo(f"m{n}", (f"p{a}", f"p{b}"), played_on=day, start=Start(server=Side.A))


def stored_entry(match: str, name: str, what: EntryKind, value: Any) -> Entry:
    from goodlength.record.store.library_store import now_utc

    return Entry(f"{match}-{name}", match, "coach", now_utc(), "r0", what, value)


def _parts(infos: list[MatchInfo], models: list[RallyTable]) -> Iterator[dict[str, np.ndarray[Any, Any]]]:
    """Yield columns of the invented matches, some at a time."""
    for at in range(0, len(infos), PART):
        made = [
            season_columns(info, models[(at + n) % MODELS]) for n, info in enumerate(infos[at : at + PART])
        ]
        yield {name: np.concatenate([fields[name] for fields in made]) for name in made[0]}


def season_columns(info: MatchInfo, table: RallyTable) -> dict[str, np.ndarray[Any, Any]]:
    """Return one invented match in the form that `seasoncolumns.columns_of` gives."""
    n = len(table.key)

    def same(value: Any) -> np.ndarray[Any, Any]:
        return np.full(n, value, dtype=object)

    def words(codes: np.ndarray[Any, Any], of: tuple[Any, ...]) -> np.ndarray[Any, Any]:
        spelled = np.array([*(getattr(item, "value", item) for item in of), None], dtype=object)
        return np.asarray(spelled[codes])

    ids = info.players
    other = np.where(table.winner >= 0, 1 - table.winner, -1)
    nothing = same(None)
    notes = words(np.where(np.arange(n) % 9 == 0, 0, -1), ("An Übung 7 denken",))
    day = same(info.played_on.isoformat() if info.played_on else None)
    return {
        "match": same(info.id),
        "day": day,
        "demo": same(False),
        "player_a": same(ids[0]),
        "player_b": same(ids[1]),
        "key": np.array(table.key, dtype=object),
        "n": np.arange(1, n + 1, dtype=np.int32),
        "game": table.game.astype(np.int32),
        "n_in_game": table.n_in_game.astype(np.int32),
        "server": words(table.server, ids),
        "receiver": words(1 - table.server, ids),
        "winner": words(table.winner, ids),
        "loser": words(other, ids),
        "let": table.let.astype(object),
        "box": words(table.box, ("right", "left")),
        "points_a": table.score_a.astype(np.int32),
        "points_b": table.score_b.astype(np.int32),
        "call": same("Hand-out, 5–6"),
        "kind": words(table.kind, table.kinds),
        "receiver_place": nothing,
        "how": words(table.how_taken, HOW_TAKEN),
        "return_stroke": nothing,
        "return_to": nothing,
        "left": words(table.left, LEFT),
        "ending": words(table.ending, ENDINGS),
        "stroke": nothing,
        "volley": nothing,
        "place": nothing,
        "why": nothing,
        "start_s": np.arange(n) * 25.0,
        "end_s": np.arange(n) * 25.0 + table.length_s,
        "length_s": table.length_s,
        "shots": table.shots.astype(np.int32),
        "note": notes,
        "keep": same(False),
        "watched": same(True),
        "by_person": sum(
            (
                (codes >= 0).astype(np.int32)
                for codes in (table.kind, table.how_taken, table.left, table.winner)
            ),
            start=(table.ending >= 0).astype(np.int32),
        ),
        **{name: np.zeros(n, dtype=np.int32) for name in ("unwatched", "drafted", "along")},
        "doubted": nothing,
    }


def written_entries(match: str, table: RallyTable) -> list[Entry]:
    """Return the entries a coach would have made of an invented match."""
    pen = EntryWriter(match)
    for n, key in enumerate(table.key):
        let = bool(table.let[n])
        answers: dict[str, Json] = {
            "span": (n * 25_000_000, n * 25_000_000 + 12_000_000),
            "server": "ab"[table.server[n]],
            "box": ("right", "left")[table.box[n]],
            "kind": table.kinds[table.kind[n]],
            "how": HOW_TAKEN[table.how_taken[n]].value,
            "left": LEFT[table.left[n]].value,
            "ending": ENDINGS[table.ending[n]].value,
        }
        if not let:
            answers["winner"] = "ab"[table.winner[n]]
        pen.rally(key, **answers)
    return pen.entries
