"""Long work in its own processes: progress, cancel, one at a time, and a memory that outlives the program."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from goodlength.errors import Conflict, InputError, NotFound
from goodlength.footage.edit.proxy_video import proxy_job
from goodlength.jobs import job_worker
from goodlength.jobs.job_queue import (
    Jobs,
    JobState,
    function_name,
    named_function,
    read_state,
    write_state,
)
from goodlength.synthetic.numbered_frame_video import read_card

WORK = """
    import os, time
    from goodlength.errors import FootageError

    def count(to, progress, cancel):
        for i in range(to):
            progress(i / to, f"at {i}")
            time.sleep(0.01)
        return {"counted": to, "nice": os.nice(0)}

    def note(path, progress, cancel):
        with open(path, "a") as file:
            file.write("in ")
        time.sleep(0.1)
        with open(path, "a") as file:
            file.write("out ")

    def refuse(progress, cancel):
        raise FootageError("a.mp4 is empty. Copy it again.")

    def stumble(progress, cancel):
        return 1 / 0

    def die(progress, cancel):
        os._exit(9)

    def odd(progress, cancel):
        return object()
"""


def odd_job(name: str) -> Callable[..., Any]:
    """One function of the module of jobs that `work` writes."""
    return getattr(import_module("odd_jobs"), name)


@pytest.fixture(autouse=True)
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A module of jobs that the other process can import."""
    (tmp_path / "odd_jobs.py").write_text(textwrap.dedent(WORK))
    monkeypatch.syspath_prepend(str(tmp_path))
    path = [str(tmp_path), *filter(None, [os.environ.get("PYTHONPATH")])]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(path))
    return tmp_path


@pytest.fixture
def jobs(tmp_path: Path) -> Iterator[Jobs]:
    with Jobs(tmp_path / "library") as opened:
        yield opened


