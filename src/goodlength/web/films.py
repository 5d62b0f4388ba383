"""The files of a match as the page plays them: the copy where one was made, else the file itself."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from goodlength.errors import FootageGone
from goodlength.record.model import Footage

if TYPE_CHECKING:
    from goodlength.record.store import Library


@dataclass(frozen=True)
class Part:
    """One file on the match's time line.

    `shift_us` is what the clock of the played file lacks to that of the original.
    """

    id: str
    url: str
    starts_us: int
    first_us: int
    end_us: int
    shift_us: int

    def as_json(self) -> dict[str, Any]:
        """The part as the player of the page takes it."""
        return {
            "id": self.id,
            "url": self.url,
            "starts_us": self.starts_us,
            "first_us": self.first_us,
            "end_us": self.end_us,
            "shift_us": self.shift_us,
        }


@dataclass(frozen=True)
class Films:
    """All files of a match that can be placed in time, and words where something is awaited."""

    parts: tuple[Part, ...] = ()
    waits: str = ""
    waits_short: str = ""

    @property
    def length_us(self) -> int | None:
        """Match time at which the last file is over; None without footage."""
        if not self.parts:
            return None
        return max(part.starts_us + part.end_us - part.first_us for part in self.parts)


def played_path(library: Library, footage: Footage) -> Path:
    """The file the page plays.

    Raises
    ------
    FootageGone
        If it is not where it was; words name the file and the next step.
    """
    if footage.proxy is not None:
        proxy = library.folder / footage.proxy
        if proxy.is_file():
            return proxy
    original = Path(footage.path)
    if not original.is_file():
        raise FootageGone(
            f"The footage {original} is not there: it was moved or renamed, or its disk is not connected. "
            "Put it back, or add it again on the match's Footage page; the record is safe."
        )
    return original


def films_of(library: Library, match_id: str) -> Films:
    """The files of a match on its time line; those not yet looked at are left out."""
    known = [one for one in library.footage(match_id) if one.first_us is not None and one.end_us is not None]
    parts: list[Part] = []
    at = 0
    for one in known:
        first, end = one.first_us or 0, one.end_us or 0
        starts = at if one.starts_us is None else one.starts_us
        copy = "copy" if one.proxy is not None else "file"
        parts.append(
            Part(one.id, f"/api/footage/{quote(one.id, safe='')}/media?of={copy}", starts, first, end, 0)
        )
        at = starts + end - first
    return Films(tuple(parts))
