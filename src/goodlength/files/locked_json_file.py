"""JSON files beside the database: read, updated under one lock, written atomically.

A damaged file is never overwritten: its last value is the CRC-32 of all before it, as in every row of the
database, so that a single changed bit is told. Files from before that (form 1, or no form) are read without.
The lock holds between threads and between programs: a small file in
the folder, which the system frees when its holder ends.

```
 read() ── damaged ──> DamagedFile in words          update() ── reads, changes, writes: one at a time
 shown() ── damaged ──> nothing, for pages that list
```
"""

from __future__ import annotations

import json
import re
import threading
import time
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

from goodlength.errors import Conflict, DamagedFile
from goodlength.files.atomic_write import atomic_write
from goodlength.files.file_lock import try_lock
from goodlength.files.json_types import JsonObject

FORM = "form"
CHECKSUM = "crc32"
NEWEST: Final = 2  # 1: without a checksum
LOCK = ".json.lock"
WAIT_S = 10.0  # ASSUMED_: a change takes some milliseconds; who holds the folder longer is stuck
_PAUSE_S = 0.01
_HALF_LETTER = re.compile(rb"\\u[dD][89a-fA-F]")
_THREADS = threading.RLock()
_open_locks: dict[Path, tuple[IO[bytes] | None, int]] = {}  # guarded by `_THREADS`


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
        lock, depth = _open_locks.get(folder, (None, 0))
        if depth == 0:
            lock = _wait_for(folder)
        _open_locks[folder] = (lock, depth + 1)
        try:
            yield
        finally:
            _open_locks[folder] = (lock, depth)
            if depth == 0:
                del _open_locks[folder]
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
                    "changed. Close it, then try again.",
                    page="Another goodlength is writing in this library and does not come to an end. Nothing "
                    "was changed. Close it, then try again.",
                )
            time.sleep(_PAUSE_S)
    except OSError:  # the writing itself says what is wrong
        return None
    return lock


@dataclass(frozen=True)
class JsonFile:
    """One JSON object in a file of its own."""

    path: Path

    def read(self) -> dict[str, Any]:
        """Return what the file holds; an empty dict where there is none.

        Raises
        ------
        DamagedFile
            It cannot be read, is no JSON object, was written by a newer version, or is not as it was written.
        """
        return dict(self.parsed(self.content()))

    def content(self) -> bytes | None:
        """Return the bytes of the file; None where there is no file.

        Raises
        ------
        DamagedFile
            It cannot be read.
        """
        try:
            return self.path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise self._damaged(error) from error

    def parsed(self, content: bytes | None) -> JsonObject:
        """Return what bytes of the file hold, for a reader that keeps what it made of the same bytes.

        Raises
        ------
        DamagedFile
            As `read`.
        """
        if content is None:
            return {}
        try:
            return _parsed(content)
        except (ValueError, RecursionError) as error:
            raise self._damaged(error) from error

    def _damaged(self, error: Exception) -> DamagedFile:
        return DamagedFile(
            f"The file {self.path} cannot be read ({error}). It is left as it is. Restore it from a "
            "back-up, or move it away and begin again.",
            page=f"The file {self.path.name} of the library cannot be read. It is left as it is. Restore "
            "the library from a backup.",
        )

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
        content = json.dumps({FORM: NEWEST, **plain}).encode()
        with exclusive(self.path.parent), atomic_write(self.path) as part:
            part.write_bytes(content[:-1] + _end(content))

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


def _parsed(stored: bytes) -> dict[str, Any]:
    """Return the values of a stored file, without its form and checksum; ValueError says what is wrong."""
    plain = json.loads(stored.decode("utf-8"))
    if not isinstance(plain, dict):
        raise ValueError("it holds no JSON object")
    if _HALF_LETTER.search(stored):
        _check_letters(plain)
    form, checksum = plain.pop(FORM, 1), plain.pop(CHECKSUM, None)
    if type(form) is not int or not 1 <= form <= NEWEST:
        raise ValueError(f"it has form {form!r:.20}; this version reads 1 to {NEWEST}")
    if (form > 1 or checksum is not None) and not _is_as_written(stored):
        raise ValueError(
            "it is not as goodlength wrote it; if you changed it yourself, store it "
            f'without its "{FORM}" and "{CHECKSUM}"'
        )
    return plain


def _check_letters(plain: Any) -> None:
    """Refuse half a letter (a lone surrogate): JSON can spell one, but no page can show it."""
    try:
        json.dumps(plain, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise ValueError("it holds half a letter") from None


def _end(content: bytes) -> bytes:
    """Return what ends a file: the checksum of its content, in place of the last brace."""
    return f', "{CHECKSUM}": "{zlib.crc32(content):08x}"}}'.encode()


def _is_as_written(stored: bytes) -> bool:
    size = len(_end(b""))
    return stored[-size:] == _end(stored[:-size] + b"}")
