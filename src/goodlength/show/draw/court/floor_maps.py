"""Maps of the court floor to scale, front wall at the top, with places, counts and proportions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from goodlength.court import MARKED, CourtSurface, unfolded
from goodlength.court.dimensions import BOX_REAR_M, LENGTH_M, LINE_M, MIDDLE_M, SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.languages import Language, language, to_translate
from goodlength.show.draw.font_metrics import lines
from goodlength.show.draw.proportion_charts import mark
from goodlength.show.draw.proportion_protocols_and_wording import ShareLike, count_words, share_words
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    polyline,
    shape,
    svg_text,
)

_EDGE = 2.0  # px round the floor
_OUTSIDE_M = 0.30  # a landing measured this far outside the floor is still drawn, at the wall
_BAR_WIDE = 74.0  # px, the range bar inside a region


class SpotMark(StrEnum):
    """How a place on the floor is marked."""

    WEAK = "weak"  # filled disc: the return was loose or not made
    GOOD = "good"  # open square: the return was tight, or attacked
    UNKNOWN = "unknown"  # small cross: what the return left is not recorded


@dataclass(frozen=True)
class FloorPoint:
    """A place on the floor, in the court frame (x from the left wall, y from the front wall)."""

    x_m: float
    y_m: float
    spot: SpotMark


@dataclass(frozen=True)
class FloorLine:
    """A way over the floor, m: A drawn through from a disc, B dashed from an open square."""

    way: Sequence[tuple[float, float]]
    side: str
    hits: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True)
class FloorWords:
    """A figure written into a region: one strong line, quiet lines under it, and perhaps a range bar."""

    place: str
    strong: str
    quiet: tuple[str, ...] = ()
    share: ShareLike | None = None


@dataclass(frozen=True)
class BoxServes:
    """What was served from one box; `weak` is the share of returns loose or not made."""

    served: int
    weak: ShareLike | None


# Left, top, right, bottom of each region words can go into, m. Below the boxes, a quarter is whole.
_REGIONS: Mapping[str, tuple[float, float, float, float]] = {
    "front-left": (0.0, 0.7, MIDDLE_M, 2.9),
    "front-right": (MIDDLE_M, 0.7, WIDTH_M, 2.9),
    "middle-left": (0.0, 2.9, MIDDLE_M, SHORT_LINE_FRONT_M - 0.6),
    "middle-right": (MIDDLE_M, 2.9, WIDTH_M, SHORT_LINE_FRONT_M - 0.6),
    "left-box": MARKED["left-box"],
    "right-box": MARKED["right-box"],
    "left-quarter": (0.0, BOX_REAR_M + LINE_M, MARKED["left-quarter"][2], LENGTH_M),
    "right-quarter": (MARKED["right-quarter"][0], BOX_REAR_M + LINE_M, WIDTH_M, LENGTH_M),
}

_ENGLISH = language("en")
_FROM_BOX = {"right": to_translate("from the right box"), "left": to_translate("from the left box")}
_SERVED_FROM = {
    "right": to_translate("From the right box {n} served; weak returns: {share}."),
    "left": to_translate("From the left box {n} served; weak returns: {share}."),
}
_LANDED = to_translate(
    "Court floor to scale, front wall at the top. {n} {serves} landed where marked: "
    "{weak} with a weak return (loose or missed), {good} returned well."
)
_LANDED_SOME_UNKNOWN = to_translate(
    "Court floor to scale, front wall at the top. {n} {serves} landed where marked: "
    "{weak} with a weak return (loose or missed), {good} returned well, "
    "{unknown} with the return not recorded."
)


def floor_map(
    *,
    label: str,
    points: Sequence[FloorPoint] = (),
    words: Sequence[FloorWords] = (),
    ways: Sequence[FloorLine] = (),
    side: str = "a",
    wide: float = 216.0,
    theme: DrawingTheme = PAGE,
    spoken: Language = _ENGLISH,
) -> str:
    """Return the floor with its lines to scale, marks where the points are, and words in the regions.

    Parameters
    ----------
    label : str
        The figures in words, for those who do not see the drawing.
    points : sequence of FloorPoint
        Places in metres; up to 30 cm outside the floor is drawn at the wall, as measured places err.
    words : sequence of FloorWords
        `place` is one of front-left, front-right, middle-left, middle-right, left-box, right-box,
        left-quarter, right-quarter.
    ways : sequence of FloorLine
        Ways players went, under all marks.
    wide : float
        Width of the whole drawing, px.

    Raises
    ------
    OutOfRange
        If a point lies off the court, or a place has no such name.
    """
    scale = (wide - 2 * _EDGE) / WIDTH_M
    body = _ground(theme, scale, spoken, named_line=not ways)  # tracks would cross the name
    for way in ways:
        body += _way(theme, scale, way)
    for point in points:
        body += _point(theme, scale, point, side)
    for word in words:
        body += _region(theme, scale, word, side)
    return drawing(theme, wide, LENGTH_M * scale + 2 * _EDGE, body, label)


def landing_map(
    points: Sequence[FloorPoint],
    *,
    served: str = "serves",
    from_right: int | None = None,
    from_left: int | None = None,
    wide: float = 216.0,
    side: str = "a",
    theme: DrawingTheme = PAGE,
    spoken: Language = _ENGLISH,
) -> str:
    """Return where the serves landed: filled disc where the return was loose or not made, open square
    where good.

    `from_right` and `from_left` are how many were served from each box; they land on the other side.
    """
    words = [
        FloorWords(place, f"{count} {served}", (spoken.phrase(_FROM_BOX[box]),))
        for place, box, count in (
            ("middle-left", "right", from_right),
            ("middle-right", "left", from_left),
        )
        if count
    ]
    counts = {spot: sum(p.spot is spot for p in points) for spot in SpotMark}
    values = {
        "n": len(points),
        "serves": served,
        "weak": counts[SpotMark.WEAK],
        "good": counts[SpotMark.GOOD],
        "unknown": counts[SpotMark.UNKNOWN],
    }
    label = spoken.phrase(_LANDED_SOME_UNKNOWN if counts[SpotMark.UNKNOWN] else _LANDED, **values)
    return floor_map(
        label=label, points=points, words=words, side=side, wide=wide, theme=theme, spoken=spoken
    )


def box_map(
    right: BoxServes | None,
    left: BoxServes | None,
    *,
    side: str = "a",
    wide: float = 216.0,
    theme: DrawingTheme = PAGE,
    spoken: Language = _ENGLISH,
) -> str:
    """Return how many serves came from each box, and how many returns were loose or not made.

    The share stands in the quarter the serve goes to, where the receiver returned it from.
    """
    words: list[FloorWords] = []
    sentences = [spoken.phrase("Court floor to scale, front wall at the top.")]
    for box, quarter, serves in (("right", "left", right), ("left", "right", left)):
        served = serves.served if serves else 0
        unit = spoken.phrase_of("serve", "serves", served)
        words.append(FloorWords(f"{box}-box", str(served), (unit,)))
        weak = serves.weak if serves else None
        if weak is not None and weak.of:
            quiet = (spoken.phrase("weak returns"), spoken.phrase(_FROM_BOX[box]))
            words.append(FloorWords(f"{quarter}-quarter", count_words(weak, spoken), quiet, weak))
        elif served:
            words.append(FloorWords(f"{quarter}-quarter", "", (spoken.phrase("returns not recorded"),)))
        none = spoken.phrase("not recorded") if served else spoken.phrase("none served")
        share = share_words(weak, none, spoken)
        sentences.append(spoken.phrase(_SERVED_FROM[box], n=served, share=share))
    label = " ".join(sentences)
    return floor_map(label=label, words=words, side=side, wide=wide, theme=theme, spoken=spoken)


def spot_key(spot: SpotMark, *, side: str = "a", theme: DrawingTheme = PAGE) -> str:
    """Return the small sample of a mark that stands in a key."""
    return drawing(theme, 12, 12, _mark(theme, spot, 6, 6, side), None)


def _ground(theme: DrawingTheme, scale: float, spoken: Language, *, named_line: bool) -> str:
    """Return the floor of the unfolded court with its lines, and the walls round it."""
    body = ""
    for part in unfolded().shapes:
        if part.surface is CourtSurface.FLOOR:
            corners = [(_EDGE + x * scale, _EDGE + y * scale) for x, y in part.points]
            token = "court-line" if part.what == "line" else part.what
            body += path(theme, polyline(corners, closed=True), fill=token)
    right, bottom = _EDGE + WIDTH_M * scale, _EDGE + LENGTH_M * scale
    frame = f"M{num(_EDGE)} {num(_EDGE)}H{num(right)}V{num(bottom)}H{num(_EDGE)}Z"
    body += path(theme, frame, stroke="ink-3", thick=1.5)
    middle = _EDGE + MIDDLE_M * scale
    body += svg_text(theme, middle, _EDGE + 17, spoken.phrase("front wall"), anchor="middle")
    if not named_line:
        return body
    y = _EDGE + SHORT_LINE_FRONT_M * scale - 6
    return body + svg_text(theme, middle, y, spoken.phrase("short line"), anchor="middle")


def _point(theme: DrawingTheme, scale: float, point: FloorPoint, side: str) -> str:
    x, y = point.x_m, point.y_m
    if not (-_OUTSIDE_M <= x <= WIDTH_M + _OUTSIDE_M and -_OUTSIDE_M <= y <= LENGTH_M + _OUTSIDE_M):
        raise OutOfRange(
            f"Cannot draw a landing at x {x:g} m, y {y:g} m: the floor runs from 0 to {WIDTH_M:g} m across "
            f"and 0 to {LENGTH_M:g} m from the front wall. Look at that rally's landing place again."
        )
    x, y = min(max(x, 0.0), WIDTH_M), min(max(y, 0.0), LENGTH_M)
    return _mark(theme, point.spot, _EDGE + x * scale, _EDGE + y * scale, side)


def _way(theme: DrawingTheme, scale: float, line: FloorLine) -> str:
    """Return one player's way, where it began, and a small ring at each of his hits."""

    def at(x: float, y: float) -> tuple[float, float]:
        return _EDGE + min(max(x, 0.0), WIDTH_M) * scale, _EDGE + min(max(y, 0.0), LENGTH_M) * scale

    if not line.way:
        return ""
    token, first = f"side-{line.side}", line.side == "a"
    body = path(
        theme,
        polyline([at(*pair) for pair in line.way]),
        stroke=token,
        thick=1.6,
        dash=None if first else "5 3",
    )
    for hit in line.hits:
        x, y = at(*hit)
        body += shape(theme, "circle", fill="sheet", stroke=token, thick=1.6, cx=x, cy=y, r=3.2)
    x, y = at(*line.way[0])
    return body + _mark(theme, SpotMark.WEAK if first else SpotMark.GOOD, x, y, line.side)