def until(test: object, seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not test():  # type: ignore[operator]
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


def test_a_job_runs_in_a_lower_rank_and_returns_plain_values(jobs: Jobs) -> None:
    job = jobs.wait(jobs.start("count", odd_job("count"), {"to": 3}))
    assert (job.state, job.share, job.error) == ("done", 1.0, None)
    assert job.result == {"counted": 3, "nice": min(19, 10 + os.nice(0))}  # 19 is the lowest rank there is
    assert job.words.startswith("at ")
    assert job.to_json()["kind"] == "count"
    assert jobs.states() == (job,)


def test_progress_is_seen_while_it_runs_and_a_cancel_ends_it(jobs: Jobs) -> None:
    job_id = jobs.start("count", odd_job("count"), {"to": 5000})
    until(lambda: 0 < jobs.state(job_id).share < 1)
    jobs.cancel(job_id)
    job = jobs.wait(job_id)
    assert job.state == "cancelled"
    assert jobs.cancel(job_id) == job
    until(lambda: not list(jobs.folder.glob("*.cancel")))


def test_jobs_run_one_at_a_time_in_order(jobs: Jobs, tmp_path: Path) -> None:
    path = str(tmp_path / "notes.txt")
    ids = [jobs.start("note", odd_job("note"), {"path": path}) for _ in range(3)]
    assert [jobs.wait(i).state for i in ids] == ["done"] * 3
    assert Path(path).read_text() == "in out " * 3
    assert {job.id for job in jobs.states()} == set(ids)


def test_a_queued_job_can_be_cancelled_before_it_begins(jobs: Jobs) -> None:
    first = jobs.start("count", odd_job("count"), {"to": 5000})
    second = jobs.start("count", odd_job("count"), {"to": 3})
    assert jobs.cancel(second).words == "cancelled before it started"
    with pytest.raises(Conflict, match="cancel it first"):
        jobs.again(first)
    jobs.cancel(first)
    assert jobs.wait(first).state == "cancelled"


@pytest.mark.parametrize(
    ("function", "words"),
    [
        ("refuse", "a.mp4 is empty. Copy it again."),
        ("stumble", "ZeroDivisionError"),
        ("die", "stopped by itself (code 9)"),
        ("odd", "an error of goodlength's own"),
    ],
)
def test_a_failure_is_a_sentence_not_a_silence(jobs: Jobs, function: str, words: str) -> None:
    job = jobs.wait(jobs.start("x", odd_job(function), {}))
    assert job.state == "failed"
    assert words in str(job.error)
    assert jobs.wait(jobs.start("count", odd_job("count"), {"to": 1})).state == "done"


def test_wrong_names_and_arguments_are_refused_at_once(jobs: Jobs) -> None:
    for wrong in (lambda **_: {}, jobs.start, Jobs.start, "os.system"):
        with pytest.raises(InputError, match="at the top of a module"):
            jobs.start("x", wrong, {})  # type: ignore[arg-type]
    assert jobs.states() == ()
    with pytest.raises(InputError, match="plain values"):
        jobs.start("x", odd_job("count"), {"to": object()})
    with pytest.raises(NotFound):
        jobs.state("nothing")
    with pytest.raises(NotFound):
        jobs.state("../secret")


def test_a_job_is_noted_by_the_name_of_its_function(jobs: Jobs) -> None:
    """The state file has the form it always had: notes of before are run and begun again."""
    job_id = jobs.start("count", odd_job("count"), {"to": 1})
    assert json.loads((jobs.folder / f"{job_id}.json").read_text())["function"] == "odd_jobs:count"
    assert named_function(function_name(proxy_job)) is proxy_job
    jobs.wait(job_id)
    write_state(
        jobs.folder / "a1.json",
        JobState("a1", "count", 0, "", "interrupted", None, None, "odd_jobs:count", {"to": 2}),
    )
    assert jobs.wait(jobs.again("a1")).result == {"counted": 2, "nice": min(19, 10 + os.nice(0))}


@pytest.mark.parametrize("name", ["odd_jobs:gone", "no_such_module:make", "", "os.system"])
def test_a_job_noted_by_another_version_says_what_to_do(jobs: Jobs, name: str) -> None:
    """Before: "failed in a way goodlength hit an error of its own", and "report this"."""
    write_state(jobs.folder / "a1.json", JobState("a1", "x", 0, "", "interrupted", None, None, name, {}))
    job = jobs.wait(jobs.again("a1"))
    assert job.state == "failed"
    assert "another version of goodlength" in str(job.error) and "Start it again on its page" in str(
        job.error
    )


def test_a_second_program_may_look_but_not_start(jobs: Jobs, tmp_path: Path) -> None:
    job = jobs.wait(jobs.start("count", odd_job("count"), {"to": 1}))
    with Jobs(tmp_path / "library") as second:
        assert not second.owner
        assert second.state(job.id) == job
        with pytest.raises(Conflict, match="Another goodlength"):
            second.start("count", odd_job("count"), {"to": 1})
    assert jobs.owner


def test_closing_interrupts_and_the_next_start_can_begin_again(tmp_path: Path) -> None:
    first = Jobs(tmp_path / "library")
    running = first.start("count", odd_job("count"), {"to": 5000})
    waiting = first.start("count", odd_job("count"), {"to": 2})
    until(lambda: first.state(running).state == "running")
    first.close()
    with Jobs(tmp_path / "library") as second:
        for job_id in (running, waiting):
            assert second.state(job_id).state == "interrupted"
            assert "can be started again" in second.state(job_id).words
        again = second.again(waiting)
        assert second.wait(again).state == "done"
        assert second.state(again).args == {"to": 2}
        second.forget(waiting)
        assert {job.id for job in second.states()} == {running, again}


PROGRAM = """
import sys, time
from goodlength.footage.edit.proxy_video import proxy_job
from goodlength.jobs.job_queue import Jobs
jobs = Jobs(sys.argv[1])
job = jobs.start("proxy", proxy_job, {"src": sys.argv[2], "dst": sys.argv[3]})
while jobs.state(job).state != "running":
    time.sleep(0.01)
print(job, flush=True)
time.sleep(60)
"""


def test_a_killed_program_leaves_no_half_proxy_and_no_orphan(even: Path, tmp_path: Path) -> None:
    """Kill -9 in the middle: the job notices, cleans up, and the next start calls it interrupted."""
    dst = tmp_path / "library" / "proxies" / "p.mp4"
    slow = tmp_path / "slow.py"
    slow.write_text(
        "import time\n"
        "from goodlength.footage.edit import proxy_video as proxy\n"
        "def proxy_job(src, dst, progress, cancel):\n"
        "    def slowly(share, words):\n"
        "        time.sleep(0.05)\n"
        "        progress(share, words)\n"
        "    return proxy.make_proxy(src, dst, slowly, cancel).to_json()\n"
    )
    program = PROGRAM.replace("goodlength.footage.edit.proxy_video", "slow")
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path / "library"), str(even), str(dst)],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    job_id = process.stdout.readline().strip()
    state = tmp_path / "library" / "jobs" / f"{job_id}.json"
    until(lambda: dst.parent.exists() and any(dst.parent.iterdir()))
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    until(lambda: not any(dst.parent.iterdir()))
    left = read_state(state)
    assert left is not None
    assert left.state == "running"
    with Jobs(tmp_path / "library") as jobs:
        assert jobs.state(job_id).state == "interrupted"
    assert not dst.exists()


