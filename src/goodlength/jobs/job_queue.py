"""Queue of long jobs: each in a process of its own, one at a time, with progress and cancel.

```
 start ──> queued ──> running ──> done | failed | cancelled
              └──────────┴── the program ended: interrupted ──> again() makes a new one
```

Each job's state is a small file in the library folder, written whole or not at all, so that a reloaded
page sees it and a restarted program knows what was interrupted. A job is a function at the top of
a module and plain arguments; it is told `progress(share, words)` and asks `cancel()`. Its state file notes it
as "module:function", which the process that runs it imports.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import platform
import subprocess
import sys
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import IO

from goodlength.errors import Conflict, DamagedFile, InputError, NoSpace, NotFound
from goodlength.files import library_layout
from goodlength.files.atomic_write import sweep
from goodlength.files.file_lock import try_lock
from goodlength.files.locked_json_file import JsonFile

ACTIVE = ("queued", "running")
LIVE_PARTS_S = 600.0
JobFunction = Callable[..., Mapping[str, object]]  # called with its arguments, progress and cancel


@dataclass(frozen=True)
class JobState:
    """What is known of a job; `share` is 0 to 1, `words` say what it is doing or how it ended.

    `worked_s` counts the seconds it ran, without those in which the computer slept, and `machine` marks the
    computer that ran it, so that a later job of the kind can be told its length. `slept_s` counts the seconds
    in which the computer slept meanwhile.
    """

    id: str
    kind: str
    share: float
    words: str
    state: str
    result: object = None
    error: str | None = None
    function: str = ""
    args: dict[str, object] | None = None
    made: float = 0.0
    changed: float = 0.0
    worked_s: float = 0.0
    machine: str = ""
    slept_s: float = 0.0

    def to_json(self) -> dict[str, object]:
        """Return the same as plain JSON values."""
        return asdict(self)


class Jobs:
    """The jobs of one library folder.

    The first to open a folder's jobs owns them and runs them; another program on the same folder can look
    but not start any, until the first has ended: then the next that asks takes over.

    Parameters
    ----------
    folder : Path
        The library's folder; states go into its `jobs`.
    """

    def __init__(self, folder: str | Path) -> None:
        self.folder = library_layout.job_folder(Path(folder))
        self.writable = _make_writable(self.folder)
        self._turn = threading.Condition()
        self._queue: deque[str] = deque()
        self._process: subprocess.Popen[bytes] | None = None
        self._running: str | None = None
        self._closed = False
        self._lock: IO[bytes] | None = None
        self._thread: threading.Thread | None = None
        self._take_over()

    @property
    def owner(self) -> bool:
        """Whether this program runs the folder's jobs; from now on, where nobody else does any more."""
        return self._lock is not None or self._take_over()

    def _take_over(self) -> bool:
        """Own the jobs where nobody does, and note what whoever did left unfinished."""
        with self._turn:
            if self._lock is None and self.writable and not self._closed:
                self._lock = _take_lock(self.folder / "owner.lock")
                if self._lock is not None:
                    try:
                        self._note_interrupted()
                        for place in (self.folder, *library_layout.film_folders(self.folder.parent)):
                            sweep(place, LIVE_PARTS_S)
                    except BaseException:  # who cannot begin owns nothing
                        self._lock.close()
                        self._lock = None
                        raise
            return self._lock is not None

    def start(self, kind: str, function: JobFunction, args: Mapping[str, object]) -> str:
        """Queue a job and return its id.

        Parameters
        ----------
        kind : str
            For the page: "proxy", "clip".
        function : callable
            Defined at the top of a module, so that another process can import it; called as
            `function(**args, progress=..., cancel=...)`, returns plain values.
        args : mapping
            Plain JSON values.

        Raises
        ------
        Conflict
            Another program already runs this library's jobs.
        NoSpace
            Nothing can be written in the library's folder.
        InputError
            The function or the arguments are not of that form.
        """
        return self._queue_job(kind, function_name(function), args)

    def _queue_job(self, kind: str, name: str, args: Mapping[str, object]) -> str:
        """Note a job by the name of its function, and let it be run."""
        if not self.writable:
            raise NoSpace("Nothing can be written where this library lies. Copy its folder to another disk.")
        if not self.owner:
            raise Conflict(
                "Another goodlength already runs the long jobs of this library. Use its page, or close it "
                "first."
            )
        try:
            plain = json.loads(json.dumps(dict(args)))
        except (TypeError, ValueError) as error:
            raise InputError(
                f"A job's arguments must be plain values that JSON can hold ({error}).",
                page="This cannot be started. Reload the page and try again.",
            ) from error
        now = time.time()
        job = JobState(
            uuid.uuid4().hex[:12],
            kind,
            0.0,
            "waiting for earlier work to finish",
            "queued",
            None,
            None,
            name,
            plain,
            now,
            now,
        )
        self._write(job)
        with self._turn:
            if self._closed:
                raise Conflict("The program is closing; start the job again after the next start.")
            self._queue.append(job.id)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="goodlength jobs", daemon=True)
                self._thread.start()
            self._turn.notify_all()
        return job.id

    def again(self, job_id: str) -> str:
        """Begin an ended job anew, with the same function and arguments; the new job's id."""
        job = self.state(job_id)
        if job.state in ACTIVE:
            raise Conflict(f"The job is still {job.state}; wait for its end or cancel it first.")
        return self._queue_job(job.kind, job.function, job.args or {})

    def state(self, job_id: str) -> JobState:
        """Return what is known of a job.

        Raises
        ------
        NotFound
            No job of that id.
        """
        found = read_state(self.folder / f"{job_id}.json") if job_id.isalnum() else None
        if found is None:
            raise NotFound(
                f"There is no job {job_id!r} in this library. See the list of jobs.",
                page="That job is no longer listed. Reload the page and start it again.",
            )
        return found

    def states(self) -> tuple[JobState, ...]:
        """Return all jobs of the folder, newest first."""
        self._take_over()  # so that what its owner left running when it was killed is not shown as running
        return self._read_all()

    def _read_all(self) -> tuple[JobState, ...]:
        found = (read_state(path) for path in self.folder.glob("*.json"))
        return tuple(sorted((job for job in found if job), key=lambda job: (-job.made, job.id)))

    def cancel(self, job_id: str) -> JobState:
        """Ask a job to stop; it leaves no half-written file. An ended job is left as it is."""
        job = self.state(job_id)
        if job.state not in ACTIVE:
            return job
        with self._turn:
            if job_id in self._queue:
                self._queue.remove(job_id)
                self._write(replace(job, state="cancelled", words="cancelled before it started"))
                return self.state(job_id)
        (self.folder / f"{job_id}.cancel").touch()
        return self.state(job_id)

    def forget(self, job_id: str) -> None:
        """Remove an ended job from the list."""
        if self.state(job_id).state in ACTIVE:
            raise Conflict("The job has not ended; cancel it first.")
        (self.folder / f"{job_id}.json").unlink(missing_ok=True)

    def wait(self, job_id: str, timeout_s: float = 60.0) -> JobState:
        """Wait until a job has ended, or the time is up; for scripts and tests."""
        end = time.monotonic() + timeout_s
        while (job := self.state(job_id)).state in ACTIVE and time.monotonic() < end:
            time.sleep(0.02)
        return job

    def close(self) -> None:
        """Stop the running job and give the folder free; what was queued or running is marked interrupted."""
        with self._turn:
            self._closed = True
            self._queue.clear()
            self._turn.notify_all()
            process = self._process
        if process is not None:
            _stop(process)
        if self._thread is not None:
            self._thread.join(10)
        if self._lock is not None:
            self._note_interrupted()
        if self._lock is not None:
            self._lock.close()
            self._lock = None

    def __enter__(self) -> Jobs:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _work(self) -> None:
        """Run queued jobs one after the other until closed."""
        while True:
            with self._turn:
                while not self._queue and not self._closed:
                    self._turn.wait()
                if self._closed:
                    return
                job_id = self._queue.popleft()
                self._process = _spawn(self.folder / f"{job_id}.json")
                process = self._process
            process.wait()
            if process.stdin is not None:
                process.stdin.close()
            with self._turn:
                self._process = None
            self._settle(job_id, process.returncode)

    def _settle(self, job_id: str, code: int) -> None:
        """Give a job whose process died without a word its end."""
        (self.folder / f"{job_id}.cancel").unlink(missing_ok=True)
        job = read_state(self.folder / f"{job_id}.json")
        if job is None or job.state not in ACTIVE or self._closed:
            return
        words = f"the job stopped by itself (code {code}); nothing unfinished is used. Start it again."
        self._write(replace(job, state="failed", words=words, error=words))

    def _note_interrupted(self) -> None:
        for job in self._read_all():
            if job.state in ACTIVE:
                words = "interrupted when goodlength was closed; it can be started again"
                self._write(replace(job, state="interrupted", words=words))
            (self.folder / f"{job.id}.cancel").unlink(missing_ok=True)

    def _write(self, job: JobState) -> None:
        write_state(self.folder / f"{job.id}.json", replace(job, changed=time.time()))


