"""Kill -9 at any moment loses no acknowledged answer and leaves no half rally.

A child writes rallies, three answers in one transaction each, and says each one it was told is safe.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from goodlength.record import Entry, MatchInfo, Player, What
from goodlength.record.replay import match_from
from goodlength.record.store import Library
from goodlength.scoring.model import Side, Start

KILLS = 50
PER_RALLY = 3
NURSERY = """
import os, sys
from datetime import UTC, datetime
from goodlength.record.model import Entry, What
from goodlength.record.store import Library

def write(folder, n):
    moment = datetime(2026, 3, 7, tzinfo=UTC)
    library = Library.open(folder, create=False)
    os.write(1, b"ready\\n")
    while True:
        answers = ((What.KIND, "lob"), (What.LEFT, "tight"), (What.WINNER, "a" if n % 3 else "b"))
        library.append([
            Entry(f"{n}-{what.value}", "m1", "coach", moment, f"r{n}", what, value) for what, value in answers
        ])
        os.write(1, f"{n}\\n".encode())
        n += 1

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        write(sys.argv[1], int(line))
    os.write(1, f"child {child}\\n".encode())
    os.waitpid(child, 0)
    os.write(1, b"dead\\n")
"""


class Nursery:
    """A process with everything loaded that forks a writer for each trial, so that fifty take seconds."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", NURSERY, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def trial(self, begin: int, rallies: int, wait_s: float) -> list[int]:
        """Let a writer go, kill it some moments after so many rallies; gives those it said were safe."""
        assert self.process.stdin is not None and self.process.stdout is not None
        self.process.stdin.write(f"{begin}\n")
        self.process.stdin.flush()
        told: list[int] = []
        child, ready = 0, False
        while not (child and ready and len(told) >= rallies):
            line = self.process.stdout.readline().split()
            assert line, "the writer's nursery ended"
            child = int(line[1]) if line[0] == "child" else child
            ready = ready or line[0] == "ready"
            told += [int(line[0])] if line[0].isdecimal() else []
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        while (line_ := self.process.stdout.readline().strip()) != "dead":
            told.append(int(line_))
        return told

    def close(self) -> None:
        """End the nursery."""
        assert self.process.stdin is not None and self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(10)
        self.process.stdout.close()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork a process")
def test_no_kill_loses_an_acknowledged_answer_or_leaves_half_a_rally(tmp_path: Path) -> None:
    rng = random.Random(11)
    with Library.open(tmp_path) as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A)))
    told: set[int] = set()
    begin = 1
    nursery = Nursery(tmp_path)
    for _ in range(KILLS):
        told |= set(nursery.trial(begin, rng.randrange(0, 7), rng.uniform(0.0, 0.005)))
        with Library.open(tmp_path) as library:
            stored: dict[str, int] = {}
            for entry in library.entries("m1"):
                stored[entry.rally] = stored.get(entry.rally, 0) + 1
        assert not {n for n in told if f"r{n}" not in stored}, "an acknowledged answer is lost"
        assert set(stored.values()) <= {PER_RALLY}, "half a rally"
        begin = max((int(key[1:]) for key in stored), default=0) + 1
    nursery.close()
    assert len(told) > KILLS, "the writers were killed before they could write anything"
    with Library.open(tmp_path) as library:
        assert library.check() == ()
        match = match_from(library.match_info("m1"), library.entries("m1"))
    assert len(match.rallies) == begin - 1


def test_answers_sent_again_after_a_kill_are_written_once(tmp_path: Path) -> None:
    """What the page does: it sends everything it was not told is safe."""
    moment = datetime(2026, 3, 7, tzinfo=UTC)
    answers = [Entry(f"e{n}", "m1", "coach", moment, "r1", What.NOTE, "x") for n in range(5)]
    with Library.open(tmp_path) as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl")))
        library.append(answers[:3])
    with Library.open(tmp_path) as library:
        assert library.append(answers) == [False, False, False, True, True]
        assert len(library.entries("m1")) == 5
