"""Dimensions of the singles court, each with its tolerance, the edge it is measured to, and its source.

```
        x 0 ─────────────── 3.20 ─────────────── 6.40     z is up from the floor
   y 0  ┌──────────────── front wall ────────────────┐    front wall: tin 0.48, service line 1.78,
        │                                            │                out line 4.57
        │                                            │
   5.44 ├═════════════ short line (0.05) ════════════┤
        │ left box │          │          │ right box │    boxes 1.60 square inside their lines
        ├──────────┘          │          └───────────┤
        │     left quarter    │     right quarter    │
   9.75 └──────────────── back wall ─────────────────┘    out line 2.13
```
Figures are the federation's metric ones; converting the old feet and inches gives others.
Whoever marks a court may be 5 mm off a line (2 mm at the tin) and 10 mm in length and width, so a
place measured from the lines inherits that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.errors import OutOfRange


@dataclass(frozen=True)
class Measure:
    """One dimension: value and tolerance in metres (None: none was found), edge, source key."""

    value_m: float
    tolerance_m: float | None
    edge: str
    source: str
    status: str

    @property
    def low_m(self) -> float:
        """The least value inside the tolerance."""
        return self.value_m - (self.tolerance_m or 0.0)

    @property
    def high_m(self) -> float:
        """The greatest value inside the tolerance."""
        return self.value_m + (self.tolerance_m or 0.0)


@dataclass(frozen=True)
class Singles:
    """The dimensions of a singles court."""

    length: Measure
    width: Measure
    diagonal: Measure
    front_out_line: Measure
    back_out_line: Measure
    service_line: Measure
    tin: Measure
    tin_tour: Measure
    tin_band: Measure
    short_line: Measure
    half_court_line: Measure
    service_box: Measure
    line_width: Measure
    clear_height: Measure
    door_width: Measure
    door_height: Measure
    marking_offset: Measure
    wall_flatness: Measure
    floor_level: Measure


def _mm(value: int, tolerance: int | None, edge: str, source: str, status: str) -> Measure:
    """Return a measure given in whole millimetres, as the sources print it."""
    return Measure(value / 1000, None if tolerance is None else tolerance / 1000, edge, source, status)


_READ, _SECOND = "read in copy", "secondary"
_FACES = "between playing surfaces, 1 m above the floor"

SINGLES = Singles(
    # Lengths: source COURT-2014 appendix 7.1; tolerances: source COURT-SPEC section 11.
    length=_mm(9750, 10, _FACES, "COURT-2014", _READ),
    width=_mm(6400, 10, _FACES, "COURT-2014", _READ),
    diagonal=_mm(11665, 25, _FACES, "COURT-2014", _READ),
    # COURT-2014 prints 570 here: a misprint, four other sources give 4570.
    front_out_line=_mm(4570, 5, "lower edge, above the floor", "COURT-SPEC", _SECOND),
    back_out_line=_mm(2130, 5, "lower edge, above the floor", "COURT-2014", _READ),
    service_line=_mm(1780, 5, "lower edge, above the floor", "COURT-2014", _READ),
    tin=_mm(480, 2, "upper edge, above the floor", "COURT-2014", _READ),
    tin_tour=_mm(430, 2, "upper edge, above the floor", "TIN-TOUR", _SECOND),
    tin_band=_mm(50, None, "height of the tin's upper band", "COURT-SPEC", _SECOND),
    short_line=_mm(4260, 5, "edge nearest the back wall, from the back wall", "COURT-2014", _READ),
    half_court_line=_mm(3200, 5, "middle, from either side wall", "COURT-WA", _SECOND),
    service_box=_mm(1600, None, "inside, clear of the lines, both ways", "COURT-2014", _READ),
    line_width=_mm(50, None, "every line", "COURT-2014", _READ),
    clear_height=_mm(5640, None, "at least, to the lowest obstruction", "COURT-2014", _READ),
    door_width=_mm(900, None, "at most", "COURT-WA", _SECOND),
    door_height=_mm(2130, None, "at most", "COURT-WA", _SECOND),
    marking_offset=_mm(5, None, "at most, any marking (the tin 2 mm)", "COURT-SPEC", _SECOND),
    wall_flatness=_mm(3, None, "at most, under a straight edge of 1800 mm", "COURT-COPY", _SECOND),
    floor_level=_mm(10, None, "at most, over length, width and diagonals", "COURT-COPY", _SECOND),
)

TIN_M = {"standard": SINGLES.tin.value_m, "tour": SINGLES.tin_tour.value_m}

# Derived lines of the nominal court, all computed from SINGLES in whole millimetres.
LENGTH_M = 9750 / 1000
WIDTH_M = 6400 / 1000
MIDDLE_M = 3200 / 1000
LINE_M = 50 / 1000
FRONT_OUT_M = 4570 / 1000
BACK_OUT_M = 2130 / 1000
SERVICE_LINE_M = 1780 / 1000
SERVICE_LINE_TOP_M = 1830 / 1000  # the edge a serve must clear
SHORT_LINE_FRONT_M = 5440 / 1000
SHORT_LINE_REAR_M = 5490 / 1000
HALF_COURT_LEFT_M = 3175 / 1000
HALF_COURT_RIGHT_M = 3225 / 1000
BOX_M = 1600 / 1000
BOX_REAR_M = 7090 / 1000  # inside edge of the box's back line
T_M = (3200 / 1000, 5465 / 1000)  # middle of the crossing of short and half-court line

_SLOPE = (FRONT_OUT_M - BACK_OUT_M) / LENGTH_M
SIDE_LINE_ANGLE_RAD = math.atan(_SLOPE)
SIDE_LINE_TALL_M = LINE_M / math.cos(SIDE_LINE_ANGLE_RAD)  # a 50 mm line, measured straight up


def side_wall_line_m(y_m: float) -> float:
    """Return height of the side wall's out line, lower edge, at a distance from the front wall.

    Parameters
    ----------
    y_m : float
        From the front wall, m, 0 to 9.75.

    Raises
    ------
    OutOfRange
        If the place is not along the wall.

    Source
    ------
    COURT-2014, appendix 7.1, note 1: the line joins the front wall's and the back wall's line. That it
    is drawn lower edge to lower edge is from memory.

    Examples
    --------
    >>> round(side_wall_line_m(8.0), 4), side_wall_line_m(0.0), side_wall_line_m(9.75)
    (2.5679, 4.57, 2.13)
    """
    if not 0.0 <= y_m <= LENGTH_M:
        raise OutOfRange(
            f"The side wall runs from 0 to {LENGTH_M} m from the front wall; got {y_m:g} m. "
            "Give a distance inside that."
        )
    return FRONT_OUT_M - (FRONT_OUT_M - BACK_OUT_M) * (y_m / LENGTH_M)