def test_a_proxy_as_a_job(even: Path, tmp_path: Path, jobs: Jobs) -> None:
    dst = tmp_path / "library" / "proxies" / "p.mp4"
    job = jobs.wait(jobs.start("proxy", proxy_job, {"src": str(even), "dst": str(dst)}))
    assert job.state == "done", job.error
    assert isinstance(job.result, dict)
    assert job.result["frames"] == 60
    assert dst.exists()
    assert job.words == "copy ready"
    from goodlength.synthetic.numbered_frame_video import lumas

    assert [read_card(luma) for luma in lumas(dst)] == list(range(60))


def test_a_computer_asleep_in_mid_job_is_counted_apart_from_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The clock of the day goes on in a sleep, the other one may stand still or go on with it."""
    clock = {"monotonic": 100.0, "time": 1e9}
    monkeypatch.setattr(job_worker.time, "monotonic", lambda: clock["monotonic"])
    monkeypatch.setattr(job_worker.time, "time", lambda: clock["time"])
    path = tmp_path / "j.json"
    run = job_worker.Run(path, JobState("j", "rallies", 0.0, "", "running"))
    for monotonic_s, wall_s in ((5.0, 5.0), (6.0, 1206.0), (700.0, 700.0)):
        clock["monotonic"] += monotonic_s
        clock["time"] += wall_s
        run.progress(0.5, "at work")
    run.write()
    found = read_state(path)
    assert found is not None
    assert (found.worked_s, found.slept_s) == (5.0 + 6.0 + job_worker.ASSUMED_ASLEEP_S, 1200.0)


def test_a_broken_state_file_is_no_job(jobs: Jobs) -> None:
    (jobs.folder / "abc.json").write_text("{")
    (jobs.folder / "def.json").write_text(json.dumps({"id": 1}))
    assert jobs.states() == ()
    assert isinstance(JobState("a", "b", 0, "", "done").to_json(), dict)


def test_the_second_program_takes_over_once_the_first_has_ended(tmp_path: Path) -> None:
    """It had refused every job until it was started again."""
    first = Jobs(tmp_path / "library")
    with Jobs(tmp_path / "library") as second:
        with pytest.raises(Conflict):
            second.start("count", odd_job("count"), {"to": 1})
        running = first.start("count", odd_job("count"), {"to": 5000})
        until(lambda: first.state(running).state == "running")
        first.close()
        assert second.wait(second.start("count", odd_job("count"), {"to": 2})).state == "done"
        assert not Jobs(tmp_path / "library").owner


def test_a_job_of_a_program_that_was_killed_is_shown_as_interrupted_by_the_one_that_stays(
    tmp_path: Path,
) -> None:
    code = (
        "import sys, time; import odd_jobs; from goodlength.jobs.job_queue import Jobs\n"
        f"jobs = Jobs({str(tmp_path / 'library')!r})\n"
        "print(jobs.start('count', odd_jobs.count, {'to': 5000}), flush=True)\n"
        "time.sleep(60)"
    )
    killed = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert killed.stdout is not None
    job_id = killed.stdout.readline().strip()
    with Jobs(tmp_path / "library") as stays:
        until(lambda: stays.state(job_id).state == "running")
        killed.kill()
        killed.communicate()
        until(lambda: [state.state for state in stays.states()] == ["interrupted"])
        assert stays.owner
