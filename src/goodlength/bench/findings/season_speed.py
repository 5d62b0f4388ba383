"""The season measured: search over 10,000 matches, reading matches in, and sheets between games.

The 10,000 matches are rows of an invented library: their columns are made directly, because replaying them
would take minutes. What replaying costs is measured beside it, a match, on matches with all their entries.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.bench.findings.false_alarms import null_match
from goodlength.files.json_values import Json
from goodlength.findings import Names
from goodlength.findings.analyses.questions import judge_all
from goodlength.findings.model import Grade
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.between_games import (
    between_games_report,
    grade_after_looks,
    rallies_upto,
)
from goodlength.record.entry_writer import EntryWriter
from goodlength.record.model import Entry, EntryKind, MatchInfo, Player
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable
from goodlength.scoring.model import Side, Start
from goodlength.tasks.findings.season_search import SeasonQuestion, search, up_to_date

if TYPE_CHECKING:
    from goodlength.record.store import Library

PLAYERS = 200
MODELS = 40  # different invented matches; the library repeats them with other players and days
PART = 500  # matches made at a time
FIRST_DAY = date(2020, 1, 1)
QUESTIONS = (
    SeasonQuestion(player="p7", role="serving", kind="lob", left="weak", outcome="lost"),
    SeasonQuestion(kind="hard", box="left", phase="late"),
    SeasonQuestion(player="p7", opponent="p8"),
    SeasonQuestion(text="an ubung 7 denken"),
    SeasonQuestion(ending="unforced-error", since=date(2024, 1, 1)),
    SeasonQuestion(),
)


@dataclass(frozen=True)
class SeasonFigures:
    """What was measured; times in seconds, shares 0 to 1.

    `search_s` is the slowest of the questions, each the median of five, the look for changes in the record
    included; `search_first_s` the first search of a program. `changed_s` is a search after one match of
    the 10,000 got one more answer. `read_in_ms` is what one whole match costs to be read in from its
    entries: so many times the matches is what the first search of a library takes.
    """

    matches: int
    rallies: int
    file_mb: float
    search_first_s: float
    search_s: float
    changed_s: float
    read_in_ms: float
    read_in_first_search_min: float
    sheet_s: float
    sheets_null_matches: int
    sheets_any_clear: float
    sheets_any_leaning: float


def bench_season(
    seed: int = 20261125, matches: int = 10_000, real_matches: int = 30, null_matches: int = 200
) -> SeasonFigures:
    """Search an invented library, read real entries in, and count false alarms of sheets."""
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory() as folder:
        rallies, size, first, slowest, changed = searches(Path(folder) / "large", rng, matches)
        read_in = _read_in(Path(folder) / "real", rng, real_matches)
    clear, leaning = null_sheets(rng, null_matches)
    return SeasonFigures(
        matches=matches,
        rallies=rallies,
        file_mb=size / 1e6,
        search_first_s=first,
        search_s=slowest,
        changed_s=changed,
        read_in_ms=1000 * read_in,
        read_in_first_search_min=read_in * matches / 60,
        sheet_s=_median(lambda: _sheet(null_match(rng))),
        sheets_null_matches=null_matches,
        sheets_any_clear=clear,
        sheets_any_leaning=leaning,
    )


def search_seconds(seed: int = 20261125, matches: int = 10_000) -> float:
    """Return the slowest of the questions to an invented library, s; the figure `bench findings` prints."""
    with tempfile.TemporaryDirectory() as folder:
        return searches(Path(folder) / "large", np.random.default_rng(seed), matches)[3]


def null_sheets(rng: np.random.Generator, matches: int) -> tuple[float, float]:
    """Return shares of matches without any difference in which some sheet between games shows Clear, or
    a grade.
    """
    clear = leaning = 0
    for _ in range(matches):
        table = null_match(rng, float(rng.uniform(0.4, 0.6)), int(rng.choice((11, 11, 15))))
        grades: set[Grade | None] = set()
        for looks, game in enumerate(np.unique(table.game), 1):
            grades |= {
                grade_after_looks(one, looks) for one in judge_all(RallyMasks(rallies_upto(table, int(game))))
            }
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
    return clear / matches, leaning / matches


def searches(folder: Path, rng: np.random.Generator, matches: int) -> tuple[int, int, float, float, float]:
    """Rallies, bytes of the file, and times of the first search, the slowest, and one after a change."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        rallies = invent(library, rng, matches)
        size = sum(file.stat().st_size for file in (library.folder / "season").iterdir())
        began = time.perf_counter()
        search(library, QUESTIONS[0])
        first = time.perf_counter() - began
        slowest = max(_median(lambda asked=asked: search(library, asked)) for asked in QUESTIONS)  # type: ignore[misc]
        library.append([_entry("m0", "changed", EntryKind.NOTE, "one more answer")])
        began = time.perf_counter()
        search(library, QUESTIONS[0])
        return rallies, size, first, slowest, time.perf_counter() - began


