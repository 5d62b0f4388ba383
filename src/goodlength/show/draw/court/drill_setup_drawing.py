"""Drawing of a drill's set-up: the floor with numbered places, and a taped box on the front wall."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from goodlength.court import MARKED, SINGLES, CourtSurface, unfolded
from goodlength.court.dimensions import LENGTH_M, SERVICE_LINE_TOP_M, WIDTH_M
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

_EDGE = 2.0  # px round the drawing
_DISC = 9.0  # px, radius of a numbered place


class SpotLike(Protocol):
    """A place on the floor, and who or what is there."""

    @property
    def words(self) -> str: ...
    @property
    def x_m(self) -> float: ...
    @property
    def y_m(self) -> float: ...


class BoxLike(Protocol):
    """A box taped on the front wall, metres."""

    @property
    def left_m(self) -> float: ...
    @property
    def low_m(self) -> float: ...
    @property
    def wide_m(self) -> float: ...
    @property
    def tall_m(self) -> float: ...


def drill_floor(
    spots: Sequence[SpotLike], *, back_quarters: bool = False, wide: float = 150.0, theme: DrawingTheme = PAGE
) -> str:
    """Return the floor to scale, front wall at the top, each place a numbered disc in the order given.

    `back_quarters` draws a dashed edge round the floor behind the service boxes, where the ball should land.
    """
    scale = (wide - 2 * _EDGE) / WIDTH_M
    body = floor_ground(theme, scale)
    if back_quarters:
        for place in ("left-quarter", "right-quarter"):
            left, _, right, _ = MARKED[place]
            top = MARKED["left-box"][3] + SINGLES.line_width.value_m
            body += shape(
                theme,
                "rect",
                fill="none",
                stroke="ink",
                thick=2,
                dash="5 3",
                x=_EDGE + left * scale + 3,
                y=_EDGE + top * scale + 3,
                width=(right - left) * scale - 6,
                height=(LENGTH_M - top) * scale - 6,
            )
    for number, spot in enumerate(spots, start=1):
        x, y = _EDGE + spot.x_m * scale, _EDGE + spot.y_m * scale
        x = min(max(x, _EDGE + _DISC), wide - _EDGE - _DISC)
        body += shape(theme, "circle", fill="ink", cx=x, cy=y, r=_DISC)
        body += svg_text(theme, x, y + 4.6, str(number), ink="sheet", bold=True, anchor="middle")
    return drawing(theme, wide, LENGTH_M * scale + 2 * _EDGE, body, floor_words(spots, back_quarters))


def floor_words(spots: Sequence[SpotLike], back_quarters: bool = False) -> str:
    """Return the drawing in words.

    Examples
    --------
    >>> floor_words(())
    'Court floor to scale, front wall at the top.'
    """
    places_in_words = [
        f"{n} {s.words}, {_near(s.x_m)}, {s.y_m:.1f} m from the front wall" for n, s in enumerate(spots, 1)
    ]
    target = " The target is the floor behind the service boxes." if back_quarters else ""
    places = f" Places: {'; '.join(places_in_words)}." if places_in_words else ""
    return f"Court floor to scale, front wall at the top.{places}{target}"


def wall_box(box: BoxLike, *, wide: float = 216.0, theme: DrawingTheme = PAGE) -> str:
    """Return the front wall to scale with its lines and the taped box."""
    at = WallScale(wide)
    body = wall_ground(theme, at) + wall_tape(theme, at, box)
    return drawing(theme, wide, at.high, body, wall_words(box))


def wall_words(box: BoxLike) -> str:
    """Return where the tape goes, in words."""
    service = box.low_m - SERVICE_LINE_TOP_M
    height = f"its lower edge {abs(service):.2f} m {'above' if service >= 0 else 'below'} the service line"
    right = WIDTH_M - box.left_m - box.wide_m
    side = (
        f"{box.left_m:.2f} m from the left wall"
        if box.left_m <= right
        else f"{right:.2f} m from the right wall"
    )
    return (
        f"Taped box on the front wall, {box.wide_m:.2f} m wide and {box.tall_m:.2f} m tall, {height}, {side}."
    )


class WallScale:
    """From metres on the front wall to a drawing of a width in px, the floor at the bottom."""

    def __init__(self, wide: float) -> None:
        self.wide = wide
        self.px = (wide - 2 * _EDGE) / WIDTH_M
        self.top_m = SINGLES.front_out_line.value_m + SINGLES.line_width.value_m
        self.high = self.top_m * self.px + 2 * _EDGE

    def __call__(self, x_m: float, z_m: float) -> tuple[float, float]:
        """Return where a place on the wall is drawn."""
        return _EDGE + x_m * self.px, _EDGE + (self.top_m - z_m) * self.px


def wall_ground(theme: DrawingTheme, at: WallScale) -> str:
    """Return the front wall, its out line, service line and tin."""
    line = SINGLES.line_width.value_m
    body = shape(theme, "rect", fill="wall", x=_EDGE, y=_EDGE, width=WIDTH_M * at.px, height=at.top_m * at.px)
    for low, tall in (
        (SINGLES.front_out_line.value_m, line),
        (SINGLES.service_line.value_m, line),
        (SINGLES.tin.value_m - SINGLES.tin_band.value_m, SINGLES.tin_band.value_m),
    ):
        x, y = at(0.0, low + tall)
        body += shape(theme, "rect", fill="court-line", x=x, y=y, width=WIDTH_M * at.px, height=tall * at.px)
    frame = f"M{num(_EDGE)} {num(_EDGE)}H{num(at.wide - _EDGE)}V{num(at.high - _EDGE)}H{num(_EDGE)}Z"
    return body + path(theme, frame, stroke="ink-3", thick=1.5)


def wall_tape(theme: DrawingTheme, at: WallScale, box: BoxLike) -> str:
    """Return the taped box on the wall."""
    x, y = at(box.left_m, box.low_m + box.tall_m)
    return shape(
        theme,
        "rect",
        fill="none",
        stroke="ink",
        thick=2,
        x=x,
        y=y,
        width=box.wide_m * at.px,
        height=box.tall_m * at.px,
    )


def floor_ground(theme: DrawingTheme, scale: float) -> str:
    """Return the floor with its lines; `scale` is px a metre."""
    body = ""
    for part in unfolded().shapes:
        if part.surface is CourtSurface.FLOOR:
            corners = [(_EDGE + x * scale, _EDGE + y * scale) for x, y in part.points]
            token = "court-line" if part.what == "line" else part.what
            body += path(theme, polyline(corners, closed=True), fill=token)
    right, bottom = _EDGE + WIDTH_M * scale, _EDGE + LENGTH_M * scale
    return body + path(
        theme,
        f"M{num(_EDGE)} {num(_EDGE)}H{num(right)}V{num(bottom)}H{num(_EDGE)}Z",
        stroke="ink-3",
        thick=1.5,
    )


def _near(x_m: float) -> str:
    left = x_m <= WIDTH_M / 2
    return f"{min(x_m, WIDTH_M - x_m):.1f} m from the {'left' if left else 'right'} wall"
