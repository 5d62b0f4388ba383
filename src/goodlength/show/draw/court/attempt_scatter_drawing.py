"""Scale drawing of attempts: each ball, the aim, the mean, and the prediction ellipse."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.show.draw.court.drill_setup_drawing import (
    BoxLike,
    WallScale,
    floor_ground,
    wall_ground,
    wall_tape,
)
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    polyline,
    shape,
)

Point = tuple[float, float]
_EDGE = 2.0


class EllipseLike(Protocol):
    """Half axes in metres and the angle of the longer from the first coordinate."""

    @property
    def major_m(self) -> float: ...
    @property
    def minor_m(self) -> float: ...
    @property
    def angle_deg(self) -> float: ...


def scatter_on_wall(
    places: Sequence[Point],
    *,
    hollow: Sequence[Point] = (),
    aim: Point | None = None,
    middle: Point | None = None,
    next_ball: EllipseLike | None = None,
    box: BoxLike | None = None,
    label: str,
    wide: float = 320.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return the front wall with the balls on it: dots, and small circles for those of `hollow`; aim: cross;
    middle: ring; dashed: 95 in 100 next balls.
    """
    at = WallScale(wide)
    body = wall_ground(theme, at) + (wall_tape(theme, at, box) if box else "")
    body += _circles(theme, [at(*p) for p in hollow])
    body += _marks(
        theme, [at(*p) for p in places], at(*aim) if aim else None, at(*middle) if middle else None
    )
    if middle and next_ball:
        body += _ellipse(theme, [at(*p) for p in ellipse_points(middle, next_ball)])
    return drawing(theme, wide, at.high, body, label)


def scatter_on_floor(
    places: Sequence[Point],
    *,
    hollow: Sequence[Point] = (),
    aim: Point | None = None,
    middle: Point | None = None,
    next_ball: EllipseLike | None = None,
    label: str,
    wide: float = 220.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return the floor with the balls on it, front wall at the top; marks as on the wall."""
    scale = (wide - 2 * _EDGE) / WIDTH_M

    def at(x_m: float, y_m: float) -> Point:
        return _EDGE + x_m * scale, _EDGE + y_m * scale

    body = floor_ground(theme, scale)
    body += _circles(theme, [at(*p) for p in hollow])
    body += _marks(
        theme, [at(*p) for p in places], at(*aim) if aim else None, at(*middle) if middle else None
    )
    if middle and next_ball:
        body += _ellipse(theme, [at(*p) for p in ellipse_points(middle, next_ball)])
    return drawing(theme, wide, LENGTH_M * scale + 2 * _EDGE, body, label)


def ellipse_points(middle: Point, ellipse: EllipseLike, corners: int = 72) -> list[Point]:
    """Return points round an ellipse, in the frame of its middle."""
    turn = math.radians(ellipse.angle_deg)
    points = []
    for k in range(corners):
        t = 2 * math.pi * k / corners
        a, b = ellipse.major_m * math.cos(t), ellipse.minor_m * math.sin(t)
        points.append(
            (
                middle[0] + a * math.cos(turn) - b * math.sin(turn),
                middle[1] + a * math.sin(turn) + b * math.cos(turn),
            )
        )
    return points


def _marks(theme: DrawingTheme, places: Sequence[Point], aim: Point | None, middle: Point | None) -> str:
    body = "".join(shape(theme, "circle", fill="side-a", cx=x, cy=y, r=3.2) for x, y in places)
    if aim:
        x, y = aim
        cross = f"M{num(x - 7)} {num(y)}h14M{num(x)} {num(y - 7)}v14"
        body += path(theme, cross, stroke="ink", thick=2.2)
    if middle:
        body += shape(theme, "circle", fill="none", stroke="ink", thick=2, cx=middle[0], cy=middle[1], r=6)
    return body


def _circles(theme: DrawingTheme, places: Sequence[Point]) -> str:
    return "".join(
        shape(theme, "circle", fill="none", stroke="side-a", thick=1.6, cx=x, cy=y, r=2.8) for x, y in places
    )


def _ellipse(theme: DrawingTheme, points: Sequence[Point]) -> str:
    return path(theme, polyline(points, closed=True), stroke="ink-2", thick=1.6, dash="5 4")
