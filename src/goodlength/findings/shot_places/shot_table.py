"""Shots of a match as plain columns with their places, as findings read them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import BOX_REAR_M, WIDTH_M
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES, RallyTable

Codes = NDArray[np.int16]
Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]

LENGTH_M = BOX_REAR_M  # a first bounce from here on is length: past the back line of the service boxes
TIGHT_M = 0.5  # from the side wall; a ball farther from it is loose. Common practice, no source
TO_LENGTH = tuple(STROKES.index(stroke) for stroke in (ShotType.DRIVE, ShotType.CROSS_COURT, ShotType.LOB))
STRAIGHT = STROKES.index(ShotType.DRIVE)


@dataclass(frozen=True, eq=False)
class ShotTable:
    """Columns of shape (n,), one row a shot of a followed and logged rally; metres, seconds.

    Parameters
    ----------
    rally : Codes
        Row of the shot's rally in the `RallyTable` of the match.
    number : Codes
        In its rally; 1 is the serve.
    striker : Codes
        0 A, 1 B, -1 not known.
    stroke : Codes
        Into `STROKES`; -1 not known.
    usable : Marks
        Whether the path is up to date and sure. Places of other shots are NaN.
    seen : Marks
        Whether a path was found at all.
    struck_s : Floats
        Match time of the strike.
    given_s : Floats
        To the other player's strike; NaN where there was none.
    start : Floats, shape (n, 2)
        Where it was struck, from the left wall and from the front wall.
    bounce, bounce_error : Floats, shape (n, 2)
        First bounce on the floor with its standard error; NaN where it was volleyed, or did not come so far.
    end, end_error : Floats, shape (n, 2)
        Where the other player struck it, else where it bounced the second time.
    struck_back : Marks
        Whether `end` is a strike.
    other : Floats, shape (n, 2)
        Where the other player stood at the strike.
    logged, followed : int
        Rallies of the record, and those of them with paths that are up to date.
    stale : int
        Logged rallies whose paths are out of date; none of their shots is a row.
    """

    rally: Codes
    number: Codes
    striker: Codes
    stroke: Codes
    usable: Marks
    seen: Marks
    struck_s: Floats
    given_s: Floats
    start: Floats
    bounce: Floats
    bounce_error: Floats
    end: Floats
    end_error: Floats
    struck_back: Marks
    other: Floats
    logged: int = 0
    followed: int = 0
    stale: int = 0

    @property
    def n(self) -> int:
        """How many shots there are."""
        return len(self.rally)

    @property
    def to_length(self) -> Marks:
        """Usable drives, cross-courts and lobs after the serve."""
        return np.asarray(self.usable & (self.number > 1) & np.isin(self.stroke, TO_LENGTH))

    @property
    def bounced(self) -> Marks:
        """Shots whose first bounce is known."""
        return np.isfinite(self.bounce[:, 1])

    @property
    def past_line(self) -> Marks:
        """Shots that bounced past the back line of the service boxes."""
        return np.asarray(self.bounced & (np.nan_to_num(self.bounce[:, 1]) >= LENGTH_M))

    @property
    def from_wall(self) -> Floats:
        """Distance from the nearer side wall where the other player struck it, or at the second bounce."""
        return np.asarray(np.minimum(self.end[:, 0], WIDTH_M - self.end[:, 0]))

    @property
    def tight(self) -> Marks:
        """Shots that ended within `TIGHT_M` of a side wall."""
        return np.asarray(np.nan_to_num(self.from_wall, nan=np.inf) <= TIGHT_M)


@dataclass(frozen=True, eq=False)
class PlacedMatch:
    """One match with its shots, and which side the findings are about (0 A, 1 B)."""

    table: RallyTable
    shots: ShotTable
    side: int


def empty_shots(logged: int = 0, stale: int = 0) -> ShotTable:
    """Return a table without a shot."""
    return shot_table_of([], logged, 0, stale)


@dataclass(frozen=True)
class ShotRow:
    """One row of a `ShotTable`; fields as its columns."""

    rally: int
    number: int
    striker: int = -1
    stroke: int = -1
    usable: bool = False
    seen: bool = False
    struck_s: float = np.nan
    given_s: float = np.nan
    start: tuple[float, float] = (np.nan, np.nan)
    bounce: tuple[float, float] = (np.nan, np.nan)
    bounce_error: tuple[float, float] = (np.nan, np.nan)
    end: tuple[float, float] = (np.nan, np.nan)
    end_error: tuple[float, float] = (np.nan, np.nan)
    struck_back: bool = False
    other: tuple[float, float] = (np.nan, np.nan)


def shot_table_of(rows: list[ShotRow], logged: int, followed: int, stale: int = 0) -> ShotTable:
    """Return rows as columns."""

    def codes(name: str) -> Codes:
        return np.array([getattr(row, name) for row in rows], dtype=np.int16)

    def marks(name: str) -> Marks:
        return np.array([getattr(row, name) for row in rows], dtype=np.bool_)

    def floats(name: str) -> Floats:
        return np.array([getattr(row, name) for row in rows], dtype=np.float64)

    def places(name: str) -> Floats:
        return floats(name).reshape(-1, 2)

    return ShotTable(
        codes("rally"),
        codes("number"),
        codes("striker"),
        codes("stroke"),
        marks("usable"),
        marks("seen"),
        floats("struck_s"),
        floats("given_s"),
        places("start"),
        places("bounce"),
        places("bounce_error"),
        places("end"),
        places("end_error"),
        marks("struck_back"),
        places("other"),
        logged,
        followed,
        stale,
    )
