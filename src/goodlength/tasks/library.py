"""Opening and checking a library, and what can be set in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from goodlength.record.store import Library


def open_library(path: str | Path | None = None, *, create: bool = True) -> Library:
    """Open the coach's library, making it where there is none.

    Parameters
    ----------
    path : str or Path, optional
        Its folder; left out, the variable GOODLENGTH_LIBRARY or the user's data folder.
    create : bool
        False raises NotFound where there is no library yet.

    Examples
    --------
    >>> import tempfile
    >>> library = open_library(tempfile.mkdtemp())
    >>> library.matches()
    ()
    >>> library.close()
    """
    from goodlength.record.store import Library

    return Library.open(path, create=create)


@dataclass(frozen=True)
class LibraryState:
    """What a check of the library found; `problems` empty means all is well."""

    folder: str
    players: int
    matches: int
    problems: tuple[str, ...]


def library_check(library: Library) -> LibraryState:
    """Look the library over: the database's own checks, and footage and clips that are gone."""
    problems = [*library.problems, *library.check()]
    infos = library.matches()
    for info in infos:
        for footage in library.footage(info.id):
            if not Path(footage.path).exists():
                problems.append(
                    f"Match {info.id}: the footage {footage.path} is not there any more. "
                    "Put it back, or name its new place on the match's Footage page."
                )
        for clip in library.clips(info.id):
            if not Path(clip.path).exists():
                problems.append(
                    f"Match {info.id}: the clip {clip.path} is gone; cut it again if it is needed."
                )
    return LibraryState(str(library.folder), len(library.players()), len(infos), tuple(problems))
