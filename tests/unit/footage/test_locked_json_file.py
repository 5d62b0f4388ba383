"""JSON files beside the database: changed by one thread of one program at a time, whoever holds the folder."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from goodlength.errors import Conflict
from goodlength.files import locked_json_file
from goodlength.files.locked_json_file import JsonFile, exclusive

COUNT = """
import sys
from pathlib import Path
from goodlength.files.locked_json_file import JsonFile
file = JsonFile(Path(sys.argv[1]))
for _ in range(60):
    file.update(lambda plain: {"n": plain.get("n", 0) + 1})
"""
HOLD = """
import sys, time
from pathlib import Path
from goodlength.files.locked_json_file import exclusive
with exclusive(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_two_programs_lose_no_change(tmp_path: Path) -> None:
    """Before: of 180 changes by three programs 76 stood."""
    path = tmp_path / "heard" / "m1.said.json"
    many = [subprocess.Popen([sys.executable, "-c", COUNT, str(path)]) for _ in range(3)]
    assert [item.wait(120) for item in many] == [0, 0, 0]
    assert JsonFile(path).read() == {"n": 180}


def test_two_threads_lose_no_change(tmp_path: Path) -> None:
    file = JsonFile(tmp_path / "a.json")

    def count() -> None:
        for _ in range(30):
            with exclusive(tmp_path):  # again by the same thread is no wait
                file.update(lambda plain: {"n": plain.get("n", 0) + 1})

    threads = [threading.Thread(target=count) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert file.read() == {"n": 120}


def test_a_folder_that_stays_held_is_told_and_free_once_its_holder_dies(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(locked_json_file, "WAIT_S", 0.3)
    holder = subprocess.Popen([sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    begun = time.monotonic()
    with pytest.raises(Conflict, match="Another goodlength is writing"):
        JsonFile(tmp_path / "a.json").update(lambda plain: plain)
    assert time.monotonic() - begun < 5
    holder.kill()
    holder.wait(10)
    holder.stdout.close()
    JsonFile(tmp_path / "a.json").update(lambda _: {"n": 1})
    assert JsonFile(tmp_path / "a.json").read() == {"n": 1}


@pytest.mark.skipif(os.name == "nt", reason="a folder is made read only otherwise there")
def test_a_folder_without_locks_is_written_all_the_same(tmp_path: Path, monkeypatch) -> None:
    """Some network disks have none; then one program is the limit, as before."""

    def refused(_path: Path) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr(locked_json_file, "try_lock", refused)
    JsonFile(tmp_path / "a.json").update(lambda _: {"n": 1})
    assert JsonFile(tmp_path / "a.json").read() == {"n": 1}
