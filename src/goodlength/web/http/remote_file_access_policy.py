"""Files that another machine's browser may be sent: those goodlength made, and videos this machine knows.

```
 path ── of a declared kind within the library? ── yes ──> sent
   └── outside: does its content match what was noted when it was added? ── yes ──> sent, else refused
```
Rows of a library, and lists of long tasks, may come from a stranger's back-up: a path alone is no leave.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import Request

from goodlength.errors import FootageGone
from goodlength.files import library_layout
from goodlength.footage.media.video_probe import fingerprint
from goodlength.web.http.passcode_sessions import from_here

if TYPE_CHECKING:
    from goodlength.record.store import Library

MEDIA = frozenset(
    {
        "upload",
        "practice copy",
        "copy that plays",
        "previews of a video",
        "made to show",
        "clip",
        "pack",
        "demo film",
    }
)


def kind_within(library: Library, path: Path) -> str | None:
    """Return the declared kind of a file of the library, links followed; None for any other file."""
    try:
        name = path.resolve().relative_to(library.folder.resolve()).as_posix()
    except (OSError, ValueError):
        return None
    kind = library_layout.kind_of(name)
    return None if kind is None else kind.name


def may_be_sent(request: Request, library: Library, path: Path, noted: str | None = None) -> Path:
    """Return a file that may be sent to whoever asks.

    Parameters
    ----------
    noted : str, optional
        The fingerprint noted when a film outside the library was added.

    Raises
    ------
    FootageGone
        It lies outside the library and is not known to be what was added.
    """
    if from_here(request.scope) or kind_within(library, path) in MEDIA:
        return path
    if noted is not None and _unchanged(path, noted):
        return path
    raise FootageGone(
        f"The file {path.name} is not sent to other machines: it lies outside the library and is not known "
        "to be the one that was added. Open it where goodlength runs, or add it again there."
    )


def _unchanged(path: Path, noted: str) -> bool:
    try:
        return fingerprint(path) == noted
    except OSError:
        return False
