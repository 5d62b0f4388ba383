"""Zones of the floor: nine places by thirds, and the areas that the lines mark off.

Two things are kept apart. **Places** (front, mid, back by left, middle, right) are thirds of the floor:
front is up to 3.25 m from the front wall, mid up to 6.50 m, back the rest; left is up to 2.133 m from
the left wall, middle up to 4.267 m, right the rest. The rules know no thirds: this cut is ours, chosen
so that each place has the same area. **Quarter and box** are the court's own: a quarter is what lies
behind the short line on one side of the half-court line, no line touched.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.court.dimensions import (
    BOX_M,
    BOX_REAR_M,
    HALF_COURT_LEFT_M,
    HALF_COURT_RIGHT_M,
    LENGTH_M,
    MIDDLE_M,
    SHORT_LINE_REAR_M,
    WIDTH_M,
)
from goodlength.errors import OutOfRange

Rect = tuple[float, float, float, float]  # left, front, right, rear in metres: x0, y0, x1, y1
_TOUCH_M = 1e-9  # a distance under this is a touch: nearer than a float can tell

DEPTHS = ("front", "mid", "back")
ACROSS = ("left", "middle", "right")


@dataclass(frozen=True)
class Zone:
    """Where a point of the floor lies.

    `place` is one of the nine names of `PLACES`; `side` is the half of the court. `quarter` and `box`
    are None where the point is in none, or on a line.
    """

    place: str
    depth: str
    across: str
    side: str
    quarter: str | None
    box: str | None


def _name(depth: str, across: str) -> str:
    """Return the name of a place; the one in the very middle is just "middle"."""
    return "middle" if (depth, across) == ("mid", "middle") else f"{depth}-{across}"


def _thirds() -> dict[str, Rect]:
    """Return the nine places as rectangles."""
    found: dict[str, Rect] = {}
    for j, depth in enumerate(DEPTHS):
        for i, across in enumerate(ACROSS):
            found[_name(depth, across)] = (
                WIDTH_M * i / 3,
                LENGTH_M * j / 3,
                WIDTH_M * (i + 1) / 3,
                LENGTH_M * (j + 1) / 3,
            )
    return found


PLACES = _thirds()
# What the lines mark off, inside the lines.
MARKED: dict[str, Rect] = {
    "left-quarter": (0.0, SHORT_LINE_REAR_M, HALF_COURT_LEFT_M, LENGTH_M),
    "right-quarter": (HALF_COURT_RIGHT_M, SHORT_LINE_REAR_M, WIDTH_M, LENGTH_M),
    "left-box": (0.0, SHORT_LINE_REAR_M, BOX_M, BOX_REAR_M),
    "right-box": (WIDTH_M - BOX_M, SHORT_LINE_REAR_M, WIDTH_M, BOX_REAR_M),
}


def floor_zone(x_m: float, y_m: float) -> Zone:
    """Return the place on the floor of a point, with the quarter and the box it lies in.

    Parameters
    ----------
    x_m, y_m : float
        From the left wall and from the front wall, m; 0 to 6.40 and 0 to 9.75.

    Raises
    ------
    OutOfRange
        If the point is not on the floor.

    Limits
    ------
    A point within measuring error of a border may as well lie beyond it.

    Examples
    --------
    >>> zone = floor_zone(1.0, 9.0)
    >>> zone.place, zone.quarter, zone.box
    ('back-left', 'left', None)
    >>> floor_zone(5.6, 6.0).box
    'right'
    """
    if not (0.0 <= x_m <= WIDTH_M and 0.0 <= y_m <= LENGTH_M):
        raise OutOfRange(
            f"({x_m:g}, {y_m:g}) is not on the floor, which runs from 0 to {WIDTH_M:.2f} m from the left "
            f"wall and 0 to {LENGTH_M:.2f} m from the front wall. Look at the measured place."
        )
    depth = DEPTHS[min(2, int(3 * y_m / LENGTH_M))]
    across = ACROSS[min(2, int(3 * x_m / WIDTH_M))]
    return Zone(
        place=_name(depth, across),
        depth=depth,
        across=across,
        side="left" if x_m < MIDDLE_M else "right",
        quarter=_marked("quarter", x_m, y_m),
        box=_marked("box", x_m, y_m),
    )


def _marked(what: str, x_m: float, y_m: float) -> str | None:
    """Return which quarter or box a point lies in, no line touched."""
    for side in ("left", "right"):
        if clearance_m(f"{side}-{what}", x_m, y_m) > _TOUCH_M:
            return side
    return None


def clearance_m(marked: str, x_m: float, y_m: float) -> float:
    """Return how far a point lies inside the lines of a quarter or box; zero or less: on a line or beyond.

    Walls do not count as lines: a ball may land against one.
    """
    x0, y0, x1, y1 = MARKED[marked]
    sides = [y_m - y0]
    if x0 > 0.0:
        sides.append(x_m - x0)
    if x1 < WIDTH_M:
        sides.append(x1 - x_m)
    if y1 < LENGTH_M:
        sides.append(y1 - y_m)
    return math.nan if any(math.isnan(side) for side in sides) else min(sides)
