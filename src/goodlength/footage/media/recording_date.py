"""Recording date from a file's tags, and whether its time zone is known or a guess."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

# The tag with the phone's own offset, then those without; source: common practice of recorders, from memory.
WITH_OFFSET = ("com.apple.quicktime.creationdate", "date_recorded", "date", "creation_date")
IN_UTC = ("creation_time", "date_encoded")
FIRST_YEAR = 1990  # an unset clock writes 1904 or 1970
AHEAD = timedelta(days=2)


@dataclass(frozen=True)
class Recorded:
    """When a recording was made: ISO 8601 with its offset, and whether that offset was written by the phone.

    Where it was not, the time is by the standard in UTC, but many cameras write the time on their display.
    """

    at: str
    zone_known: bool

    @property
    def when(self) -> datetime:
        """The same as a moment."""
        return datetime.fromisoformat(self.at)


def recorded_in(tags: Sequence[Mapping[str, str]], now: datetime | None = None) -> Recorded | None:
    """Return when a file was recorded by its tags, those of the container first; None where none says it.

    Examples
    --------
    >>> recorded_in([{"creation_time": "2025-10-03T18:30:00.000000Z"}])
    Recorded(at='2025-10-03T18:30:00+00:00', zone_known=False)
    >>> own = {"com.apple.quicktime.creationdate": "2025-10-03T18:30:00+0100"}
    >>> recorded_in([{"creation_time": "2025-10-03T17:30:00Z", **own}])
    Recorded(at='2025-10-03T18:30:00+01:00', zone_known=True)
    >>> recorded_in([{"creation_time": "1904-01-01T00:00:00.000000Z"}]) is None
    True
    """
    latest = (now or datetime.now(UTC)) + AHEAD
    plain = [{key.lower(): value for key, value in tag.items()} for tag in tags]
    for names, wants_offset in ((WITH_OFFSET, True), (WITH_OFFSET + IN_UTC, False)):
        for fields in plain:
            for name in names:
                when = _moment(fields.get(name, ""))
                if when is None or (wants_offset and (when.tzinfo is None or name in IN_UTC)):
                    continue
                moment = when if when.tzinfo is not None else when.replace(tzinfo=UTC)
                if moment.year >= FIRST_YEAR and moment <= latest:
                    return Recorded(moment.isoformat(timespec="seconds"), wants_offset)
    return None


def _moment(text: str) -> datetime | None:
    """Return a date with its time; None for anything else, such as a year alone."""
    text = text.strip()
    if len(text) < len("2025-10-03T18:30"):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def recorded_words(made: Recorded) -> str:
    """Return the moment in words, with what is not known about it."""
    when = made.when
    day = f"{when.day} {when:%B %Y}, {when:%H:%M}"
    if made.zone_known:
        return f"Recorded on {day} (the phone's own time)."
    return f"Recorded on {day}, read as UTC: the time zone is a guess, so the day may be off by one."
