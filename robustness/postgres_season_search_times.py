"""Season columns on a real server: a second coach's first search, one changed match, the first reading."""

from __future__ import annotations

import os
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength.bench.large_library_response_times import whole_matches
from goodlength.errors import GoodlengthError
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.synthetic.simulated_season_library import invent
from goodlength.tasks.findings.season_search import SeasonQuestion, search
from robustness.temporary_postgres_server import ScratchServer, scratch_server

ASKED = SeasonQuestion(kind="lob")


@dataclass(frozen=True)
class ServerSeasonFigures:
    """What was measured; `server` says why nothing could be where it is not "tried". Times in seconds.

    The first two times are of `matches` matches with ready columns. `first_reading_s` replays `read_matches`
    whole matches. Processor times are those of all processes but the server's.
    """

    server: str
    load: float  # of the machine, before
    processors: int
    matches: int = 0
    rallies: int = 0
    first_search_second_coach_s: float | None = None
    first_search_second_coach_processor_s: float | None = None
    one_changed_s: float | None = None
    one_changed_processor_s: float | None = None
    read_matches: int = 0
    read_entries: int = 0
    first_reading_s: float | None = None
    first_reading_processor_s: float | None = None


def bench_server_season(seed: int, matches: int = 10_000, read: int = 1_000) -> ServerSeasonFigures:
    """Measure on a server of its own; where the system has none, say so."""
    load, processors = os.getloadavg()[0], os.cpu_count() or 1
    try:
        with scratch_server() as server, tempfile.TemporaryDirectory() as folder:
            rallies, second, changed = _columns(server, Path(folder), seed, matches)
            entries, first = _reading(server, Path(folder), seed, read)
    except GoodlengthError as error:
        return ServerSeasonFigures(str(error), load, processors)
    return ServerSeasonFigures(
        "tried",
        load,
        processors,
        matches,
        rallies,
        *second,
        *changed,
        read,
        entries,
        *first,
    )


def _columns(
    server: ScratchServer, folder: Path, seed: int, matches: int
) -> tuple[int, tuple[float, float], tuple[float, float]]:
    """Return rallies, the time of the second coach's first search, and of one after one match changed."""
    address = server.new_database("columns")
    with Library.open(address, folder=folder / "first") as library:
        rallies = invent(library, np.random.default_rng(seed), matches)
    with Library.open(address, folder=folder / "second") as library:
        second = _timed(library)
        changed = []
        for n in range(5):
            library.append([EntryWriter(f"m{n}").write("r0", EntryKind.NOTE, f"changed {n}")])
            changed.append(_timed(library))
    return rallies, second, sorted(changed)[len(changed) // 2]


def _reading(server: ScratchServer, folder: Path, seed: int, matches: int) -> tuple[int, tuple[float, float]]:
    """Return entries, and the time of a search that has to replay every match."""
    with Library.open(server.new_database("whole"), folder=folder / "whole") as library:
        entries = whole_matches(library, np.random.default_rng(seed), matches)
        return entries, _timed(library)


def _timed(library: Library) -> tuple[float, float]:
    """Return seconds of a search, and of processor time, that of ended processes too."""
    used, began = sum(os.times()[:4]), time.perf_counter()
    search(library, ASKED)
    return time.perf_counter() - began, sum(os.times()[:4]) - used