def _mark(theme: DrawingTheme, spot: SpotMark, x: float, y: float, side: str) -> str:
    if spot is SpotMark.WEAK:
        return shape(theme, "circle", fill=f"side-{side}", cx=x, cy=y, r=5.1)
    if spot is SpotMark.GOOD:
        stroke = "side-b" if side == "b" else "ink"
        left, top = x - 4.4, y - 4.4
        return shape(
            theme, "rect", fill="sheet", stroke=stroke, thick=1.9, x=left, y=top, width=8.8, height=8.8
        )
    cross = f"M{num(x - 3.6)} {num(y - 3.6)}l7.2 7.2M{num(x - 3.6)} {num(y + 3.6)}l7.2 -7.2"
    return path(theme, cross, stroke="ink-2", thick=1.9)


def _region(theme: DrawingTheme, scale: float, words: FloorWords, side: str) -> str:
    try:
        left, top, right, bottom = (_EDGE + v * scale for v in _REGIONS[words.place])
    except KeyError:
        raise OutOfRange(
            f"Cannot write into {words.place!r}: a region of the floor is one of {', '.join(_REGIONS)}."
        ) from None
    middle, room = (left + right) / 2, right - left - 10
    quiet = [line for part in words.quiet for line in lines(part, 13, room)]
    has_bar = words.share is not None and words.share.of > 0
    high = (18.0 if words.strong else 0.0) + 16.0 * len(quiet) + (20.0 if has_bar else 0.0)
    y = (top + bottom) / 2 - high / 2
    body = ""
    if words.strong:
        y += 18
        body += svg_text(theme, middle, y - 3, words.strong, size=15, ink="ink", bold=True, anchor="middle")
    if has_bar and words.share is not None:
        half = min(_BAR_WIDE, room) / 2
        y += 20
        body += path(
            theme,
            f"M{num(middle - half)} {num(y - 9)}H{num(middle + half)}",
            stroke="rule-strong",
            thick=1,
        )
        body += mark(
            theme,
            words.share,
            side,
            lambda share: middle - half + 2 * half * share,
            y=y - 9,
            radius=3.6,
        )
    for line in quiet:
        y += 16
        body += svg_text(theme, middle, y - 3, line, anchor="middle")
    return body
