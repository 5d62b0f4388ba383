"""Download of a match: a file made in a temporary folder that is removed afterwards."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.errors import NotFound

if TYPE_CHECKING:
    from goodlength.record.store import Library

EXPORTS = {"json": "application/json", "csv": "text/csv; charset=utf-8", "vtt": "text/vtt; charset=utf-8"}


def exported(library: Library, match_id: str, kind: str) -> bytes:
    """Return the bytes of a match as JSON, CSV or WebVTT chapters.

    Raises
    ------
    NotFound
        If there is no such kind of file, or no such match.
    """
    if kind not in EXPORTS:
        raise NotFound(f"{kind!r} is not an export format; choose one of: {', '.join(EXPORTS)}.")
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"match.{kind}"
        tasks.export_match(library, match_id, path)
        return path.read_bytes()
