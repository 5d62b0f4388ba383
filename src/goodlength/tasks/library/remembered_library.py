"""The library opened from Settings last: opened again at the next start that names none.

It is noted beside the key of season files, in the user's own folder and outside every library.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from goodlength.errors import GoodlengthError
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.store.database_opening import FILE_NAME
from goodlength.record.store.season.season_file_authentication import key_folder

FILE = "opened-library.json"
LONGEST_PATH = 4_000


def remember_library(place: str | Path | None) -> None:
    """Note the folder of the library that is open, for the next start; None or a server's URL forgets it.

    Where nothing can be written nothing is remembered: the next start opens the usual library.
    """
    file = key_folder() / FILE
    with suppress(OSError, GoodlengthError):
        if place is None or "://" in str(place):
            file.unlink(missing_ok=True)
        else:
            key_folder().mkdir(parents=True, exist_ok=True)
            JsonFile(file).write({"folder": str(Path(place).absolute())})


def remembered_library() -> tuple[Path | None, str]:
    """Return the folder of the library opened from Settings last, and a sentence where it cannot be opened.

    None where the variable GOODLENGTH_LIBRARY names one, nothing is noted, or what is noted is no complete
    path. A folder that is gone, or holds no library any more, is told in words and never made anew.
    """
    if os.environ.get("GOODLENGTH_LIBRARY"):
        return None, ""
    named = JsonFile(key_folder() / FILE).shown().get("folder")
    if not isinstance(named, str) or not 0 < len(named) <= LONGEST_PATH or "\0" in named:
        return None, ""
    folder = Path(named)
    if not folder.is_absolute():
        return None, ""
    try:
        is_there = (folder / FILE_NAME).is_file()
    except OSError:
        is_there = False
    if is_there:
        return folder, ""
    return None, (
        f"The library {folder}, opened from Settings last time, is not there any more. The usual library is "
        "open instead. Connect its disk and start again, or open another one under Settings."
    )
