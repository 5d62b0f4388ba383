"""What is being done while the process is killed: one process that forks a worker for each trial.

Run as `python -m robustness.process_kill_workload FOLDER`. Each line on stdin, "WORK BEGIN", forks
a worker, which writes a line for everything it was told is safe; the driver in
`robustness.process_kill_trials` kills it at a random moment.
Everything heavy is loaded before the first fork, so that a thousand trials take minutes.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import alembic.command  # all that the works need is loaded before the fork

from goodlength import tasks
from goodlength.footage.edit import clip_export
from goodlength.record.model import Entry, EntryKind
from goodlength.record.store import Library

PER_RALLY = 3
MATCH = "m1"
MOMENT = datetime(2026, 3, 7, tzinfo=UTC)
CLIP_US = (200_000, 700_000)
DOCUMENT, FILM, OLD = "document.json", "film.mp4", "old.sqlite3"


def record(folder: Path, n: int) -> None:
    """Rallies of three answers, each rally one transaction."""
    library = Library.open(folder / "lib", create=False)
    report("ready")
    while True:
        answers = (
            (EntryKind.KIND, "lob"),
            (EntryKind.LEFT, "tight"),
            (EntryKind.WINNER, "a" if n % 3 else "b"),
        )
        library.append(
            [
                Entry(f"{n}-{what.value}", MATCH, "coach", MOMENT, f"r{n}", what, value)
                for what, value in answers
            ]
        )
        report(n)
        n += 1


def import_matches(folder: Path, n: int) -> None:
    """Whole matches from a file, each under an id of its own."""
    text = (folder / DOCUMENT).read_text(encoding="utf-8")
    library = Library.open(folder / "lib", create=False)
    report("ready")
    while True:
        mine = folder / f"{os.getpid()}.json"
        mine.write_text(text.replace("MATCH-ID", f"x{n}").replace("ENTRY-", f"x{n}-"), encoding="utf-8")
        tasks.import_match(library, mine)
        report(n)
        n += 1


def clip(folder: Path, n: int) -> None:
    """Clips out of a film."""
    report("ready")
    while True:
        clip_export.encode_clip(folder / FILM, *CLIP_US, folder / "clips" / f"c{n}.mp4")
        report(n)
        n += 1


def migrate(folder: Path, n: int) -> None:
    """Libraries of the oldest form brought to the newest, each made as it is needed, so that none run out."""
    report("ready")
    oldest = (folder / OLD).read_bytes()
    while True:
        place = folder / "old" / str(n)
        if not place.exists():
            part = folder / "old" / f".{n}-{os.getpid()}"
            part.mkdir()
            (part / "library.sqlite3").write_bytes(oldest)
            part.rename(place)
        Library.open(place, create=False).close()
        report(n)
        n += 1


def back_up(folder: Path, n: int) -> None:
    """Back-ups of a library that is in use."""
    library = Library.open(folder / "lib", create=False)
    report("ready")
    while True:
        tasks.back_up(library, folder / "backups" / f"b{n}.zip")
        report(n)
        n += 1


WORKS: dict[str, Callable[[Path, int], None]] = {
    "recording": record,
    "import": import_matches,
    "clips": clip,
    "migration": migrate,
    "back-up": back_up,
}


def report(what: object) -> None:
    """Tell the driver, past every buffer."""
    os.write(1, f"{what}\n".encode())


def main(folder: Path) -> None:
    """Fork a worker for each line; when it is dead say how: -9 was killed, else it ended by itself."""
    assert alembic.command is not None
    for line in sys.stdin:
        work, begin = line.split()
        child = os.fork()
        if child == 0:
            try:
                WORKS[work](folder, int(begin))
            except BaseException:
                traceback.print_exc()
                os._exit(1)
            os._exit(0)
        report(f"child {child}")
        _, status = os.waitpid(child, 0)
        report(f"dead {os.waitstatus_to_exitcode(status)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
