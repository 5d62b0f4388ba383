"""Write a file whole or not at all: a temporary name beside it, then one rename.

Whatever stops the writing (no space, a cancel, a kill) leaves the wanted name as it was. Leftovers
of a kill carry `LEFTOVER` in front and are swept by `sweep`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

from goodlength.errors import NoSpace

FILE_IN_USE_ERRORS = {5, 32}  # Windows: access denied, in use by another process
FILE_IN_USE_ATTEMPTS, FILE_IN_USE_PAUSE_S = 10, 0.1
LEFTOVER = ".goodlength-part-"
DATABASE_SUFFIXES = ("-journal", "-wal", "-shm", ".wal")  # of the databases
FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
REFUSED = {errno.EROFS, errno.EACCES, errno.EPERM}


@contextlib.contextmanager
def part_file(folder: Path, suffix: str = "") -> Iterator[Path]:
    """Yield a temporary path in a folder, which is made; what is still under it at the end is removed.

    For what another library writes, or comes in pieces, or gets its name only at the end: see `put_in_place`.
    Files that a database writes beside it go too.
    """
    part = folder / f"{LEFTOVER}{uuid.uuid4().hex[:12]}{suffix}"
    folder.mkdir(parents=True, exist_ok=True)
    try:
        yield part
    finally:
        for path in (part, *(part.with_name(part.name + ending) for ending in DATABASE_SUFFIXES)):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def put_in_place(part: Path, dst: Path) -> None:
    """Give a whole file its name, once all of it is on the disk."""
    _to_disk(part)
    _replace(part, dst)
    _folder_to_disk(dst.parent)


@contextlib.contextmanager
def atomic_write(dst: Path) -> Iterator[Path]:
    """Yield a temporary path to write to; renamed to `dst` when the block ends well, else removed.

    Raises
    ------
    NoSpace
        If the disk is full, read-only, gone, the folder may not be written, or (on Windows) another program
        holds the file open; nothing is left behind.
    """
    try:
        with part_file(dst.parent, dst.suffix) as part:
            yield part
            put_in_place(part, dst)
    except OSError as error:
        words = None if _while_reading(error) else _space_words(dst, error)
        if words is None:
            raise
        raise NoSpace(words) from error


def _while_reading(error: OSError) -> bool:
    """Return whether the video library refused something of its own, such as a seek: no folder is at
    fault then.

    What the system refuses when a file is opened comes with that file's name.
    """
    return error.errno in REFUSED and error.filename is None and type(error).__module__.startswith("av.")


def _replace(part: Path, dst: Path) -> None:
    """Rename over what is there, which Windows refuses while another program has it open."""
    for attempt in range(FILE_IN_USE_ATTEMPTS):
        try:
            part.replace(dst)
            return
        except PermissionError as error:
            if getattr(error, "winerror", None) not in FILE_IN_USE_ERRORS:
                raise
            if attempt == FILE_IN_USE_ATTEMPTS - 1:
                raise NoSpace(
                    f"{dst.name} could not be written: another program has it open. Close it there, such as "
                    "in a viewer or a player, and try again. Nothing was changed."
                ) from error
            time.sleep(FILE_IN_USE_PAUSE_S)


def _to_disk(path: Path) -> None:
    """Wait until the bytes are on the disk, so that a rename never points at an empty file."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _folder_to_disk(folder: Path) -> None:
    """Have the new name written too, where the system can: a rename alone may not outlive a power cut."""
    if os.name == "nt":
        return
    with contextlib.suppress(OSError):  # some network disks cannot
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _space_words(dst: Path, error: OSError) -> str | None:
    if error.errno in FULL:
        return (
            f"could not write {dst.name}: the disk with {dst.parent} is full. Free some space or choose "
            "another "
            "folder, and begin again; nothing half-written was left."
        )
    if error.errno in REFUSED:
        return (
            f"could not write {dst.name}: the folder {dst.parent} may not be written to. Choose another "
            "folder; "
            "nothing was changed."
        )
    if error.errno in {errno.ENAMETOOLONG, errno.EINVAL} and error.filename is not None:
        return (
            f"could not write {dst.name[:60]}…: the name is not accepted by this disk. "
            "Choose a shorter, plainer one."
        )
    if error.errno in {errno.EIO, errno.ENODEV, errno.ENXIO, errno.ENOTDIR}:
        return (
            f"could not write {dst.name}: the disk with {dst.parent} cannot be reached ({error.strerror}). "
            "Connect "
            "it, or choose another folder."
        )
    return None


def sweep(folder: Path, older_than_s: float = 0.0) -> int:
    """Remove leftovers of writings that were killed; how many there were."""
    count = 0
    for part in folder.glob(f"{LEFTOVER}*"):
        with contextlib.suppress(OSError):
            if time.time() - part.stat().st_mtime >= older_than_s:
                part.unlink()
                count += 1
    return count
