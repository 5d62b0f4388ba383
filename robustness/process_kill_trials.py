"""Killed at random moments: is anything lost that was confirmed, is half a file ever taken for a whole one?

Kill -9 of the working process, as a crash would; the machine goes on, so what the system holds is written.
A power cut is not tried: what holds there is that every commit waits for the disk.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.record.model import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library, database_opening
from goodlength.record.store.database_tables import metadata
from goodlength.scoring.scoring_types import Side, Start
from robustness import child_environment
from robustness.harness_error import OwnFault
from robustness.process_kill_workload import (
    CLIP_US,
    DOCUMENT,
    FILM,
    MATCH,
    MOMENT,
    OLD,
    PER_RALLY,
    WORKS,
)

ENTRIES = 60
LONGEST_S = {"recording": 0.01, "import": 0.08, "clips": 0.2, "migration": 0.2, "back-up": 0.15}


EARLY = 4  # kills in a row before anything was confirmed, until they come later
STUCK_S = 120.0


@dataclass
class Killed:
    """Trials of one work: kills, what was confirmed, what of it is gone, halves found, libraries shut.

    `kills` are those that met the work alive, `mid_way` those of them after which something had been
    confirmed already: were there none, all came before a first piece was done, and the rest says little.
    """

    kills: int = 0
    mid_way: int = 0
    confirmed: int = 0
    lost: int = 0
    halves: int = 0
    not_opening: int = 0
    examples: list[str] = field(default_factory=list)


class Nursery:
    """The process that forks workers, see `robustness.process_kill_workload`."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "robustness.process_kill_workload", str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=child_environment(),
        )

    def trial(self, work: str, begin: int, at_least: int, wait_s: float) -> tuple[list[int], bool]:
        """Let a worker go, kill it some moments after so much was confirmed.

        Gives what was confirmed, and whether it was the kill that ended it.
        """
        stuck = threading.Timer(STUCK_S, self.process.kill)
        stuck.start()
        try:
            return self._trial(work, begin, at_least, wait_s)
        finally:
            stuck.cancel()

    def _trial(self, work: str, begin: int, at_least: int, wait_s: float) -> tuple[list[int], bool]:
        assert self.process.stdin is not None
        self.process.stdin.write(f"{work} {begin}\n")
        self.process.stdin.flush()
        confirmed: list[int] = []
        child, ready = 0, False
        while not (child and ready and len(confirmed) >= at_least):
            line = self._line()
            if line[0] == "dead":
                return confirmed, False
            child = int(line[1]) if line[0] == "child" else child
            ready = ready or line[0] == "ready"
            confirmed += [int(line[0])] if line[0].isdecimal() else []
        time.sleep(wait_s)
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        while (line := self._line())[0] != "dead":
            confirmed += [int(line[0])] if line[0].isdecimal() else []
        return confirmed, line[1] == str(-signal.SIGKILL)

    def _line(self) -> list[str]:
        assert self.process.stdout is not None
        line = self.process.stdout.readline().split()
        if not line:
            raise OwnFault(
                "the process that starts what is to be killed ended, or "
                f"nothing came from it for {STUCK_S} s; see above."
            )
        return line

    def close(self) -> None:
        """End the nursery."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


def kill_all(kills: int, seed: int = 20261125) -> dict[str, Killed]:
    """Kill every work an equal number of times, `kills` altogether."""
    rng = random.Random(seed)
    each = [kills // len(WORKS) + (n < kills % len(WORKS)) for n in range(len(WORKS))]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepare(folder)
        nursery = Nursery(folder)
        try:
            return {work: kill(nursery, folder, work, n, rng) for work, n in zip(WORKS, each, strict=True)}
        finally:
            nursery.close()


def kill(nursery: Nursery, folder: Path, work: str, kills: int, rng: random.Random) -> Killed:
    found, confirmed, halved, begin, early = Killed(), set[int](), set[str](), 1, 0
    longest = 2 * _back_up_s(folder) if work == "back-up" else LONGEST_S[work]
    while found.kills < kills:
        least = rng.randrange(0, 7) if work == "recording" else 0
        written, killed = nursery.trial(work, begin, least, rng.uniform(0.0, longest))
        confirmed |= set(written)
        found.kills += killed
        found.mid_way += killed and bool(written)
        early = 0 if written else early + 1
        if early == EARLY:  # a slow machine: later, or no kill would ever meet the end of a piece
            longest, early = 2 * longest, 0
        at_work = max([begin - 1, *written]) + 1  # the one it was at when it was killed
        try:
            whole, halves = CHECKS[work](folder, begin, at_work)
        except OwnFault:
            raise
        except GoodlengthError as error:
            found.not_opening += 1
            found.examples.append(f"{work}: {error}")
            if not killed:
                break  # what cannot be opened cannot be worked on either
            continue
        if not killed:
            raise OwnFault(
                f"{work} ended by itself at number {at_work}, though what it works on is sound; see above."
            )
        if new := [halve for halve in halves if halve not in halved]:
            found.examples.append(f"{work}: half of {new[:3]}")
        halved |= set(halves)
        found.halves = len(halved)
        found.lost = len(confirmed - whole)
        begin = max([begin - 1, *whole]) + 1
    found.confirmed = len(confirmed)
    return found


def _back_up_s(folder: Path) -> float:
    """Return how long one back-up takes by now: the library has grown by the works before."""
    with Library.open(folder / "lib", create=False) as library:
        began = time.perf_counter()
        made = tasks.back_up(library, folder / "timed.zip")
        took = time.perf_counter() - began
    Path(made.path).unlink()
    return took


def check_recorded(folder: Path, _begin: int, _at_work: int) -> tuple[set[int], list[str]]:
    with Library.open(folder / "lib", create=False) as library:
        stored: dict[str, int] = {}
        for entry in library.entries(MATCH):
            stored[entry.rally] = stored.get(entry.rally, 0) + 1
        damage = library.check()
    halves = [rally for rally, n in stored.items() if n != PER_RALLY]
    return {int(rally[1:]) for rally in stored}, [*halves, *damage]


def check_imported(folder: Path, _begin: int, _at_work: int) -> tuple[set[int], list[str]]:
    with Library.open(folder / "lib", create=False) as library:
        counts = {info.id: len(library.entries(info.id)) for info in library.matches() if info.id[0] == "x"}
    return {int(count[1:]) for count in counts}, [item for item, n in counts.items() if n != ENTRIES]


def check_clip(folder: Path, begin: int, _at_work: int) -> tuple[set[int], list[str]]:
    from goodlength.footage.media.video_probe import probe

    files = list((folder / "clips").glob("c*.mp4"))
    halves = []
    for file in files:
        if int(file.stem[1:]) < begin:  # those were looked at after the kills before
            continue
        seen = probe(file, settle_s=0.0)
        if seen.duration_s is None or abs(seen.duration_s - (CLIP_US[1] - CLIP_US[0]) / 1e6) > 0.1:
            halves.append(file.name)
    return {int(file.stem[1:]) for file in files}, halves


def check_migrated(folder: Path, begin: int, at_work: int) -> tuple[set[int], list[str]]:
    whole, halves = set(range(1, begin)), []  # those were looked at after the kills before
    for n in range(begin, at_work + 1):
        if not (folder / "old" / str(n)).is_dir():
            if n < at_work:
                raise OwnFault(f"there is no old library {n}.")
            continue  # killed before it was laid out
        with Library.open(folder / "old" / str(n), create=False) as library:
            if len(library.entries(MATCH)) != ENTRIES or library.check() or library.practice("iv"):
                halves.append(str(n))
            else:
                whole.add(n)
    return whole, halves


def check_backup(folder: Path, begin: int, _at_work: int) -> tuple[set[int], list[str]]:
    files = list((folder / "backups").glob("b*.zip"))
    halves = []
    for file in files:
        if int(file.stem[1:]) < begin:
            continue
        with tempfile.TemporaryDirectory(dir=folder) as scratch:
            back = tasks.restore(file, Path(scratch) / "lib")
            if back.problems:
                halves.append(file.name)
    return {int(file.stem[1:]) for file in files}, halves


CHECKS = {
    "recording": check_recorded,
    "import": check_imported,
    "clips": check_clip,
    "migration": check_migrated,
    "back-up": check_backup,
}


def prepare(folder: Path) -> None:
    """A library, a document to bring in, a film, and a library of the oldest form."""
    from goodlength.synthetic.numbered_frame_video import Recipe, draw

    for name in ("clips", "backups", "old"):
        (folder / name).mkdir()
    draw(folder / FILM, Recipe(tuple(range(45)), sound=""))
    _filled(folder / "lib", 0)
    _filled(folder / "model", ENTRIES)
    with Library.open(folder / "model") as library:
        tasks.export_match(library, MATCH, folder / DOCUMENT)
    plain = json.loads((folder / DOCUMENT).read_text(encoding="utf-8"))
    text = json.dumps(plain, ensure_ascii=False)
    text = text.replace(f'"{MATCH}"', '"MATCH-ID"').replace('"id": "e', '"id": "ENTRY-')
    (folder / DOCUMENT).write_text(text, encoding="utf-8")
    _of_the_oldest_form(folder / "model" / database_opening.FILE_NAME, folder / OLD)


def _of_the_oldest_form(library: Path, old: Path) -> None:
    """The rows of a library in a file of the first form, as the first migration alone makes it."""
    database_opening.migrate_file(old, "0001", backup=False)
    with closing(sqlite3.connect(old)) as raw:
        raw.execute("ATTACH ? AS new", (str(library),))
        tables = [row[0] for row in raw.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'")]
        for name in tables:
            if name in metadata.tables and name != "about":
                columns = ", ".join(f'"{row[1]}"' for row in raw.execute(f'PRAGMA main.table_info("{name}")'))
                raw.execute(f'INSERT INTO main."{name}" ({columns}) SELECT {columns} FROM new."{name}"')
        raw.commit()


def _filled(place: Path, entries: int) -> None:
    with Library.open(place) as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo(MATCH, ("iv", "pl"), start=Start(server=Side.A)))
        if entries:
            library.append(
                [
                    Entry(f"e{n}", MATCH, "coach", MOMENT, f"r{n}", EntryKind.WINNER, "ab"[n % 2])
                    for n in range(entries)
                ]
            )