def machine_mark() -> str:
    """Return a mark of this computer that does not hold its name."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:12]


def function_name(function: JobFunction) -> str:
    """Return "module:function", by which another process imports the function.

    Raises
    ------
    InputError
        Another process could not: it is a method, stands inside another function, or is no function.
    """
    module, name = getattr(function, "__module__", None), getattr(function, "__qualname__", "")
    if not isinstance(module, str) or module == "__main__" or not name.isidentifier():
        raise InputError(
            f"A job is a function at the top of a module that can be imported; got {function!r}."
        )
    return f"{module}:{name}"


def named_function(name: str) -> JobFunction:
    """Return the function that a state file names as "module:function".

    Raises
    ------
    InputError
        There is none of that name: another version of the program noted it.
    """
    module, _, function = name.partition(":")
    try:
        found: JobFunction = getattr(import_module(module), function)
    except (ImportError, AttributeError, ValueError) as error:
        raise InputError(
            f"This job was started by another version of goodlength ({name!r} is not in this one). "
            "Start it again on its page."
        ) from error
    return found


def write_state(path: Path, job: JobState) -> None:
    """Write a state whole or not at all."""
    JsonFile(path).write(job.to_json())


def read_state(path: Path) -> JobState | None:
    """Return a state as written; None when there is none or it is no state."""
    try:
        job = JobState(**JsonFile(path).read())
    except (DamagedFile, TypeError):
        return None
    texts = (job.id, job.kind, job.words, job.state, job.function, job.machine)
    sound = all(isinstance(text, str) for text in texts) and isinstance(job.args, dict | None)
    numbers = all(
        isinstance(value, int | float)
        for value in (job.share, job.made, job.changed, job.worked_s, job.slept_s)
    )
    return job if sound and numbers and job.id == path.stem else None


def _spawn(state: Path) -> subprocess.Popen[bytes]:
    """Return a fresh interpreter for one job. Its open stdin tells it that we live."""
    lower = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    return subprocess.Popen(
        [sys.executable, "-m", "goodlength.jobs.job_worker", str(state)],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        creationflags=lower,
    )


def _stop(process: subprocess.Popen[bytes]) -> None:
    """Ask by closing its stdin; end it when it does not listen."""
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()
    try:
        process.wait(5)
    except subprocess.TimeoutExpired:
        process.kill()


def _make_writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK)


def _take_lock(path: Path) -> IO[bytes] | None:
    """Return the folder's lock; None when another program holds it, or the disk has no locks."""
    try:
        return try_lock(path)
    except OSError:
        return None