def invent(library: Library, rng: np.random.Generator, matches: int) -> int:
    """Fill a library with matches in name, and its season with their rallies; gives how many rallies."""
    from goodlength.record.store import entry_log
    from goodlength.record.store import matches as stored
    from goodlength.record.store.season.season_file import Season

    for n in range(PLAYERS):
        library.save_player(Player(f"p{n}", f"Player {n} of {PLAYERS}"))
    models = [null_match(rng) for _ in range(MODELS)]
    infos = [_info(n, rng) for n in range(matches)]
    with library._write() as connection:
        for info in infos:
            stored.save(connection, info)
        entry_log.append(connection, [_entry(info.id, "begun", EntryKind.NOTE, "") for info in infos])
    Season(library.folder).write_columns(library, _parts(infos, models))
    return sum(len(models[n % MODELS].key) for n in range(matches))


def _info(n: int, rng: np.random.Generator) -> MatchInfo:
    a, b = rng.choice(PLAYERS, 2, replace=False)
    day = FIRST_DAY + timedelta(days=int(rng.integers(0, 2200)))
    return MatchInfo(f"m{n}", (f"p{a}", f"p{b}"), played_on=day, start=Start(server=Side.A))


def _entry(match: str, name: str, what: EntryKind, value: Any) -> Entry:
    from goodlength.record.store.library import now_utc

    return Entry(f"{match}-{name}", match, "coach", now_utc(), "r0", what, value)


def _parts(infos: list[MatchInfo], models: list[RallyTable]) -> Iterator[dict[str, np.ndarray[Any, Any]]]:
    """Columns of the invented matches, some at a time."""
    for at in range(0, len(infos), PART):
        made = [
            season_columns(info, models[(at + n) % MODELS]) for n, info in enumerate(infos[at : at + PART])
        ]
        yield {name: np.concatenate([one[name] for one in made]) for name in made[0]}


def season_columns(info: MatchInfo, table: RallyTable) -> dict[str, np.ndarray[Any, Any]]:
    """One invented match in the form that `seasoncolumns.columns_of` gives."""
    n = len(table.key)

    def same(value: Any) -> np.ndarray[Any, Any]:
        return np.full(n, value, dtype=object)

    def words(codes: np.ndarray[Any, Any], of: tuple[Any, ...]) -> np.ndarray[Any, Any]:
        spelled = np.array([*(getattr(one, "value", one) for one in of), None], dtype=object)
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
        "doubted": nothing,
    }


def _read_in(folder: Path, rng: np.random.Generator, matches: int) -> float:
    """Seconds a match to read in whole matches from their entries, about six answers a rally."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        for player in ("a", "b"):
            library.save_player(Player(player, f"Player {player}"))
        for n in range(matches):
            info = MatchInfo(f"m{n}", ("a", "b"), start=Start(server=Side.A))
            library.save_match(info)
            library.append(_written(info.id, null_match(rng)))
        began = time.perf_counter()
        up_to_date(library)
        return (time.perf_counter() - began) / matches


def _written(match: str, table: RallyTable) -> list[Entry]:
    """The entries a coach would have made of an invented match."""
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


def _sheet(table: RallyTable) -> object:
    scores = {int(game): (0, 0) for game in np.unique(table.game)}
    return between_games_report(table, "a", Names("Imogen", "Petra"), scores, set(scores))


def _median(work: Callable[[], object], times: int = 5) -> float:
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return float(np.median(taken))
