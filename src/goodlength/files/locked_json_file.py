"""JSON files beside the database: read, changed under one lock, written whole.

A damaged file is never overwritten. The lock holds between threads and between programs: a small file in
the folder, which the system frees when its holder ends.

```
 read() ── damaged ──> DamagedFile in words          update() ── reads, changes, writes: one at a time
 shown() ── damaged ──> nothing, for pages that list
```
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from goodlength.errors import Conflict, DamagedFile
from goodlength.files.atomic_write import atomic_write
from goodlength.files.file_lock import try_lock

FORM = "form"
LOCK = ".json.lock"
WAIT_S = 10.0  # ASSUMED_: a change takes some milliseconds; who holds the folder longer is stuck
_PAUSE_S = 0.01
_THREADS = threading.RLock()
_held: dict[Path, tuple[IO[bytes] | None, int]] = {}  # guarded by `_THREADS`


@contextmanager
def exclusive(folder: Path) -> Iterator[None]:
    """Let nobody else change JSON files of a folder while the block runs; the same thread may enter again.

    A folder that cannot be written, or a disk without locks, is held within this program only.

    Raises
    ------
    Conflict
        Another program holds the folder for longer than `WAIT_S`.
    """
    with _THREADS:
        lock, depth = _held.get(folder, (None, 0))
        if depth == 0:
            lock = _wait_for(folder)
        _held[folder] = (lock, depth + 1)
        try:
            yield
        finally:
            _held[folder] = (lock, depth)
            if depth == 0:
                del _held[folder]
                if lock is not None:
                    lock.close()


def _wait_for(folder: Path) -> IO[bytes] | None:
    until = time.monotonic() + WAIT_S
    try:
        folder.mkdir(parents=True, exist_ok=True)
        while (lock := try_lock(folder / LOCK)) is None:
            if time.monotonic() > until:
                raise Conflict(
                    f"Another goodlength is writing in {folder} and does not come to an end. Nothing was "
                    "changed. Close it, then try again."
                )
            time.sleep(_PAUSE_S)
    except OSError:  # the writing itself says what is wrong
        return None
    return lock


@dataclass(frozen=True)
class JsonFile:
    """One JSON object in a file of its own.

    Parameters
    ----------
    form : int
        The number of the form written. A file with a higher one is refused; one without is the first.
    """

    path: Path
    form: int = 1

    def read(self) -> dict[str, Any]:
        """Return what the file holds; an empty dict where there is none.

        Raises
        ------
        DamagedFile
            It cannot be read, is no JSON object, or was written by a newer version.
        """
        try:
            plain = json.loads(self.path.read_text(encoding="utf-8"))
            if not isinstance(plain, dict):
                raise ValueError("it holds no JSON object")
            form = plain.pop(FORM, 1)
            if not isinstance(form, int) or form > self.form:
                raise ValueError(f"it has form {form!r:.20}; this version reads up to {self.form}")
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, RecursionError) as error:
            raise DamagedFile(
                f"The file {self.path} cannot be read ({error}). It is left as it is. Restore it from a "
                "back-up, or move it away and begin again."
            ) from error
        return plain

    def shown(self) -> dict[str, Any]:
        """Return what the file holds, or nothing where it is damaged: for pages that list many."""
        try:
            return self.read()
        except DamagedFile:
            return {}

    def write(self, plain: Mapping[str, Any]) -> None:
        """Replace what the file holds.

        Raises
        ------
        NoSpace
            The folder cannot be written; the file is as it was.
        """
        text = json.dumps({FORM: self.form, **plain})
        with exclusive(self.path.parent), atomic_write(self.path) as part:
            part.write_text(text, encoding="utf-8")

    def update(self, change: Callable[[dict[str, Any]], Mapping[str, Any]]) -> dict[str, Any]:
        """Read, change and write as one step; return what was written.

        Parameters
        ----------
        change : callable
            Given what the file holds, returns what it is to hold.

        Raises
        ------
        DamagedFile
            The file cannot be read; it is not overwritten.
        NoSpace
            The folder cannot be written; the file is as it was.
        """
        with exclusive(self.path.parent):
            made = dict(change(self.read()))
            self.write(made)
        return made
