"""media_time: exact media time, match time over several files, wall time with its zone, times in words.

It knows no video library: ticks and time bases are plain integers, read by whoever opens a file.
Public: `TimeBase`, `Timestamp`, `us`, `seconds`; `Part`, `MediaPosition`, `Gap`, `FileSpan`, `Timeline`;
`WallTime`, `local_zone`; `clock_words`, `minutes_words`.

```
 match time 0 ──────────────┬───────────gap───────────┬──────────────────> microseconds
 file one   [first ── end)  │                         │  file two [first ── end)
```
"""

from __future__ import annotations

import math
import os
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import total_ordering
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from goodlength.errors import NotFound, OutOfRange

MICROSECONDS = 1_000_000


@dataclass(frozen=True)
class TimeBase:
    """Length of one tick in seconds, as a ratio of two integers: 1/90000, 1001/30000."""

    num: int
    den: int

    def __post_init__(self) -> None:
        if self.num <= 0 or self.den <= 0:
            raise OutOfRange(
                f"A time base must be a ratio of two whole numbers above zero; got {self.num}/{self.den}. "
                "The file's time stamps cannot be read; make a copy of it with a phone or camera program."
            )

    @property
    def tick(self) -> Fraction:
        """One tick in seconds, exactly."""
        return Fraction(self.num, self.den)


@total_ordering
@dataclass(frozen=True, eq=False)
class Timestamp:
    """A moment of a file as its own integer ticks; compared exactly across time bases.

    Examples
    --------
    >>> Timestamp(90000, TimeBase(1, 90000)) == Timestamp(1000, TimeBase(1, 1000))
    True
    >>> float(Timestamp(1, TimeBase(1001, 30000))) > 0.03336
    True
    """

    pts: int
    base: TimeBase

    @property
    def seconds(self) -> Fraction:
        """The moment in seconds, exactly."""
        return self.pts * self.base.tick

    @property
    def us(self) -> int:
        """The moment in whole microseconds, to the nearest."""
        return us(self.seconds)

    def __float__(self) -> float:
        return float(self.seconds)

    def __eq__(self, other: object) -> bool:
        return self.seconds == other.seconds if isinstance(other, Timestamp) else NotImplemented

    def __lt__(self, other: Timestamp) -> bool:
        return self.seconds < other.seconds

    def __hash__(self) -> int:
        return hash(self.seconds)


def us(seconds: float | Fraction) -> int:
    """Return the whole microseconds nearest to a time in seconds; halves go to the even one.

    Raises
    ------
    OutOfRange
        If the time is not a finite number.

    Examples
    --------
    >>> us(31.4), us(Fraction(1001, 30000)), us(-0.5)
    (31400000, 33367, -500000)
    """
    if not math.isfinite(seconds):
        raise OutOfRange(
            f"A time must be a finite number of seconds; got {seconds}. Give seconds, such as 31.4."
        )
    return round(Fraction(seconds) * MICROSECONDS)


def seconds(us: int) -> float:
    """Return a time in microseconds as seconds, for the doors only.

    Examples
    --------
    >>> seconds(31_400_000)
    31.4
    """
    return us / MICROSECONDS


@dataclass(frozen=True)
class Part:
    """The range [first, end) of a file, placed so that `first_us` is at match time `starts_us`."""

    footage_id: str
    starts_us: int
    first_us: int
    end_us: int

    def __post_init__(self) -> None:
        if self.end_us <= self.first_us:
            raise OutOfRange(
                f"Footage {self.footage_id!r} must end after it begins; got {seconds(self.first_us):g} s to "
                f"{seconds(self.end_us):g} s. Check the file: it may hold no video."
            )

    @property
    def length_us(self) -> int:
        """How long the part lasts."""
        return self.end_us - self.first_us

    @property
    def ends_us(self) -> int:
        """The match time at which the part is over."""
        return self.starts_us + self.length_us


@dataclass(frozen=True)
class MediaPosition:
    """A moment found: which file, and where in it."""

    footage_id: str
    media_us: int
    part: int


@dataclass(frozen=True)
class Gap:
    """Match time without footage; None at an end means "from the beginning of time" or "for ever"."""

    from_us: int | None
    to_us: int | None


@dataclass(frozen=True)
class FileSpan:
    """A stretch of one file, in that file's media time."""

    footage_id: str
    from_us: int
    to_us: int


