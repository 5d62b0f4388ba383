"""Where a file that is copied in will lie: under a safe name, never on another file, with space left free."""

from __future__ import annotations

import re
from pathlib import Path
from uuid import uuid4

from goodlength.files import library_layout

SPARE_BYTES = 200 * 1024 * 1024  # ASSUMED_: room left for the record and a copy's beginning
NAME_LETTERS = 80


def safe_name(name: str) -> str:
    """Return a file name without parts of a path or signs that other systems refuse; its ending is kept.

    Examples
    --------
    >>> safe_name("../../Match 12:30 ä%.MP4")
    'Match 12_30 ä_.MP4'
    >>> safe_name("")
    'file'
    """
    last = re.split(r"[/\\]", name)[-1]
    cleaned = re.sub(r"[^\w .()+-]", "_", last).strip(" .")
    return cleaned[-NAME_LETTERS:].strip(" .") or "file"


def target_for(folder: Path, name: str, mark: str = "") -> Path:
    """Return where an upload will lie: never on another file.

    Parameters
    ----------
    mark : str
        Put in front whole, however long the name is: by it what was never kept is found again.
    """
    return library_layout.upload_file(folder, uuid4().hex[:8], f"{mark}{safe_name(name)}")
