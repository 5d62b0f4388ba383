"""Lock between processes: a file that the system releases when its holder ends, however it ends."""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO


def try_lock(path: Path) -> IO[bytes] | None:
    """Return the open file that holds the lock; None while another program, or another open file, does.

    Raises
    ------
    OSError
        The file cannot be opened, or the disk has no locks.
    """
    file = path.open("ab")
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):  # the second on Windows
        file.close()
        return None
    except OSError:
        file.close()
        raise
    return file
