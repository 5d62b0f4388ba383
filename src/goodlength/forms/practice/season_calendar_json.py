"""JSON form of one month of the season's calendar."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.library.season_calendar import CalendarMonth

if TYPE_CHECKING:
    pass


def calendar_form(book: CalendarMonth) -> dict[str, Json]:
    """Return the season book as JSON values."""
    return {
        "month": f"{book.month:%Y-%m}",
        "days": {
            day.isoformat(): [{"kind": h.kind, "words": h.words, "player": h.player} for h in several]
            for day, several in book.days.items()
        },
        "due": [
            {"on": d.on.isoformat(), "kind": d.kind, "words": d.words, "days_left": d.days_left}
            for d in book.due
        ],
        "groups": list(book.groups),
    }
