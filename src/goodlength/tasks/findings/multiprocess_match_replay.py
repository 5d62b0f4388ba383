"""Replay many matches in several processes: for the first reading of a large library.

```
 batches of ids ──> process 1 ──┐
                └─> process 2 ──┴──> columns of each batch, in the order asked
```
Each process reads the library itself, many matches a query. A few matches are replayed sooner without: a
process takes about a second to start.
"""

from __future__ import annotations

import gc
import os
from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.record.effective_answers import (
    effective_answers,
    is_own_tab,
    layer_of,
    plain_answers,
)
from goodlength.record.store import Library
from goodlength.tasks.match.observer_record_replay import doubted_columns

if TYPE_CHECKING:
    from goodlength.record.model import Entry, KindOfServe, MatchInfo
    from goodlength.record.store.entry_log import PlainLog
    from goodlength.record.store.season.season_column_building import Columns, Replayed

MOST_PROCESSES = 8
_AHEAD = 2  # batches waiting for each process

_opened: list[Library] = []  # of this process


def processors() -> int:
    """Return how many processors this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def replays(library: Library, names: Sequence[str]) -> list[Replayed]:
    """Replay some matches, read in one go; those that are not there any more are left out."""
    infos, logs = library.plain_logs(names)
    quick = {name: _quick(infos[name], logs[name]) for name in names if name in infos}
    rest = [name for name, replayed in quick.items() if replayed is None]
    found = quick | (_whole(library, rest) if rest else {})
    return [replayed for name in names if (replayed := found.get(name)) is not None]


def _quick(info: MatchInfo, log: PlainLog) -> Replayed | None:
    """Replay a match that one observer logged, all of it by hand; None where its whole entries are needed."""
    from goodlength.record.store.season.season_column_building import replayed_from

    if not log.sound or {layer_of(observer) for observer in log.observers} - {layer_of(info.observer)}:
        return None
    if not all(map(is_own_tab, log.observers)):  # who gave an answer counts, and the rows do not say it
        return None
    answers = plain_answers(log.rows)
    return None if answers is None else replayed_from(info, answers)


def _whole(library: Library, names: Sequence[str]) -> dict[str, Replayed | None]:
    infos, entries, kinds = library.logs(names)
    return {name: replayed_log(infos[name], entries.get(name, ()), kinds) for name in names if name in infos}


def replayed_log(info: MatchInfo, entries: Sequence[Entry], kinds: Sequence[KindOfServe]) -> Replayed:
    """Replay a match from its whole log, and compare its observers where there is more than one."""
    from goodlength.record.store.season.season_column_building import NAME_A, NAME_B, replayed_from

    doubted = doubted_columns(info, entries, (NAME_A, NAME_B), kinds)
    return replayed_from(info, effective_answers(entries, info.observer), doubted)


def columns_by_processes(
    library: Library, batches: Sequence[Sequence[str]], processes: int | None = None
) -> Generator[Columns, None, None]:
    """Yield the columns of each batch of matches, in order.

    Where processes cannot be started, or one dies, what is left is replayed here.

    Parameters
    ----------
    processes : int, optional
        How many; left out, one for each processor, at most eight.
    """
    from goodlength.record.store.season.season_column_building import columns_of

    many = min(processes or processors(), MOST_PROCESSES, len(batches))
    done = 0
    if many > 1:
        try:
            for columns in _by_processes(library, batches, many):
                yield columns
                done += 1
        except (BrokenProcessPool, OSError):
            pass  # no right to start processes, no memory for them, or one was killed
    for names in batches[done:]:
        yield columns_of(replays(library, names))


def _by_processes(
    library: Library, batches: Sequence[Sequence[str]], many: int
) -> Generator[Columns, None, None]:
    place = (library.address, library.folder)
    pool = ProcessPoolExecutor(many, get_context("spawn"), _open, place)
    try:
        left = iter(batches)
        waiting: deque[Future[Columns]] = deque(
            pool.submit(_columns, names) for names in islice(left, many * (1 + _AHEAD))
        )
        while waiting:
            columns = waiting.popleft().result()
            waiting.extend(pool.submit(_columns, names) for names in islice(left, 1))
            yield columns
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _open(address: str | Path, folder: Path) -> None:
    gc.freeze()
    gc.set_threshold(100_000, 20, 100)  # replay makes many objects and few circles: a third sooner
    _opened.append(Library.open(address, create=False, folder=folder))


def _columns(names: Sequence[str]) -> Columns:
    from goodlength.record.store.season.season_column_building import columns_of

    return columns_of(replays(_opened[0], names))
