"""Overlay what the coach drew on a frame when a video is rendered.

Points are shares of the picture, across and down. Light lines on a dark case are seen on any picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NotRequired, TypedDict

import numpy as np
from PIL import Image, ImageDraw, ImageFont

POINTS = {"line": 2, "arrow": 2, "angle": 3}
INK, CASE = "#F4D03F", "#101417"
SHADE = 0.62  # of CASE over what lies outside a spotlight
WIDTH, ARC, TIP, LETTERS = 3, 34, 18, 24  # px of a picture 540 high
HOLD_S = 2  # how long a film stands still at a frame that is drawn on; ASSUMED
Letters = ImageFont.FreeTypeFont | ImageFont.ImageFont
Place = tuple[float, float]
Picture = np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]


@dataclass(frozen=True)
class OverlayLine:
    """One thing drawn: a line, an arrow (its tip last), an angle (its corner in the middle), a circle or
    spotlight (centre, rim), freehand (a path) or a text.

    `points` are (across, down) as shares of the picture, 0 to 1, as seen: turned over where it is. `at_us` is
    a media time inside the frame it is drawn on; None where the frame is known without.
    """

    kind: str
    points: tuple[Place, ...]
    text: str = ""
    at_us: int | None = None


class OverlayLineForm(TypedDict):
    """A line as a job is given it: checked before."""

    kind: str
    points: list[Place]
    text: NotRequired[str]
    at_us: NotRequired[int | None]


def overlay_line_of(fields: OverlayLineForm) -> OverlayLine:
    """Return a line from its JSON."""
    points = tuple((float(x), float(y)) for x, y in fields["points"])
    return OverlayLine(fields["kind"], points, fields.get("text", ""), fields.get("at_us"))


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
    lit = picture
    for line in lines:
        if line.kind == "spotlight":
            lit = _shaded(lit, _placed(line, wide, high))
    sheet = Image.fromarray(lit)
    pen = ImageDraw.Draw(sheet)
    size = max(11, round(LETTERS * scale))
    letters = ImageFont.truetype(font, size) if font else ImageFont.load_default(size)
    for line in lines:
        points = _placed(line, wide, high)
        for colour, more in ((CASE, 4), (INK, 0)):
            _stroke(pen, line.kind, points, colour, max(1, round((WIDTH + more) * scale)), scale)
        if line.kind == "angle":
            x, y = points[1]
            at = (min(x + ARC * scale, wide - 3.0 * size), min(y - 1.6 * size, high - 1.5 * size))
            first, corner, last = line.points
            _plate(pen, at, f"{angle_deg(first, corner, last, wide, high):.0f}°", letters)
        elif line.kind == "text":
            x, y = points[0]
            at = (min(x, wide - 8 - pen.textlength(line.text, font=letters)), min(y, high) - 1.5 * size)
            _plate(pen, at, line.text, letters)
    return np.asarray(sheet, np.uint8)


def _placed(line: OverlayLine, wide: int, high: int) -> list[Place]:
    return [(x * (wide - 1), y * (high - 1)) for x, y in line.points]


def _stroke(
    pen: ImageDraw.ImageDraw, kind: str, points: Sequence[Place], colour: str, thick: int, scale: float
) -> None:
    if kind in ("text", "spotlight"):
        return
    if kind == "circle":
        pen.ellipse(_round(points[0], math.dist(points[0], points[-1])), outline=colour, width=thick)
        return
    pen.line(list(points), fill=colour, width=thick, joint="curve")
    if kind == "arrow":
        pen.line(_tip(points[0], points[-1], TIP * scale), fill=colour, width=thick, joint="curve")
    elif kind == "angle":
        box, begin, end = _arc(points, ARC * scale)
        pen.arc(box, begin, end, fill=colour, width=thick)


def _plate(pen: ImageDraw.ImageDraw, at: Place, words: str, letters: Letters) -> None:
    """Words on a dark plate, moved in at the left and the top."""
    inside = max(4.0, at[0]), max(4.0, at[1])
    left, top, right, bottom = pen.textbbox(inside, words, font=letters)
    pen.rectangle((left - 4, top - 3, right + 4, bottom + 3), fill=CASE)
    pen.text(inside, words, fill=INK, font=letters)


def _shaded(picture: Picture, points: Sequence[Place]) -> Picture:
    """Return the picture with everything outside a spotlight in the shade."""
    sheet = Image.fromarray(picture)
    mask = Image.new("L", sheet.size, round(255 * SHADE))
    radius = max(4.0, math.dist(points[0], points[-1]))
    ImageDraw.Draw(mask).ellipse(_round(points[0], radius), fill=0)
    return np.asarray(Image.composite(Image.new("RGB", sheet.size, CASE), sheet, mask), np.uint8)


def _round(centre: Place, radius: float) -> tuple[float, float, float, float]:
    (x, y) = centre
    return x - radius, y - radius, x + radius, y + radius


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
