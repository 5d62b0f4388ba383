"""Batches: the same results in order however they run; a worker that dies costs only its piece."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError, NotFound
from goodlength.forms import dask_distributed_batch_runs
from goodlength.forms.dask_distributed_batch_runs import report_many, run_batch, scheduler_of

PIECES = 12
DIES_AT = 5
MODULE = '''
import os, signal, time
from pathlib import Path

def note(path, n):
    with open(path, "a") as log:
        log.write(f"{n}\\n")

def count(path):
    return len(path.read_text().split()) if path.exists() else 0

def noted(folder, n, dies):
    """Squares a number, notes that it was at it, and once ends its own process.

    That is when the result of every piece that has ended was fetched: none of them is lost with it.
    """
    begun, ended, fetched = (Path(folder) / name for name in ("begun", "ended", "fetched"))
    note(begun, n)
    if n == dies and not (mark := Path(folder) / "died").exists():
        while count(fetched) < count(ended):
            time.sleep(0.02)
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    note(ended, n)
    return n * n

def endless(folder):
    note(Path(folder) / "begun", 0)
    while True:
        time.sleep(0.02)

def deadly(n):
    os.kill(os.getpid(), signal.SIGKILL)
'''


@pytest.fixture(scope="module")
def pieces_module(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("module")
    (folder / "batch_pieces_for_tests.py").write_text(MODULE)
    old = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(folder), old]))
    sys.path.insert(0, str(folder))
    import batch_pieces_for_tests

    yield batch_pieces_for_tests
    sys.path.remove(str(folder))
    os.environ.pop("PYTHONPATH")
    if old is not None:
        os.environ["PYTHONPATH"] = old


def pieces(folder: Path, dies: int = -1) -> list[dict]:
    return [{"folder": str(folder), "n": n, "dies": dies} for n in range(PIECES)]


@pytest.mark.slow
def test_a_worker_killed_costs_only_its_piece(pieces_module, tmp_path, monkeypatch):
    told: list[float] = []

    def fetched(share: float, _words: str) -> None:
        told.append(share)
        pieces_module.note(tmp_path / "fetched", share)

    alone = run_batch(pieces_module.noted, pieces(tmp_path), workers=1)
    for name in ("begun", "ended"):
        (tmp_path / name).unlink()
    spread = run_batch(pieces_module.noted, pieces(tmp_path, DIES_AT), workers=2, progress=fetched)
    assert spread == alone == tuple(n * n for n in range(PIECES))
    assert (tmp_path / "died").exists()
    begun = [int(line) for line in (tmp_path / "begun").read_text().split()]
    assert sorted(begun) == sorted([*range(PIECES), DIES_AT])
    assert told == sorted(told)
    assert told[-1] == 1.0
    monkeypatch.setattr(dask_distributed_batch_runs, "ASSUMED_TRIES", 0)
    with pytest.raises(GoodlengthError, match="given up"):
        run_batch(pieces_module.deadly, [{"n": 1}, {"n": 2}], workers=2)


CLUSTER = """
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp://",
        host="127.0.0.1", dashboard_address=None
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        input()
"""


@pytest.fixture
def elsewhere(pieces_module, tmp_path: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A scheduler with a worker in a process of its own: its address, and the process."""
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER)
    other = subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert other.stdout is not None
    with other:
        yield other.stdout.readline().strip(), other
        if other.poll() is None:
            other.communicate("\n", timeout=60)


@pytest.mark.slow
def test_reports_by_a_scheduler_elsewhere_are_the_same(tmp_path, demo_library, monkeypatch, elsewhere):
    address, _ = elsewhere
    shutil.copytree(demo_library, tmp_path, dirs_exist_ok=True)
    with tasks.open_library(tmp_path) as library:
        ids = [player.id for player in tasks.players(library)]
        here = report_many(library, ids, workers=1)
        monkeypatch.setenv(dask_distributed_batch_runs.SCHEDULER, address)
        assert scheduler_of(library) == address
        there = report_many(library, ids)
        with pytest.raises(NotFound, match="nobody"):
            report_many(library, ["nobody"])
    assert here == there
    assert len(here) == len(ids)


@pytest.mark.slow
def test_a_scheduler_lost_on_the_way_is_said(pieces_module, tmp_path, elsewhere, monkeypatch):
    address, other = elsewhere
    monkeypatch.setattr(dask_distributed_batch_runs, "ASSUMED_WAIT_S", 5)

    def end_the_scheduler() -> None:
        while not (tmp_path / "begun").exists():
            time.sleep(0.02)
        other.kill()

    ending = threading.Thread(target=end_the_scheduler)
    ending.start()
    with pytest.raises(GoodlengthError, match="0 of 2 pieces were done when the scheduler"):
        run_batch(pieces_module.endless, [{"folder": str(tmp_path)}] * 2, scheduler=address)
    ending.join()


def test_a_scheduler_that_does_not_answer_is_said(monkeypatch):
    monkeypatch.setattr(dask_distributed_batch_runs, "ASSUMED_WAIT_S", 0.2)
    with pytest.raises(InputError, match="No scheduler answers"):
        run_batch(print, [{}, {}], scheduler="tcp://127.0.0.1:9")


def test_the_scheduler_is_a_setting(tmp_path, monkeypatch):
    monkeypatch.delenv(dask_distributed_batch_runs.SCHEDULER, raising=False)
    with tasks.open_library(tmp_path) as library:
        assert scheduler_of(library) is None
        library.set_setting(dask_distributed_batch_runs.SETTING, "tcp://club:8786")
        assert scheduler_of(library) == "tcp://club:8786"


def test_without_dask_this_machine_goes_one_by_one(monkeypatch):
    monkeypatch.setattr(dask_distributed_batch_runs, "_dask_is_here", lambda: False)
    assert run_batch(dict, [{"a": 1}, {"a": 2}]) == ({"a": 1}, {"a": 2})
    with pytest.raises(InputError, match="not installed"):
        run_batch(dict, [{}, {}], scheduler="tcp://127.0.0.1:9")
