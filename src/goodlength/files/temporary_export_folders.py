"""Temporary folders of a copy on its way to the coach, removed at the next start where a program was killed.

They hold a whole library: names and all. Each has a lock that the system frees when its holder ends, however
it ends: a folder in use, of another program too, is left alone.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from goodlength.files.file_lock import try_lock

PREFIXES = ("goodlength-backup-", "goodlength-restore-")
LOCK = "in-use.lock"
_JUST_MADE_S = 3600.0  # one without a lock yet, or of a disk without locks

_open_locks: dict[Path, IO[bytes] | None] = {}


def private_folder(prefix: str) -> Path:
    """Make a folder for copies, one of `PREFIXES`; `remove_private` removes it."""
    folder = Path(tempfile.mkdtemp(prefix=prefix))
    with suppress(OSError):
        _open_locks[folder] = try_lock(folder / LOCK)
    return folder


def remove_private(folder: Path) -> None:
    """Remove a folder with all it holds."""
    lock = _open_locks.pop(folder, None)
    if lock is not None:
        lock.close()
    shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def private_copies(prefix: str) -> Iterator[Path]:
    """Make a folder for copies for as long as the block runs."""
    folder = private_folder(prefix)
    try:
        yield folder
    finally:
        remove_private(folder)


def sweep_private() -> int:
    """Remove folders of this user whose program was killed; return how many there were."""
    removed = 0
    for prefix in PREFIXES:
        for folder in Path(tempfile.gettempdir()).glob(f"{prefix}*"):
            with suppress(OSError):
                if _is_ours(folder) and _is_left_behind(folder):
                    shutil.rmtree(folder)
                    removed += 1
    return removed


def _is_ours(folder: Path) -> bool:
    """Return whether this user made it: anybody may put a folder, or a link, where temporary files lie."""
    own = not hasattr(os, "getuid") or folder.lstat().st_uid == os.getuid()
    return own and folder.is_dir() and not folder.is_symlink()


def _is_left_behind(folder: Path) -> bool:
    if folder in _open_locks:
        return False
    if not (folder / LOCK).exists():
        return time.time() - folder.lstat().st_mtime > _JUST_MADE_S
    lock = try_lock(folder / LOCK)
    if lock is None:
        return False
    lock.close()
    return True
