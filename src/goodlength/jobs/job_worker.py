"""Worker process of a job: runs one function and updates its state file.

Started by `jobs.Jobs` as `python -m goodlength.jobs.job_worker STATE_FILE`; not meant for hands.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

from goodlength.errors import Cancelled, GoodlengthError
from goodlength.jobs.job_queue import JobState, machine_mark, named_function, read_state, write_state

NICENESS = 10
WRITE_EVERY_S = 0.2
ASSUMED_ASLEEP_S = 60.0  # a job says how far it is far more often: a longer silence is a computer asleep


class Run:
    """A running job's state, written at most five times a second."""

    def __init__(self, path: Path, job: JobState) -> None:
        self._path, self._job = path, job
        self._cancel_mark = path.with_suffix(".cancel")
        self._written = 0.0
        self._last_word, self._last_wall = time.monotonic(), time.time()
        self._last_check = 0.0
        self._stop = False
        self._orphan = threading.Event()

    def watch_parent(self) -> None:
        """Notice when the program that began the job has ended: its end of our stdin closes."""
        threading.Thread(target=self._until_closed, daemon=True).start()

    def _until_closed(self) -> None:
        sys.stdin.buffer.read()
        self._orphan.set()

    def progress(self, share: float, words: str) -> None:
        """Take note of the share done, 0 to 1, with words; stops the job when it was cancelled."""
        if self.cancelled():
            raise Cancelled("The job was cancelled; nothing unfinished is left.")
        now = self._note_work()
        self._job = replace(self._job, share=min(1.0, max(0.0, share)), words=words)
        if now - self._written >= WRITE_EVERY_S:
            self._written = now
            self.write()

    def _note_work(self) -> float:
        """Count the seconds since the last word, unless the computer slept; return the time now.

        The clock of the day goes on in a sleep; where the other one stands still, they tell of it together.
        """
        now, wall = time.monotonic(), time.time()
        worked = min(now - self._last_word, ASSUMED_ASLEEP_S)
        slept = wall - self._last_wall - (now - self._last_word)
        self._job = replace(
            self._job,
            worked_s=self._job.worked_s + worked,
            slept_s=self._job.slept_s + (slept if slept > ASSUMED_ASLEEP_S else 0.0),
        )
        self._last_word, self._last_wall = now, wall
        return now

    def cancelled(self) -> bool:
        """Return whether to stop: asked by the coach, or the program has ended."""
        now = time.monotonic()
        if now - self._last_check >= WRITE_EVERY_S / 4:
            self._last_check = now
            self._stop = self._stop or self._orphan.is_set() or self._cancel_mark.exists()
        return self._stop

    def end(self, **changes: object) -> None:
        """Write how the job ended; an orphan leaves its state to the next start."""
        if self._orphan.is_set():
            return
        self._note_work()
        self._job = replace(self._job, **changes)  # type: ignore[arg-type]
        self.write()

    def write(self) -> None:
        """Write the state as it is now."""
        if not self._orphan.is_set():
            write_state(self._path, replace(self._job, changed=time.time()))


def run(path: Path) -> int:
    """Run the job of a state file; 0 when it is done."""
    job = read_state(path)
    if job is None:
        return 2
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    state = Run(path, replace(job, state="running", words="beginning", machine=machine_mark()))
    state.watch_parent()
    state.write()
    try:
        function = named_function(job.function)
        result = function(**(job.args or {}), progress=state.progress, cancel=state.cancelled)
        json.dumps(result)
        state.end(state="done", share=1.0, words=state_words(state), result=result)
    except Cancelled as error:
        state.end(state="cancelled", words=str(error))
        return 1
    except GoodlengthError as error:
        state.end(state="failed", words=str(error), error=str(error))
        return 1
    except Exception as error:
        words = (
            f"The job hit an error of goodlength's own ({type(error).__name__}: {error}). "
            "Start it again; if it fails again, report this."
        )
        state.end(state="failed", words=words, error=words)
        return 1
    return 0


def state_words(state: Run) -> str:
    """Return the last words of the job itself, or that it is done."""
    words = state._job.words
    return words if words and words != "beginning" else "done"


if __name__ == "__main__":
    sys.exit(run(Path(sys.argv[1])))
