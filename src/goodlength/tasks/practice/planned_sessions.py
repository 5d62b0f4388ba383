"""Practice sessions planned for a day, in the player's practice log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import uuid4

from goodlength.errors import InputError, NotFound, OutOfRange
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.tasks.removal.recycle_bin import bin_practice

if TYPE_CHECKING:
    from goodlength.record.store import Library

MOST_WORDS = 120
LONGEST_AHEAD = timedelta(days=730)  # a year mistyped is refused: our own choice


@dataclass(frozen=True)
class PlannedSession:
    """A session planned for a day; `words` say what it is to be, and may be empty."""

    id: str
    player: str
    on: date
    words: str


def plan_session(
    library: Library, player_id: str, on: date, words: str = "", *, today: date | None = None
) -> PlannedSession:
    """Plan a session of a player for today or a later day.

    Raises
    ------
    NotFound
        No such player.
    OutOfRange
        The day is past, or more than two years ahead.
    InputError
        The words are longer than 120 letters.
    """
    library.player(player_id)
    now = today or date.today()
    if not now <= on <= now + LONGEST_AHEAD:
        raise OutOfRange(
            f"A session can be planned from today, {now.isoformat()}, to two years ahead; got "
            f"{on.isoformat()}. Log what was done already in the practice log of the player."
        )
    line = " ".join(words.split())
    if len(line) > MOST_WORDS:
        raise InputError(f"A planned session has at most {MOST_WORDS} letters; got {len(line)}. Shorten it.")
    at = datetime.now(UTC)
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    value = {"on": on.isoformat(), "words": line}
    entry = PracticeEntry(str(uuid4()), player_id, at, PracticeWhat.SESSION, value)
    library.append_practice([entry])
    return PlannedSession(entry.id, player_id, on, line)


def sessions_in(log: tuple[PracticeEntry, ...]) -> tuple[PlannedSession, ...]:
    """Return the planned sessions of one player's log that stand, by day; unreadable ones are left out."""
    sessions = [_session(e) for e in effective_entries(log) if e.what is PracticeWhat.SESSION]
    planned = [session for session in sessions if session is not None]
    return tuple(sorted(planned, key=lambda session: session.on))


def _session(entry: PracticeEntry) -> PlannedSession | None:
    """Return a planned session; None for a line that no page of this program wrote."""
    try:
        value = entry.value
        return PlannedSession(
            entry.id, entry.player, date.fromisoformat(value["on"]), str(value["words"])[:MOST_WORDS]
        )
    except (LookupError, TypeError, ValueError):
        return None


def remove_session(library: Library, player_id: str, session_id: str) -> str:
    """Remove a planned session, into the bin; return the item's id.

    Raises
    ------
    NotFound
        No such session is planned.
    """
    planned = {session.id: session for session in sessions_in(library.practice(player_id))}
    if session_id not in planned:
        raise NotFound("This session is not planned any more. It may have been removed: look in the bin.")
    session = planned[session_id]
    name = library.player(player_id).name
    title = f"Session of {name} on {session.on.isoformat()}"
    at = datetime.now(UTC)
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    undo = PracticeEntry(str(uuid4()), player_id, at, PracticeWhat.UNDO, None, session_id)
    return bin_practice(library, "session", title, undo)
