"""Move files into the recycle bin and back, whole or with an error and nothing lost."""

from __future__ import annotations

import errno
import filecmp
import shutil
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from goodlength.errors import NoSpace
from goodlength.files import library_layout
from goodlength.files.atomic_write import atomic_write


def names_within(folder: Path, files: Iterable[Path]) -> dict[str, Path]:
    """Return files that are there and may be deleted, by their name within the library."""
    there = [path for path in files if path.is_file() and library_layout.may_be_deleted(folder, path)]
    return {path.resolve().relative_to(folder.resolve()).as_posix(): path for path in there}


def move_in(files: dict[str, Path], home: Path) -> None:
    """Move files to an item's folder; where one cannot be, all are where they were.

    Raises
    ------
    NoSpace
        The disk is full, or a folder cannot be written. Nothing was moved.
    """
    moved: list[tuple[Path, Path]] = []
    try:
        for name, path in files.items():
            _move(path, home / name)
            moved.append((home / name, path))
    except (OSError, NoSpace) as error:
        for there, back in reversed(moved):
            with suppress(OSError, NoSpace):  # then it is in the bin, which still tells of it
                _move(there, back)
        raise NoSpace(
            f"Nothing was removed: {_why(error)}. Free some space, then remove it again."
        ) from error


def move_back(folder: Path, home: Path, names: Iterable[str]) -> list[str]:
    """Move files back to where they were; return those whose place another file has taken.

    Raises
    ------
    NoSpace
        The disk is full, or a folder cannot be written. What was not moved yet lies in the bin.
    """
    taken = []
    for name in names:
        source, target = home / name, folder / name
        if not source.is_file() or not library_layout.may_be_deleted(folder, target):
            continue
        if target.exists() and not filecmp.cmp(source, target, shallow=False):
            taken.append(name)
            continue
        try:
            _move(source, target)
        except (OSError, NoSpace) as error:
            raise NoSpace(
                f"The file {name} is still in the bin: {_why(error)}. Free some space, then undo the removal "
                "again; what is back already stays."
            ) from error
    return taken


def _move(source: Path, target: Path) -> None:
    """Move a file, also to another disk; whole or not at all."""
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        source.replace(target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        with atomic_write(target) as part:
            shutil.copy2(source, part)
        source.unlink()


def _why(error: Exception) -> str:
    full = isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)
    return "the disk of the library is full" if full else str(error).rstrip(".")
