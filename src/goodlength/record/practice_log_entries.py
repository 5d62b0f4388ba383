"""Practice log: what was done on court between matches, as immutable entries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from goodlength.files.json_types import Json


class PracticeWhat(StrEnum):
    """What an entry of the practice log holds; the values are listed in docs/reference/practice-log.md."""

    PLAN = "plan"  # a plan as the coach accepted it
    SET = "set"  # {"drill", "hits", "attempts", "order", "on", "places": [[x, z], ...], "aim": [x, z]}
    SESSION = "session"  # a session planned for a day: {"on", "words"}
    GROUP = "group"  # the group the player trains with, in a word; the last one said holds
    UNDO = "undo"  # `replaces` names the entry taken back


@dataclass(frozen=True)
class PracticeEntry:
    """One line of a player's practice log; the id is made by whoever writes it, so that it counts once."""

    id: str
    player: str
    at_utc: datetime
    what: PracticeWhat
    value: Any
    replaces: str | None = None


def practice_to_plain(entry: PracticeEntry) -> dict[str, Json]:
    """Return one line of the log as JSON values.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 11, 25, tzinfo=UTC)
    >>> practice_to_plain(PracticeEntry("g1", "p", at, PracticeWhat.GROUP, "squad"))["what"]
    'group'
    """
    return {
        "id": entry.id,
        "player": entry.player,
        "at_utc": entry.at_utc.isoformat(),
        "what": entry.what.value,
        "value": entry.value,
        "replaces": entry.replaces,
    }


def effective_entries(entries: tuple[PracticeEntry, ...]) -> tuple[PracticeEntry, ...]:
    """Return the entries that still hold, in the order written: those taken back are left out.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 11, 25, tzinfo=UTC)
    >>> made = PracticeEntry("s1", "p", at, PracticeWhat.SET, {})
    >>> effective_entries((made, PracticeEntry("u1", "p", at, PracticeWhat.UNDO, None, "s1")))
    ()
    """
    gone: set[str] = set()
    for entry in reversed(entries):
        if entry.what is PracticeWhat.UNDO and entry.id not in gone and entry.replaces:
            gone.add(entry.replaces)
    return tuple(e for e in entries if e.what is not PracticeWhat.UNDO and e.id not in gone)
