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

from goodlength.record.store import Library
from goodlength.tasks.match.observer_records import doubted_columns

if TYPE_CHECKING:
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
    from goodlength.record.entry_log_replay import match_from
    from goodlength.record.store.season.season_column_building import NAME_A, NAME_B, Replayed

    infos, entries, kinds = library.logs(names)
    found = []
    for name in names:
        if name in infos:
            log = (infos[name], entries.get(name, ()), (NAME_A, NAME_B), kinds)
            found.append(Replayed(match_from(*log), doubted_columns(*log)))
    return found


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
