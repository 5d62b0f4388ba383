"""Small drawings: the five-bar tally, and a tape measure with a tick each 10 cm."""

from __future__ import annotations

from goodlength.errors import OutOfRange
from goodlength.show.draw.svg_primitives_and_themes import PAGE, DrawingTheme, drawing, num, path

_GATE = 23.0  # px from one gate of five to the next
_POST = 4.0  # px from one bar to the next
_TICK_M = 0.1
_LONG_EACH = 5  # each fifth tick, 50 cm, is longer


def tally(count: int, *, theme: DrawingTheme = PAGE) -> str:
    """Return five-bar gates, as a marker would count on paper; for "of 100 serves" only.

    Raises
    ------
    OutOfRange
        If `count` is below zero or above 200, which nobody can read as a tally.
    """
    if not 0 <= count <= 200:
        raise OutOfRange(
            f"Cannot draw a tally of {count}: 0 to 200 can be read. Write a larger figure as a number."
        )
    gates, rest = divmod(count, 5)
    d = ""
    for gate in range(gates + (rest > 0)):
        left = 1 + gate * _GATE
        bars = 4 if gate < gates else rest
        d += "".join(f"M{num(left + bar * _POST)} 1v12" for bar in range(bars))
        if gate < gates:
            d += f"M{num(left - 2.5)} 10.5L{num(left + 14.5)} 3.5"
    wide = max(4.0, gates * _GATE + rest * _POST) + 2
    body = path(theme, d, stroke="ink-2", thick=1.4, stroke_linecap="round") if d else ""
    return drawing(theme, wide, 14, body, str(count), view=(-2, 0, wide, 14))


def tape(
    theme: DrawingTheme,
    start: tuple[float, float],
    length: float,
    *,
    unit: float,
    upright: bool = False,
    tick: float = 90.0,
) -> str:
    """Return a tape line from `start`, to the right or up the sheet, with end bars and a tick each 10 cm.

    Parameters
    ----------
    length, tick : float
        In the drawing's own unit; `tick` is the length of a short tick (each fifth is longer;
        below zero: on the other side of the line).
    unit : float
        How many of the drawing's units are one metre.
    upright : bool
        True runs up the sheet (towards smaller y), False to the right.
    """
    x, y = start
    steps = int(length / (unit * _TICK_M) - 1e-6)
    strokes = [(at, -tick, 2 * tick) for at in (0.0, length)]
    small_strokes = [
        (n * unit * _TICK_M, 0.0, tick * (1.5 if n % _LONG_EACH == 0 else 1.0)) for n in range(1, steps + 1)
    ]

    def across(along: float, off: float, size: float) -> str:
        if upright:
            return f"M{num(x + off)} {num(y - along)}h{num(size)}"
        return f"M{num(x + along)} {num(y + off)}v{num(size)}"

    run = f"M{num(x)} {num(y)}" + (f"V{num(y - length)}" if upright else f"H{num(x + length)}")
    line = path(theme, run + "".join(across(*s) for s in strokes), stroke="ink", thick=abs(tick) * 0.27)
    small = "".join(across(*s) for s in small_strokes)
    return line + (path(theme, small, stroke="ink", thick=abs(tick) * 0.17) if small else "")
