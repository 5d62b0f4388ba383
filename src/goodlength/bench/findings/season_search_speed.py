"""Time of season search over 10,000 matches, of reading matches in, and of sheets between games.

The 10,000 matches are rows of an invented library: their columns are made directly, because replaying them
would take minutes. What replaying costs is measured beside it, a match, on matches with all their entries.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from goodlength.findings import Names
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.between_games_sheet import (
    between_games_report,
    grade_after_looks,
    rallies_upto,
)
from goodlength.findings.result_types import Grade
from goodlength.record.model import EntryKind, MatchInfo, Player
from goodlength.record.tables.rally_table import RallyTable
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.simulated_matches import null_match
from goodlength.synthetic.simulated_season_library import invent, stored_entry, written_entries
from goodlength.tasks.findings.season_search import SeasonQuestion, search, up_to_date

if TYPE_CHECKING:
    pass

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
                grade_after_looks(result, looks)
                for result in judge_all(RallyMasks(rallies_upto(table, int(game))))
            }
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
    return clear / matches, leaning / matches


def searches(folder: Path, rng: np.random.Generator, matches: int) -> tuple[int, int, float, float, float]:
    """Return rallies, bytes of the file, and times of the first search, the slowest, and one after a
    change.
    """
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        rallies = invent(library, rng, matches)
        size = sum(file.stat().st_size for file in (library.folder / "season").iterdir())
        began = time.perf_counter()
        search(library, QUESTIONS[0])
        first = time.perf_counter() - began
        slowest = max(_median(lambda asked=asked: search(library, asked)) for asked in QUESTIONS)  # type: ignore[misc]
        library.append([stored_entry("m0", "changed", EntryKind.NOTE, "one more answer")])
        began = time.perf_counter()
        search(library, QUESTIONS[0])
        return rallies, size, first, slowest, time.perf_counter() - began


def _read_in(folder: Path, rng: np.random.Generator, matches: int) -> float:
    """Seconds a match to read in whole matches from their entries, about six answers a rally."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        for player in ("a", "b"):
            library.save_player(Player(player, f"Player {player}"))
        for n in range(matches):
            info = MatchInfo(f"m{n}", ("a", "b"), start=Start(server=Side.A))
            library.save_match(info)
            library.append(written_entries(info.id, null_match(rng)))
        began = time.perf_counter()
        up_to_date(library)
        return (time.perf_counter() - began) / matches


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
