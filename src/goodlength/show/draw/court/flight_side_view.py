"""Side view of a flight: front wall at the left, back wall at the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from goodlength.court.dimensions import (
    BACK_OUT_M,
    FRONT_OUT_M,
    LENGTH_M,
    LINE_M,
    SERVICE_LINE_M,
    SHORT_LINE_FRONT_M,
    TIN_M,
)
from goodlength.show.draw.svg_primitives_and_themes import (
    DrawingTheme,
    num,
    path,
    polyline,
    shape,
    svg_text,
)

Flight = Sequence[tuple[float, float, float]]  # (x_m, y_m, z_m), in the order flown
_TALL_M = 4.75  # as high as the view is drawn


@dataclass(frozen=True)
class ReceiverReach:
    """Who receives, where, and how high the racket reaches there."""

    name: str
    x_m: float
    y_m: float
    reach_m: float | None = None


def side_fragment(
    theme: DrawingTheme,
    flight: Flight,
    receiver: ReceiverReach | None,
    *,
    corner: tuple[float, float],
    scale: float,
    size: float,
) -> str:
    """Return the side view as a part of a drawing: bottom left at `corner`, `scale` units a metre, text
    `size`.
    """
    left, floor = corner
    px = size / 13  # one pixel of the page, in the unit of the drawing

    def at(y_m: float, z_m: float) -> tuple[float, float]:
        return left + y_m * scale, floor - z_m * scale

    walls = polyline([at(0, _TALL_M - 0.08), at(0, 0), at(LENGTH_M, 0), at(LENGTH_M, BACK_OUT_M + 0.4)])
    body = path(theme, walls, stroke="rule-strong", thick=1.3 * px)
    for height in (FRONT_OUT_M + LINE_M / 2, SERVICE_LINE_M + LINE_M / 2, TIN_M["standard"]):
        u, v = at(0, height)
        body += path(theme, f"M{num(u)} {num(v)}h{num(5.6 * px)}", stroke="court-line", thick=2.6 * px)
    u, v = at(LENGTH_M, BACK_OUT_M + LINE_M / 2)
    body += path(theme, f"M{num(u)} {num(v)}h{num(-5.6 * px)}", stroke="court-line", thick=2.6 * px)
    u, v = at(SHORT_LINE_FRONT_M, 0)
    body += path(theme, f"M{num(u)} {num(v)}v{num(-4 * px)}", stroke="court-line", thick=2.6 * px)
    if receiver is not None and receiver.reach_m:
        u, v = at(receiver.y_m, receiver.reach_m)
        body += path(
            theme,
            f"M{num(u)} {num(floor)}V{num(v)}",
            stroke="side-b",
            thick=3 * px,
            dash=f"{num(6.4 * px)} {num(3.8 * px)}",
        )
        body += svg_text(theme, u, floor + size * 1.4, f"{receiver.name}’s reach", size=size, anchor="middle")
    if flight:
        line = polyline([at(y, z) for _, y, z in flight])
        body += path(theme, line, stroke="side-a", thick=2 * px, stroke_linejoin="round")
        start = at(flight[0][1], flight[0][2])
        body += shape(theme, "circle", fill="ink", cx=start[0], cy=start[1], r=3.3 * px)
    return body
