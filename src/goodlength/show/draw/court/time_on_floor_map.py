"""Map of the floor in shades: where a player spent half of the time, three quarters, and 95 of 100."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.show.draw.court.drill_setup_drawing import floor_ground
from goodlength.show.draw.svg_primitives_and_themes import PAGE, DrawingTheme, drawing, num, path, shape

_EDGE = 2.0  # px round the floor
SHADES = ("0.8", "0.45", "0.2")  # opacity of each part, the innermost first


def time_on_floor_map(
    part: Sequence[Sequence[int]],
    side: str,
    *,
    label: str,
    wide: float = 180.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return the floor with its cells shaded by the part of the time they belong to, front wall at the top.

    Parameters
    ----------
    part : sequence of rows of int
        0 for the darkest shade, 1, 2; a higher number is left blank. The first row lies at the front wall.
    side : "a" or "b"
    label : str
        The drawing in words.

    Raises
    ------
    OutOfRange
        There is no cell, or rows differ in length.
    """
    if not part or not len(part[0]) or len({len(row) for row in part}) > 1:
        raise OutOfRange("Cannot shade the floor: give rows of cells, all of one length, at least one cell.")
    scale = (wide - 2 * _EDGE) / WIDTH_M
    right, bottom = WIDTH_M * scale / len(part[0]), LENGTH_M * scale / len(part)
    body = floor_ground(theme, scale)
    for shade, opacity in enumerate(SHADES):
        cells = ""
        for row, values in enumerate(part):
            column = 0
            for value, run in groupby(values):
                length = len(list(run))
                if value == shade:
                    x, y = _EDGE + column * right, _EDGE + row * bottom
                    across = f"{num(round(x, 1))} {num(round(y, 1))}h{num(round(length * right, 1))}"
                    cells += f"M{across}v{num(round(bottom, 2))}h-{num(round(length * right, 1))}z"
                column += length
        if cells:
            body += path(theme, cells, fill=f"side-{side}", opacity=opacity)
    x, y = (_EDGE + metres * scale for metres in T_M)
    body += shape(theme, "circle", fill="none", stroke="ink", thick=1.4, cx=x, cy=y, r=5)
    return drawing(theme, wide, LENGTH_M * scale + 2 * _EDGE, body, label)


def shade_key(shade: int, side: str, *, theme: DrawingTheme = PAGE) -> str:
    """Return the small sample of a shade that stands in a key."""
    square = path(theme, "M0 0h12v12h-12z", fill=f"side-{side}", opacity=SHADES[shade])
    return drawing(theme, 12, 12, square, None)
