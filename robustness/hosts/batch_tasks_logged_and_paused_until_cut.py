"""The pieces of a batch, each of which notes on a shared disk where it began and ended, and can be held.

A held piece waits until the link of its host is cut, and then does its work all the same: as a host does that
does not know yet that it is cut off.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from goodlength.forms import dask_distributed_batch_runs
from robustness.harness_error import OwnFault

HOST, FOLDER = "WATCHED_HOST", "WATCHED_FOLDER"  # variables of a worker's environment
NOTES, HOLD, WAITING, RELEASED = "notes", "hold", "waiting", "released"
LONGEST_HOLD_S = 180.0
POLL_S = 0.05
WORK: dict[str, Callable[..., Any]] = {
    "copy": dask_distributed_batch_runs.copy_piece,
    "report": dask_distributed_batch_runs.report_piece,
    "rallies": dask_distributed_batch_runs.detect_rallies_in_one,
}


def copy(src: str, dst: str) -> str:
    """Make one copy."""
    with _noted("copy", Path(dst).name):
        return str(WORK["copy"](src=src, dst=dst))


def report(library: str, folder: str, player: str) -> Any:
    """Report on one player."""
    with _noted("report", player):
        return WORK["report"](library=library, folder=folder, player=player)


def rallies(path: str) -> Any:
    """Detect the rallies of one film."""
    with _noted("rallies", Path(path).name):
        return WORK["rallies"](path=path)


@contextmanager
def watched() -> Iterator[None]:
    """Have the batches of goodlength send these pieces in place of their own."""
    with (
        patch.object(dask_distributed_batch_runs, "copy_piece", copy),
        patch.object(dask_distributed_batch_runs, "report_piece", report),
        patch.object(dask_distributed_batch_runs, "detect_rallies_in_one", rallies),
    ):
        yield


def notes(folder: Path) -> list[dict[str, str]]:
    """Return what was noted: `what` (began, ended, failed), `work`, `piece`, `host`."""
    written = folder / NOTES
    return [json.loads(line) for line in written.read_text().splitlines()] if written.exists() else []


def wait_for(fulfilled: Callable[[], bool], what: str, longest_s: float = LONGEST_HOLD_S) -> None:
    """Wait until something is so.

    Raises
    ------
    OwnFault
        If it never is.
    """
    until = time.monotonic() + longest_s
    while not fulfilled():
        if time.monotonic() > until:
            raise OwnFault(f"waited {longest_s:.0f} s in vain until {what}.")
        time.sleep(POLL_S)


@contextmanager
def _noted(work: str, piece: str) -> Iterator[None]:
    host = os.environ.get(HOST)
    if host is None:  # on one machine alone nothing is watched
        yield
        return
    folder = Path(os.environ[FOLDER])
    _note(folder, {"what": "began", "work": work, "piece": piece, "host": host})
    if (folder / f"{HOLD}-{host}").exists():
        (folder / f"{WAITING}-{host}").write_text(piece)
        wait_for((folder / f"{RELEASED}-{host}").exists, f"{host} was released")
    what = "failed"
    try:
        yield
        what = "ended"
    finally:
        _note(folder, {"what": what, "work": work, "piece": piece, "host": host})


def _note(folder: Path, line: dict[str, str]) -> None:
    handle = os.open(folder / NOTES, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    try:
        os.write(handle, (json.dumps(line) + "\n").encode())
    finally:
        os.close(handle)
