"""Maps of where shots bounced, ended, or a player stood: the floor to scale, a small mark for each place."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from goodlength.court.dimensions import BOX_REAR_M, LENGTH_M, T_M, WIDTH_M
from goodlength.show.draw.court.drill_setup_drawing import floor_ground
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    shape,
)

Point = tuple[float, float]
_EDGE = 2.0  # px round the floor
_MARK = 2.6  # px, half a mark
_TIGHT_M = 0.5


class MapGuide(StrEnum):
    """What is drawn under the marks to hold them against."""

    NONE = "none"
    LENGTH = "length"  # the back line of the service boxes, wall to wall
    TIGHT = "tight"  # 50 cm from each side wall
    T = "t"  # a ring round the T


def shot_place_map(
    places: Sequence[Point],
    side: str,
    *,
    label: str,
    guide: MapGuide = MapGuide.NONE,
    wide: float = 150.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return the floor with a mark for each place, front wall at the top: discs of A, open squares of B.

    Parameters
    ----------
    places : sequence of (x, y)
        Metres from the left and from the front wall; places off the floor are drawn at its edge.
    side : "a" or "b"
    label : str
        The drawing in words.
    """
    scale = (wide - 2 * _EDGE) / WIDTH_M
    body = floor_ground(theme, scale) + _guide(theme, guide, scale)
    at = [
        (_EDGE + min(max(x, 0.0), WIDTH_M) * scale, _EDGE + min(max(y, 0.0), LENGTH_M) * scale)
        for x, y in places
    ]
    if at and side == "a":
        dots = "".join(f"M{num(round(x, 1))} {num(round(y, 1))}h0" for x, y in at)
        body += path(theme, dots, stroke="side-a", thick=2 * _MARK, stroke_linecap="round", opacity="0.75")
    elif at:
        squares = "".join(
            f"M{num(round(x - _MARK, 1))} {num(round(y - _MARK, 1))}h{2 * _MARK}v{2 * _MARK}h-{2 * _MARK}z"
            for x, y in at
        )
        body += path(theme, squares, stroke="side-b", thick=1.4)
    return drawing(theme, wide, LENGTH_M * scale + 2 * _EDGE, body, label)


def _guide(theme: DrawingTheme, guide: MapGuide, scale: float) -> str:
    right, bottom = _EDGE + WIDTH_M * scale, _EDGE + LENGTH_M * scale
    if guide is MapGuide.LENGTH:
        return path(
            theme,
            f"M{num(_EDGE)} {num(_EDGE + BOX_REAR_M * scale)}H{num(right)}",
            stroke="ink",
            thick=1.4,
            dash="5 3",
        )
    if guide is MapGuide.TIGHT:
        sides = (_EDGE + _TIGHT_M * scale, right - _TIGHT_M * scale)
        lines = "".join(f"M{num(x)} {num(_EDGE)}V{num(bottom)}" for x in sides)
        return path(theme, lines, stroke="ink", thick=1.4, dash="5 3")
    if guide is MapGuide.T:
        x, y = (_EDGE + metres * scale for metres in T_M)
        return shape(theme, "circle", fill="none", stroke="ink", thick=1.4, cx=x, cy=y, r=7)
    return ""