class Timeline:
    """Match time over an ordered list of files.

    A part holds its first moment and not its last: where one file ends and the next begins, the
    moment belongs to the next.

    Parameters
    ----------
    parts : iterable of Part
        In any order; they may leave gaps but not overlap. A file may come more than once.

    Raises
    ------
    OutOfRange
        If two parts overlap in match time.

    Examples
    --------
    >>> line = Timeline.in_order([("one", 0, 4_000_000), ("two", 500_000, 2_500_000)])
    >>> line.locate(4_000_000)
    MediaPosition(footage_id='two', media_us=500000, part=1)
    >>> line.match_time("two", 1_500_000), line.length_us
    (5000000, 6000000)
    """

    def __init__(self, parts: Iterable[Part]) -> None:
        self.parts = tuple(sorted(parts, key=lambda part: part.starts_us))
        for before, after in zip(self.parts, self.parts[1:], strict=False):
            if after.starts_us < before.ends_us:
                raise OutOfRange(
                    f"Footage {after.footage_id!r} begins at {clock_words(seconds(after.starts_us))} of the "
                    f"match, before {before.footage_id!r} ends at {clock_words(seconds(before.ends_us))}. "
                    "Files of one match may leave gaps but not overlap: move one of them."
                )
        self._starts = [part.starts_us for part in self.parts]

    @classmethod
    def in_order(cls, files: Sequence[tuple[str, int, int]]) -> Timeline:
        """Join files one after the other, each from its first frame to the end of its last.

        Parameters
        ----------
        files : sequence of (footage_id, first_us, end_us)
            In the order they were filmed; match time 0 is the first frame of the first file.
        """
        parts, at = [], 0
        for footage_id, first_us, end_us in files:
            part = Part(footage_id, at, first_us, end_us)
            parts.append(part)
            at = part.ends_us
        return cls(parts)

    @property
    def length_us(self) -> int:
        """Match time at which the last file is over; 0 without footage."""
        return self.parts[-1].ends_us if self.parts else 0

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Stretches without footage, from match time 0 to the end of the last file."""
        found, at = [], 0
        for part in self.parts:
            if part.starts_us > at:
                found.append(Gap(at, part.starts_us))
            at = max(at, part.ends_us)
        return tuple(found)

    def locate(self, match_us: int) -> MediaPosition | Gap:
        """Return the file and the moment in it at a match time, or the gap it falls into."""
        i = bisect_right(self._starts, match_us) - 1
        if i >= 0 and match_us < self.parts[i].ends_us:
            part = self.parts[i]
            return MediaPosition(part.footage_id, part.first_us + match_us - part.starts_us, i)
        after = self.parts[i + 1].starts_us if i + 1 < len(self.parts) else None
        return Gap(self.parts[i].ends_us if i >= 0 else None, after)

    def match_time(self, footage_id: str, media_us: int) -> int:
        """Return the match time of a moment of a file.

        Raises
        ------
        NotFound
            If the file is not part of the match, or the moment lies outside what was placed.
        """
        own = [part for part in self.parts if part.footage_id == footage_id]
        if not own:
            raise NotFound(f"Footage {footage_id!r} is not part of this match. Add it on the Footage page.")
        for part in own:
            if part.first_us <= media_us < part.end_us:
                return part.starts_us + media_us - part.first_us
        for part in own:
            if media_us == part.end_us:
                return part.ends_us
        spans = ", ".join(
            f"{clock_words(seconds(p.first_us))} to {clock_words(seconds(p.end_us))}" for p in own
        )
        raise NotFound(
            f"{clock_words(seconds(media_us))} of footage {footage_id!r} is not part of this match, "
            f"which uses {spans}. Choose a time inside that."
        )

    def pieces(self, from_us: int, to_us: int) -> tuple[FileSpan, ...]:
        """Return the stretches of files that show a span of match time, in order; gaps are left out."""
        found = []
        for part in self.parts:
            a, b = max(from_us, part.starts_us), min(to_us, part.ends_us)
            if a < b:
                shift = part.first_us - part.starts_us
                found.append(FileSpan(part.footage_id, a + shift, b + shift))
        return tuple(found)


_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
SYSTEM_ZONE = Path("/etc/localtime")
UNKNOWN_ZONE = "unknown"  # written with a match where this machine's zone has no known name
YEARS = range(
    1900, 2200
)  # of every day and moment that is read; reckoning with them never leaves the calendar


def day_words(day: date) -> str:
    """Return a date as it is read aloud, without a doubtful order of figures.

    Examples
    --------
    >>> day_words(date(2026, 3, 14))
    '14 March 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def read_day(text: str) -> date:
    """Return a day written year-month-day, of the years 1900 to 2199.

    Raises
    ------
    ValueError
        If it is written otherwise, or lies outside these years.

    Examples
    --------
    >>> read_day("2026-03-07")
    datetime.date(2026, 3, 7)
    >>> read_day("9999-12-31")
    Traceback (most recent call last):
        ...
    ValueError: a year from 1900 to 2199 is needed
    """
    day = date.fromisoformat(text)
    if day.year not in YEARS:
        raise ValueError(f"a year from {YEARS[0]} to {YEARS[-1]} is needed")
    return day


def local_zone() -> str | None:
    """Return this machine's zone by name; None where it cannot be found out, as on Windows without TZ."""
    candidates = [os.environ.get("TZ", "").lstrip(":")]
    if SYSTEM_ZONE.is_symlink():
        candidates.append(str(SYSTEM_ZONE.resolve()).partition("zoneinfo/")[2])
    for name in candidates:
        try:
            if name:
                return ZoneInfo(name).key
        except (ZoneInfoNotFoundError, ValueError, OSError):
            continue
    return None


def clock_words(seconds: float) -> str:
    """Return a time as minutes, seconds and tenths, with hours only when there are any.

    Examples
    --------
    >>> clock_words(1874.6), clock_words(59.96), clock_words(3723.4)
    ('31:14.6', '1:00.0', '1:02:03.4')
    """
    if not math.isfinite(seconds):
        return "unknown"
    tenths = round(abs(seconds) * 10)
    minutes, tenths = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    head = f"{hours}:{minutes:02d}" if hours else f"{minutes}"
    sign = "−" if seconds < 0 and (hours or minutes or tenths) else ""
    return f"{sign}{head}:{tenths // 10:02d}.{tenths % 10}"


def minutes_words(seconds: float) -> str:
    """Return a length of time in words, to the second under an hour and to the minute above.

    Examples
    --------
    >>> minutes_words(52), minutes_words(245), minutes_words(2700), minutes_words(4350)
    ('52 s', '4 min 5 s', '45 min', '1 h 12 min')
    """
    if not math.isfinite(seconds):
        return "unknown"
    whole = round(seconds)
    if abs(whole) < 60:
        return f"{whole} s"
    sign, whole = ("−" if whole < 0 else ""), abs(whole)
    if whole < 3600:
        return f"{sign}{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    minutes = whole // 60
    return f"{sign}{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")
