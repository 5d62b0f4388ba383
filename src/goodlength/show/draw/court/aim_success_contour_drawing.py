"""Drawing of the front wall with contours: of 100 serves aimed at each place, how many do what is wanted.

All coordinates here are millimetres on the front wall as drawn (u to the right, v down from the floor).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court import CourtSurface
from goodlength.court.dimensions import FRONT_OUT_M, LINE_M, SERVICE_LINE_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.show.draw.court.aim_window_drawing import MM, wall_faces
from goodlength.show.draw.court.front_wall_contours import contours_of
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    path,
    polyline,
    shape,
    svg_text,
)

STEPS = (2, 5, 10, 20)  # of 100, between two contours
MOST_CONTOURS = 4
LABEL_MM = 150.0
_LOWEST_M = 1.40  # a serve must pass over the service line: what is below it is not drawn
_VIEW = (-20.0, -(FRONT_OUT_M * MM + 330.0), WIDTH_M * MM + 40.0, (FRONT_OUT_M - _LOWEST_M) * MM + 330.0)
_FILLS = ("aim-1", "aim-1", "aim-2", "aim-3")


@dataclass(frozen=True)
class WallMap:
    """One serve on the map: its name, the map, and the place aimed at (x_m, z_m)."""

    words: str
    across_m: NDArray[np.float64]
    up_m: NDArray[np.float64]
    of_100: NDArray[np.float64]
    spot_m: tuple[float, float]


def levels_of(most: float) -> tuple[int, ...]:
    """Return the levels drawn for a map whose highest place is so many of 100: at most four, evenly spaced.

    Examples
    --------
    >>> levels_of(31.0), levels_of(74.0), levels_of(1.2)
    ((10, 20, 30), (20, 40, 60), ())
    """
    step = next((step for step in STEPS if most < step * (MOST_CONTOURS + 1)), STEPS[-1])
    return tuple(range(step, int(most) + 1, step))[:MOST_CONTOURS]


def draw_front_wall_map(maps: Sequence[WallMap], theme: DrawingTheme = PAGE) -> str:
    """Return the front wall with the contours of one serve filled, and of a second one as dashed lines.

    Raises
    ------
    InputError
        If there is no map, or more than two.
    """
    if not 1 <= len(maps) <= 2:
        raise InputError(f"A map shows one serve or two; got {len(maps)}. Choose one to compare with.")
    first, *others = maps
    levels = levels_of(max(float(wall.of_100.max()) for wall in maps))
    body = wall_faces(theme, (CourtSurface.FRONT,))
    body += "".join(_contours(theme, first, levels, filled=True))
    body += "".join(part for other in others for part in _contours(theme, other, levels, filled=False))
    body += _edge_lines(theme)
    body += _cross(theme, first, "ink") + "".join(_cross(theme, other, "side-b") for other in others)
    wide, high = _VIEW[2] / 8, _VIEW[3] / 8
    return drawing(theme, wide, high, body, _label(maps), view=_VIEW)


def _contours(theme: DrawingTheme, wall: WallMap, levels: Sequence[int], *, filled: bool) -> list[str]:
    """Return lines and their numbers, the widest first; those of the second serve at its right."""
    parts, words = [], []
    for level, token in zip(levels, _FILLS[-len(levels) :], strict=False):
        for line in contours_of(wall.across_m, wall.up_m, wall.of_100, level)[:2]:
            d = polyline([(x * MM, -z * MM) for x, z in line], closed=True)
            ink = "ink" if filled else "side-b"
            parts.append(
                path(
                    theme,
                    d,
                    fill=token if filled else "none",
                    stroke=ink,
                    thick=14 if filled else 26,
                    dash=None if filled else "90 60",
                )
            )
            x, z = (min if filled else max)(line)
            words.append(
                svg_text(
                    theme,
                    x * MM,
                    -z * MM + LABEL_MM / 3,
                    str(level),
                    size=LABEL_MM,
                    ink=ink,
                    bold=True,
                    anchor="middle",
                    halo="wall",
                )
            )
    return parts + words


def _edge_lines(theme: DrawingTheme) -> str:
    """Return the out line and the service line over the contours, with their names."""
    parts = []
    for name, low in (("out line", FRONT_OUT_M), ("service line", SERVICE_LINE_M)):
        top = -(low + LINE_M) * MM
        parts.append(
            shape(theme, "rect", fill="court-line", x=0.0, y=top, width=WIDTH_M * MM, height=LINE_M * MM)
        )
        below = LABEL_MM + 150 if low < FRONT_OUT_M else -70.0
        parts.append(
            svg_text(theme, WIDTH_M * MM - 40, top + below, name, size=LABEL_MM, anchor="end", halo="wall")
        )
    return "".join(parts)


def _cross(theme: DrawingTheme, wall: WallMap, ink: str) -> str:
    """Return the mark of a place aimed at."""
    u, v = wall.spot_m[0] * MM, -wall.spot_m[1] * MM
    return path(theme, f"M{u - 110:.0f} {v:.0f}h220M{u:.0f} {v - 110:.0f}v220", stroke=ink, thick=34)


def _label(maps: Sequence[WallMap]) -> str:
    """Return the map in words."""
    sentences = []
    for wall in maps:
        i, j = np.unravel_index(int(np.argmax(wall.of_100)), wall.of_100.shape)
        sentences.append(
            f"{wall.words}: at most {wall.of_100[i, j]:.0f} of 100, aimed {wall.across_m[i]:.1f} m from the "
            f"left wall and {wall.up_m[j]:.1f} m up"
        )
    return "Front wall. " + "; ".join(sentences) + "."
