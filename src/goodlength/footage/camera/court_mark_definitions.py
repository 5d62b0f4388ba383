"""Named marks of the court that a coach can click, each with the edge that is meant.

```
        out-left ┌──────────────────────┐ out-right          (lower edge of the out line)
    service-left ├──────────────────────┤ service-right      (lower edge of the service line)
        tin-left ├──────────────────────┤ tin-right          (top of the tin)
 front-left-floor└──────────────────────┘front-right-floor
      short-left ├─lb-front──t─┬─t──rb-front─┤ short-right   (edge nearest the back wall)
   left-box-wall ├─lb-corner   │  rb-corner──┤ right-box-wall
 back-left-floor └──────── half-back ────────┘ back-right-floor
```
A line is 5 cm wide: clicking its middle instead of the edge meant costs 2 to 4 cm on the floor.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from goodlength.court import TIN_M, CourtSurface
from goodlength.court.dimensions import (
    BACK_OUT_M,
    BOX_M,
    BOX_REAR_M,
    FRONT_OUT_M,
    HALF_COURT_LEFT_M,
    HALF_COURT_RIGHT_M,
    LENGTH_M,
    SERVICE_LINE_M,
    SHORT_LINE_REAR_M,
    WIDTH_M,
)
from goodlength.errors import CalibrationError, NotFound

XYZ = tuple[float, float, float]
NEAR_THE_BACK_WALL = "nearest the back wall"


@dataclass(frozen=True)
class CourtMark:
    """A point of the court with a name, where it is (m), and words that say which edge to click.

    `mirror` is the mark on the other side of the court; `surfaces` are those the point lies on.
    """

    name: str
    words: str
    edge: str
    at: XYZ
    surfaces: tuple[CourtSurface, ...]
    mirror: str

    @property
    def on_floor(self) -> bool:
        """Whether the mark lies on the floor."""
        return CourtSurface.FLOOR in self.surfaces


def court_marks(tin: str = "standard") -> dict[str, CourtMark]:
    """Return every mark of the court by name, in the order in which a coach would click them.

    Parameters
    ----------
    tin : str
        "standard" (0.48 m) or "tour" (0.43 m).

    Raises
    ------
    NotFound
        If there is no such tin.

    Source
    ------
    COURT-2014 through `goodlength.court`; which points serve as marks is our choice.

    Examples
    --------
    >>> court_marks()["short-left"].at, court_marks()["short-left"].edge
    ((0.0, 5.49, 0.0), 'edge of the line nearest the back wall')
    """
    if tin not in TIN_M:
        raise NotFound(f"There is no tin {tin!r} here. It is 'standard' (0.48 m) or 'tour' (0.43 m).")
    marks = (*_floor_lines(), *_front_wall(TIN_M[tin]), *_back_wall())
    return {mark.name: mark for mark in marks}


def mark_named(name: str, tin: str = "standard") -> CourtMark:
    """Return the mark of that name.

    Raises
    ------
    CalibrationError
        If there is none; the text lists those there are.
    """
    marks = court_marks(tin)
    if name not in marks:
        raise CalibrationError(
            f"There is no court mark called {name!r}. Marks are: {', '.join(marks)}. Choose one of these."
        )
    return marks[name]


def marks_in_words(text: str, tin: str = "standard") -> str:
    """Return a text with each mark's name replaced by its words, as a page says it.

    Examples
    --------
    >>> marks_in_words("The mark 'short-left' is clicked twice.")
    'The mark “short line at the left wall” is clicked twice.'
    """
    words = {name: mark.words for name, mark in court_marks(tin).items()}
    names = "|".join(re.escape(name) for name in sorted(words, key=len, reverse=True))
    quoted = re.sub(f"'({names})'", lambda found: f"“{words[found.group(1)]}”", text)
    return re.sub(rf"(?<![\w-])({names})(?![\w-])", lambda found: f"“{words[found.group(1)]}”", quoted)


def _pair(
    name: str, words: str, edge: str, at: XYZ, surfaces: tuple[CourtSurface, ...]
) -> tuple[CourtMark, CourtMark]:
    """Return the mark on the left, and the same on the right; "left" stands in name and words."""
    other = {CourtSurface.LEFT: CourtSurface.RIGHT}
    right = name.replace("left", "right")
    x, y, z = at
    return (
        CourtMark(name, words, edge, at, surfaces, right),
        CourtMark(
            right,
            words.replace("left", "right"),
            edge.replace("left", "right"),
            (WIDTH_M - x, y, z),
            tuple(other.get(s, s) for s in surfaces),
            name,
        ),
    )


def _floor_lines() -> tuple[CourtMark, ...]:
    """Crossings on the floor."""
    floor = (CourtSurface.FLOOR,)
    side = (CourtSurface.FLOOR, CourtSurface.LEFT)
    near = f"edge of the line {NEAR_THE_BACK_WALL}"
    inside = "corner inside the box, clear of the lines"
    rear = SHORT_LINE_REAR_M
    return (
        *_pair("short-left", "short line at the left wall", near, (0.0, rear, 0.0), side),
        *_pair(
            "left-box-front",
            "left box, inner corner at the short line",
            inside,
            (BOX_M, rear, 0.0),
            floor,
        ),
        *_pair(
            "left-box-corner",
            "left box, inner corner at its back",
            inside,
            (BOX_M, BOX_REAR_M, 0.0),
            floor,
        ),
        *_pair(
            "left-box-wall",
            "left box, back line at the left wall",
            "edge inside the box",
            (0.0, BOX_REAR_M, 0.0),
            side,
        ),
        *_pair(
            "t-left",
            "T, left corner",
            f"left edge of the half-court line, {near}",
            (HALF_COURT_LEFT_M, rear, 0.0),
            floor,
        ),
        *_pair(
            "front-left-floor",
            "front wall, left wall and floor",
            "corner of the court",
            (0.0, 0.0, 0.0),
            (CourtSurface.FLOOR, CourtSurface.LEFT, CourtSurface.FRONT),
        ),
        *_pair(
            "half-back-left",
            "half-court line at the back wall, left edge",
            "left edge of the line",
            (HALF_COURT_LEFT_M, LENGTH_M, 0.0),
            (CourtSurface.FLOOR, CourtSurface.BACK),
        ),
        *_pair(
            "back-left-floor",
            "back wall, left wall and floor",
            "corner of the court",
            (0.0, LENGTH_M, 0.0),
            (CourtSurface.FLOOR, CourtSurface.LEFT, CourtSurface.BACK),
        ),
    )


def _front_wall(tin_m: float) -> tuple[CourtMark, ...]:
    """Ends of the lines of the front wall."""
    corner = (CourtSurface.FRONT, CourtSurface.LEFT)
    low = "lower edge of the line"
    return (
        *_pair("tin-left", "tin at the left wall", "top of the tin", (0.0, 0.0, tin_m), corner),
        *_pair("service-left", "service line at the left wall", low, (0.0, 0.0, SERVICE_LINE_M), corner),
        *_pair("out-left", "front out line at the left wall", low, (0.0, 0.0, FRONT_OUT_M), corner),
    )


def _back_wall() -> tuple[CourtMark, ...]:
    """Ends of the out line of the back wall."""
    corner = (CourtSurface.BACK, CourtSurface.LEFT)
    at = (0.0, LENGTH_M, BACK_OUT_M)
    return _pair("back-out-left", "back out line at the left wall", "lower edge of the line", at, corner)


assert HALF_COURT_RIGHT_M + HALF_COURT_LEFT_M == WIDTH_M  # the mirror of the left edge is the right one
