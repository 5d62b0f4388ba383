"""Overlay the coach's lines, arrows and angles on a frame when a video is rendered.

Points are shares of the picture, across and down. Light lines on a dark case are seen on any picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np
from PIL import Image, ImageDraw, ImageFont

POINTS = {"line": 2, "arrow": 2, "angle": 3}
INK, CASE = "#F4D03F", "#101417"
WIDTH, ARC, TIP, LETTERS = 3, 34, 18, 24  # px of a picture 540 high
Picture = np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]


@dataclass(frozen=True)
class OverlayLine:
    """One thing drawn: a line, an arrow (its tip last) or an angle (its corner in the middle).

    `points` are (across, down) as shares of the picture, 0 to 1, as seen: turned over where it is.
    """

    kind: str
    points: tuple[tuple[float, float], ...]


class OverlayLineForm(TypedDict):
    """A line as a job is given it: checked before."""

    kind: str
    points: list[tuple[float, float]]


def overlay_line_of(fields: OverlayLineForm) -> OverlayLine:
    """Return a line from its JSON."""
    return OverlayLine(fields["kind"], tuple((float(x), float(y)) for x, y in fields["points"]))


def angle_deg(
    a: Sequence[float], corner: Sequence[float], b: Sequence[float], wide: float, high: float
) -> float:
    """Return the angle drawn, in the picture's plane, in degrees 0 to 180.

    Parameters
    ----------
    a, corner, b : (float, float)
        Shares of the picture.
    wide, high : float
        Of the picture, px; only their ratio counts.

    Limits
    ------
    It is the angle in the picture, not that of the body: what points towards the camera looks shorter.

    Examples
    --------
    >>> round(angle_deg((0.5, 0.0), (0.5, 0.5), (1.0, 0.5), 100, 100))
    90
    >>> round(angle_deg((0.0, 0.5), (0.5, 0.5), (1.0, 0.5), 160, 90))
    180
    """
    pair = ((a[0] - corner[0]) * wide, (a[1] - corner[1]) * high)
    two = ((b[0] - corner[0]) * wide, (b[1] - corner[1]) * high)
    turn = math.atan2(pair[0] * two[1] - pair[1] * two[0], pair[0] * two[0] + pair[1] * two[1])
    return abs(math.degrees(turn))


def burn_in(picture: Picture, lines: Sequence[OverlayLine], font: str | None = None) -> Picture:
    """Return the picture with everything drawn on it, a new one; an angle says its degrees, "in the picture".

    Parameters
    ----------
    picture : ndarray, shape (height, width, 3)
        RGB.
    font : str, optional
        A TrueType file for the degrees.
    """
    high, wide = picture.shape[:2]
    scale = high / 540
    sheet = Image.fromarray(picture)
    pen = ImageDraw.Draw(sheet)
    size = max(11, round(LETTERS * scale))
    letters = ImageFont.truetype(font, size) if font else ImageFont.load_default(size)
    for line in lines:
        points = [(x * (wide - 1), y * (high - 1)) for x, y in line.points]
        for colour, more in ((CASE, 4), (INK, 0)):
            thick = max(1, round((WIDTH + more) * scale))
            pen.line(points, fill=colour, width=thick, joint="curve")
            if line.kind == "arrow":
                pen.line(_tip(points[0], points[1], TIP * scale), fill=colour, width=thick, joint="curve")
            elif line.kind == "angle":
                box, begin, end = _arc(points, ARC * scale)
                pen.arc(box, begin, end, fill=colour, width=thick)
        if line.kind == "angle":
            pair, corner, two = line.points
            words = f"{angle_deg(pair, corner, two, wide, high):.0f}°"
            x, y = points[1]
            at = (
                min(max(4.0, x + ARC * scale), wide - 3.0 * size),
                min(max(4.0, y - 1.6 * size), high - 1.5 * size),
            )
            left, top, right, bottom = pen.textbbox(at, words, font=letters)
            pen.rectangle((left - 4, top - 3, right + 4, bottom + 3), fill=CASE)
            pen.text(at, words, fill=INK, font=letters)
    return np.asarray(sheet, np.uint8)


def _tip(a: tuple[float, float], b: tuple[float, float], long: float) -> list[tuple[float, float]]:
    """Return both barbs of an arrow from a to b, through b."""
    away = math.atan2(a[1] - b[1], a[0] - b[0])
    first, last = (
        (b[0] + long * math.cos(away + by), b[1] + long * math.sin(away + by)) for by in (0.45, -0.45)
    )
    return [first, b, last]


def _arc(
    points: Sequence[tuple[float, float]], radius: float
) -> tuple[tuple[float, float, float, float], float, float]:
    """Return the box and both ends, in degrees clockwise from the right, of the smaller arc at the corner."""
    (ax, ay), (x, y), (bx, by) = points
    value, two = (math.degrees(math.atan2(v - y, u - x)) % 360 for u, v in ((ax, ay), (bx, by)))
    if (two - value) % 360 > 180:
        value, two = two, value
    return (x - radius, y - radius, x + radius, y + radius), value, value + (two - value) % 360
