"""The shared store on a real server: killed while two programs record, and a library of 10,000 matches."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.record.model import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from goodlength.scoring.scoring_types import Side, Start
from robustness import child_environment
from robustness.harness_error import OwnFault
from robustness.temporary_postgres_server import ScratchServer, scratch_server

RALLIES = 78  # as many as the demo match
PLAYERS = 200
WRITER = """
import sys
from robustness.postgres_store_trials import write_on
write_on(*sys.argv[1:])
"""


@dataclass(frozen=True)
class StoreFigures:
    """What was measured; `server` says why nothing could be where it is not "tried".

    `server_lost` counts answers that were confirmed and gone after the kills; `two_programs_lost` those of
    two programs on one match at once. Times in seconds, of the library of so many matches with a winner a
    rally; `server_first_search_s` reads every match once.
    """

    server: str
    server_kills: int = 0
    server_confirmed: int = 0
    server_lost: int = 0
    two_programs_answers: int = 0
    two_programs_lost: int = 0
    server_matches: int = 0
    server_rallies: int = 0
    server_load_s: float | None = None
    server_list_s: float | None = None
    server_match_s: float | None = None
    server_first_search_s: float | None = None
    server_search_s: float | None = None


def bench_shared_store(kills: int = 5, matches: int = 10_000, seconds: float = 3.0) -> StoreFigures:
    """Measure on a server of its own; where the system has none, say so.

    Raises
    ------
    GoodlengthError
        If the server is there and what is tried on it fails: that is no "not tried".
    """
    with ExitStack() as resources:
        try:
            server = resources.enter_context(scratch_server())
        except GoodlengthError as error:
            return StoreFigures(f"not tried: {error}")
        folder = Path(resources.enter_context(tempfile.TemporaryDirectory()))
        confirmed, lost = _kills(server, folder, kills)
        both, gone = _two_programs(server, folder, seconds)
        times = _large(server, folder, matches)
        return StoreFigures("tried", kills, confirmed, lost, both, gone, matches, matches * RALLIES, *times)


def _kills(server: ScratchServer, folder: Path, kills: int) -> tuple[int, int]:
    rng = np.random.default_rng(20261125)
    url = server.new_database("kills")
    _start_library(url, folder)
    confirmed: set[str] = set()
    for n in range(kills):
        writers = [_writer(url, folder, f"k{n}{who}", 60.0) for who in "ab"]
        for writer in writers:
            assert writer.stdout is not None
            confirmed.add(required_name(writer.stdout.readline().strip()))
        time.sleep(float(rng.uniform(0.0, 0.5)))
        server.kill()
        for writer in writers:
            confirmed |= set(writer.communicate(timeout=60)[0].split())
        server.start()
    return len(confirmed), len(confirmed - _stored(url, folder))


def _two_programs(server: ScratchServer, folder: Path, seconds: float) -> tuple[int, int]:
    url = server.new_database("two")
    _start_library(url, folder)
    writers = [_writer(url, folder, who, seconds) for who in "ab"]
    outputs = [writer.communicate(timeout=60 + seconds)[0].split() for writer in writers]
    confirmed = {name for names in outputs for name in (required_name(names[0] if names else ""), *names)}
    return len(confirmed), len(confirmed - _stored(url, folder))


def required_name(name: str) -> str:
    if not name:
        raise OwnFault("a program that should write answers on the server wrote none.")
    return name


def _large(server: ScratchServer, folder: Path, matches: int) -> tuple[float, float, float, float, float]:
    rng = np.random.default_rng(20261125)
    with Library.open(server.new_database("large"), folder=folder / "large") as library:
        for n in range(PLAYERS):
            library.save_player(Player(f"p{n}", f"Player {n}"))
        began = time.perf_counter()
        for n in range(matches):
            a, b = (f"p{k}" for k in rng.choice(PLAYERS, 2, replace=False))
            winners = rng.random(RALLIES) < 0.5
            entries = [
                Entry(
                    f"m{n}-{k}", f"m{n}", "coach", now_utc(), f"r{k}", EntryKind.WINNER, "a" if won else "b"
                )
                for k, won in enumerate(winners)
            ]
            library.bring_in((), MatchInfo(f"m{n}", (a, b), start=Start(server=Side.A)), entries)
        load = time.perf_counter() - began
        question = tasks.SeasonQuestion(player="p7", outcome="lost")
        return (
            load,
            _timed(lambda: tasks.list_matches(library)),
            _timed(lambda: tasks.show_match(library, f"m{matches // 2}")),
            _timed(lambda: tasks.search(library, question)),
            _timed(lambda: tasks.search(library, question)),
        )


def _start_library(url: str, folder: Path) -> None:
    with Library.open(url, folder=folder) as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl")))


def _stored(url: str, folder: Path) -> set[str]:
    for _ in range(40):  # a server that was killed says so while it recovers
        try:
            with Library.open(url, folder=folder) as library:
                return {entry.id for entry in library.entries("m1")}
        except GoodlengthError:
            time.sleep(0.25)
    raise GoodlengthError("The server did not come back after it was killed.")


def write_on(url: str, folder: str, who: str, seconds: str) -> None:
    """Write answers until the time is up or the server dies; print each that was confirmed."""
    until = time.monotonic() + float(seconds)
    with Library.open(url, folder=folder) as library, suppress(GoodlengthError):
        n = 0
        while time.monotonic() < until:
            name = f"{who}-{n}"
            library.append([Entry(name, "m1", f"coach/{who}", now_utc(), f"r{n}", EntryKind.NOTE, name)])
            sys.stdout.write(name + "\n")
            sys.stdout.flush()
            n += 1


def _writer(url: str, folder: Path, who: str, seconds: float) -> subprocess.Popen[str]:
    words = [sys.executable, "-c", WRITER, url, str(folder), who, str(seconds)]
    return subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=child_environment()
    )


def _timed(work: object) -> float:
    began = time.perf_counter()
    assert callable(work)
    work()
    return time.perf_counter() - began
