"""Kill -9 at any moment: nothing confirmed is lost, no half is taken for a whole, the library opens.

A twentieth of what `goodlength bench trust` does; and what the checks find when something is planted.
"""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.record import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library
from robustness import process_kill_trials
from robustness.process_kill_workload import CLIP_US, FILM, MATCH, MOMENT, OLD

KILLS = 50


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork a process")
def test_no_kill_loses_what_was_confirmed_or_leaves_a_half_taken_for_whole() -> None:
    found = process_kill_trials.kill_all(KILLS)
    assert sum(element.kills for element in found.values()) == KILLS
    for work, item in found.items():
        assert (item.lost, item.halves, item.not_opening) == (0, 0, 0), (work, item.examples)
    assert found["recording"].confirmed > KILLS // 5, "killed before anything could be written"
    assert sum(element.confirmed for element in found.values()) > KILLS


@pytest.mark.slow
def test_the_checks_find_what_is_planted(tmp_path: Path) -> None:
    process_kill_trials.prepare(tmp_path)
    with Library.open(tmp_path / "lib") as library:
        library.append([Entry("1-winner", MATCH, "coach", MOMENT, "r1", EntryKind.WINNER, "a")])
        library.save_match(MatchInfo("x4", ("iv", "pl")))
        tasks.back_up(library, tmp_path / "backups" / "b1.zip")
    assert process_kill_trials.check_recorded(tmp_path, 1, 1) == ({1}, ["r1"])
    assert process_kill_trials.check_imported(tmp_path, 1, 1) == ({4}, ["x4"])
    encode_clip(tmp_path / FILM, CLIP_US[0], CLIP_US[1] - 200_000, tmp_path / "clips" / "c1.mp4")
    assert process_kill_trials.check_clip(tmp_path, 1, 1) == ({1}, ["c1.mp4"])
    for n in ("1", "2"):
        (tmp_path / "old" / n).mkdir()
        shutil.copy(tmp_path / OLD, tmp_path / "old" / n / "library.sqlite3")
    with Library.open(tmp_path / "old" / "1") as library:
        library.append([Entry("more", MATCH, "coach", MOMENT, "r1", EntryKind.KEEP, True)])
    assert process_kill_trials.check_migrated(tmp_path, 1, 3) == ({2}, ["1"])
    assert process_kill_trials.check_migrated(tmp_path, 2, 3) == (
        {1, 2},
        [],
    )  # looked at after the kill before
    with pytest.raises(process_kill_trials.OwnFault, match="This test failed"):
        process_kill_trials.check_migrated(tmp_path, 1, 4)
    whole = (tmp_path / "backups" / "b1.zip").read_bytes()
    (tmp_path / "backups" / "b1.zip").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(GoodlengthError):
        process_kill_trials.check_backup(tmp_path, 1, 1)


@pytest.fixture
def nursery(tmp_path: Path) -> Iterator[process_kill_trials.Nursery]:
    process_kill_trials.prepare(tmp_path)
    opened = process_kill_trials.Nursery(tmp_path)
    yield opened
    opened.close()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork a process")
def test_a_fast_machine_does_not_run_out_of_old_libraries(
    tmp_path: Path, nursery: process_kill_trials.Nursery
) -> None:
    """It had run out of the 20 laid out beforehand, and told of two that do not open, which never existed."""
    told, killed = nursery.trial("migration", 1, 22, 0.0)
    assert killed
    assert len(told) >= 22
    whole, halves = process_kill_trials.check_migrated(tmp_path, 1, told[-1] + 1)
    assert set(told) <= whole
    assert halves == []


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork a process")
@pytest.mark.parametrize("work", ["clips", "recording"])
def test_work_that_ends_by_itself_is_no_kill_and_is_told(
    tmp_path: Path, nursery: process_kill_trials.Nursery, monkeypatch: pytest.MonkeyPatch, work: str
) -> None:
    """Each had counted as one more kill that lost nothing, or the test had waited for ever."""
    (tmp_path / FILM).unlink()
    monkeypatch.setattr(
        nursery, "trial", lambda _work, *rest: process_kill_trials.Nursery.trial(nursery, "clips", *rest)
    )
    with pytest.raises(process_kill_trials.OwnFault, match="This test failed, not what it tests"):
        process_kill_trials.kill(nursery, tmp_path, work, 3, random.Random(2))


def test_answers_sent_again_after_a_kill_are_written_once(tmp_path: Path) -> None:
    """What the page does: it sends everything it was not told is safe."""
    moment = datetime(2026, 3, 7, tzinfo=UTC)
    answers = [Entry(f"e{n}", "m1", "coach", moment, "r1", EntryKind.NOTE, "x") for n in range(5)]
    with Library.open(tmp_path) as library:
        for name in ("iv", "pl"):
            library.save_player(Player(name, name))
        library.save_match(MatchInfo("m1", ("iv", "pl")))
        library.append(answers[:3])
    with Library.open(tmp_path) as library:
        assert library.append(answers) == [False, False, False, True, True]
        assert len(library.entries("m1")) == 5
