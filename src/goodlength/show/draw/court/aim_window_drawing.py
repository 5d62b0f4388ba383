"""Drawing of the aim window on the front wall, with tape measures to find it.

All coordinates here are millimetres on the front wall as drawn (u to the right, v down from the floor).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from goodlength.court import CourtSurface, unfolded
from goodlength.court.dimensions import FRONT_OUT_M, LINE_M, SERVICE_LINE_M, SERVICE_LINE_TOP_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.show.draw.five_bar_tally_and_tape_measure_drawing import tape
from goodlength.show.draw.svg_primitives_and_themes import (
    DrawingTheme,
    num,
    path,
    polyline,
    svg_text,
)

MM = 1000.0
TEXT = 305.0  # mm of court: 13 px at the height the page draws it
BIG = 320.0
_TAPE_OFFSET_M = 1.05  # from the spot to the upright tape
_LEVEL_M = 2.50  # height at which the level tape runs, when the spot is well above it
_RINGS = ("aim-1", "aim-2", "aim-3")


@dataclass(frozen=True)
class WallWindow:
    """Where on the front wall to aim.

    `rings` run from the widest to the narrowest (at most three), each a closed line of (x_m, z_m): more
    of what is wanted happens further in. The box to tape is `wide_m` by `tall_m` round the spot.
    """

    x_m: float
    z_m: float
    rings: tuple[tuple[tuple[float, float], ...], ...] = ()
    wide_m: float = 0.0
    tall_m: float = 0.0

    @property
    def above_m(self) -> float:
        """Height above the top edge of the service line, which a serve must clear."""
        return self.z_m - SERVICE_LINE_TOP_M

    @property
    def from_right(self) -> bool:
        """Whether the right wall is the nearer one to measure from."""
        return self.x_m > WIDTH_M / 2

    @property
    def along_m(self) -> float:
        """Distance from the nearer side wall."""
        return WIDTH_M - self.x_m if self.from_right else self.x_m

    @property
    def words(self) -> str:
        """The spot as one would find it with a tape."""
        wall = "right" if self.from_right else "left"
        line = f"{abs(self.above_m):.2f} m {'above' if self.above_m >= 0 else 'below'} the service line"
        return f"{line} and {self.along_m:.2f} m from the {wall} wall"


def check_window(window: WallWindow) -> None:
    """Refuse a spot that is not on the front wall, or more rings than can be told apart."""
    if not (0.0 <= window.x_m <= WIDTH_M and 0.0 <= window.z_m <= FRONT_OUT_M):
        raise OutOfRange(
            f"Cannot tape a spot {window.x_m:g} m from the left wall and {window.z_m:g} m up: the front wall "
            f"runs from 0 to {WIDTH_M:g} m and is in play to {FRONT_OUT_M:g} m. Calculate the target again."
        )
    if len(window.rings) > len(_RINGS):
        raise OutOfRange(f"Cannot draw {len(window.rings)} rings: three at most can be told apart.")


def rings(theme: DrawingTheme, window: WallWindow, thick: float = 14.0) -> str:
    """Return the rings of the window, the widest first, each edged so that it is seen without colour."""
    tokens = _RINGS[-len(window.rings) :] if window.rings else ()
    return "".join(
        path(
            theme,
            polyline([(x * MM, -z * MM) for x, z in ring], closed=True),
            fill=token,
            stroke="ink",
            thick=thick,
        )
        for token, ring in zip(tokens, window.rings, strict=True)
    )


def taped_box(theme: DrawingTheme, window: WallWindow, thick: float = 40.0, dash: str | None = None) -> str:
    """Return the box to tape round the spot; nothing where no size is given."""
    if window.wide_m <= 0 or window.tall_m <= 0:
        return ""
    left, top = (window.x_m - window.wide_m / 2) * MM, -(window.z_m + window.tall_m / 2) * MM
    wide, tall = num(window.wide_m * MM), num(window.tall_m * MM)
    d = f"M{num(left)} {num(top)}h{wide}v{tall}h-{wide}Z"
    return path(theme, d, stroke="ink", thick=thick, dash=dash)


def words_middle(window: WallWindow) -> float:
    """Return where the words beside the upright tape are centred, mm: never down on the service line."""
    foot = -SERVICE_LINE_TOP_M * MM
    return min((foot - window.z_m * MM) / 2, foot - 640)


def tapes(theme: DrawingTheme, window: WallWindow, *, brief: float = 0.0) -> str:
    """Return an upright tape from the service line's top edge to the spot, and a level one from the
    nearer wall.

    `brief` above zero writes the two lengths alone, at that size of type.
    """
    if window.above_m <= 0:
        return ""  # under the service line no serve is good: nothing to tape from it
    flip = -1.0 if window.from_right else 1.0
    spot_u, spot_v = window.x_m * MM, -window.z_m * MM
    up_u, foot = spot_u + flip * _TAPE_OFFSET_M * MM, -SERVICE_LINE_TOP_M * MM
    body = tape(theme, (up_u, foot), window.above_m * MM, unit=MM, upright=True, tick=flip * 100)
    join = f"M{num(spot_u + flip * 330)} {num(spot_v)}H{num(up_u - flip * 130)}"
    body += path(theme, join, stroke="ink", thick=16, dash="60 60")
    words = [f"{window.above_m:.2f} m", "above the", "service line"]
    middle = min((foot + spot_v) / 2 + 250, foot + 70) if brief else words_middle(window)
    body += _length_label(
        theme, words, (up_u + flip * 250, middle - 150), brief, "end" if flip < 0 else "start"
    )
    return body + _level_tape(theme, window, brief)


def _length_label(
    theme: DrawingTheme, words: Sequence[str], at: tuple[float, float], brief: float, anchor: str
) -> str:
    """Return a length in bold and quieter lines under it; the length alone where the drawing is brief."""
    u, v = at
    body = svg_text(
        theme, u, v, words[0], size=brief or BIG, ink="ink", bold=True, anchor=anchor, halo="wall"
    )
    for n, line in enumerate(() if brief else words[1:], start=1):
        body += svg_text(theme, u, v + n * 350, line, size=TEXT, anchor=anchor, halo="wall")
    return body


def _level_tape(theme: DrawingTheme, window: WallWindow, brief: float) -> str:
    """From the nearer side wall to the spot's upright, at a height that keeps clear of the spot."""
    height = _LEVEL_M if window.z_m > _LEVEL_M + 0.7 else min(window.z_m + 0.7, FRONT_OUT_M - 0.8)
    v = -height * MM
    left = window.x_m * MM if window.from_right else 0.0
    body = tape(theme, (left, v), window.along_m * MM, unit=MM, tick=90)
    wall = "right" if window.from_right else "left"
    at, side = (WIDTH_M * MM - 160, "end") if window.from_right else (160.0, "start")
    words = [f"{window.along_m:.2f} m", f"from the {wall} wall"]
    return body + _length_label(theme, words, (at, v - (190 if brief else 540)), brief, side)


def wall_faces(theme: DrawingTheme, surfaces: Sequence[CourtSurface]) -> str:
    """Return the shapes of the unfolded court on these surfaces, in the order to draw them."""
    tokens = {"wall": "wall", "floor": "floor", "tin": "rule", "line": "court-line"}
    return "".join(
        path(
            theme,
            polyline([(u * MM, v * MM) for u, v in part.points], closed=True),
            fill=tokens[part.what],
        )
        for part in unfolded().shapes
        if part.surface in surfaces
    )


def window_large(
    theme: DrawingTheme, window: WallWindow, corner: tuple[float, float], size: tuple[float, float]
) -> str:
    """Return the window enlarged inside a rectangle: rings, box, its size, and how far the nearest line is.

    Parameters
    ----------
    corner, size : (float, float)
        Top left of the rectangle and its extent, in the drawing's mm.
    """
    left, top = corner
    wide, high = size
    zoom = _zoom_for(window, wide, high)
    middle_u, middle_v = _middle_u(window, zoom, left, wide), _middle_v(window, zoom, top, high)
    shifted = _zoomed(window, zoom, (middle_u, middle_v))
    body = rings(theme, shifted, 16) + taped_box(theme, shifted, 40, "160 70")
    body += path(
        theme,
        f"M{num(middle_u - 120)} {num(middle_v)}h240M{num(middle_u)} {num(middle_v - 120)}v240",
        stroke="ink",
        thick=36,
    )
    body += _nearest_line(theme, window, zoom, (middle_u, middle_v), (left, top, wide, high))
    if window.wide_m > 0 and window.tall_m > 0:
        at = middle_u + max(window.wide_m * zoom * MM / 2, _reach(shifted, middle_u)) + 200
        tall = window.tall_m * zoom * MM
        body += tape(theme, (at, middle_v + tall / 2), tall, unit=MM * zoom, upright=True, tick=100)
        body += svg_text(theme, at + 190, middle_v - 40, f"tape {window.wide_m * 100:.0f} cm", size=TEXT)
        body += svg_text(theme, at + 190, middle_v + 310, f"by {window.tall_m * 100:.0f} cm", size=TEXT)
    return body


_SIZE_WORDS_MM = 2020.0  # mm of the drawing that the box's size needs at the right


def _sides(window: WallWindow) -> tuple[float, float, float]:
    """Return how far rings and box reach to the left, to the right, and up or down of the spot, mm of
    wall.
    """
    places = [pair for ring in window.rings for pair in ring]
    half = max(window.wide_m / 2, 0.1)
    left = max([window.x_m - x for x, _ in places] + [half])
    right = max([x - window.x_m for x, _ in places] + [half])
    up = max([abs(z - window.z_m) for _, z in places] + [window.tall_m / 2, 0.2])
    return left * MM, right * MM, up * MM


def _zoom_for(window: WallWindow, wide: float, high: float) -> float:
    """As large as the rings and the box leave room for, at most 2.25 times."""
    left, right, up = _sides(window)
    return min(2.25, (wide - _SIZE_WORDS_MM - 100) / (left + right), high * 0.46 / up)


def _middle_u(window: WallWindow, zoom: float, left: float, wide: float) -> float:
    """Return where the spot stands in the enlarged view: words at the right and rings at the left keep
    inside.
    """
    before, after, _ = _sides(window)
    return max(min(left + wide * 0.42, left + wide - _SIZE_WORDS_MM - after * zoom), left + before * zoom)


def _middle_v(window: WallWindow, zoom: float, top: float, high: float) -> float:
    """Return height of the spot in the enlarged view: so that the nearest line is seen too, where it can
    be.
    """
    heights = [z for ring in window.rings for _, z in ring] or [window.z_m]
    up, down = (abs(window.z_m - z) * MM * zoom for z in (max(heights), min(heights)))
    over = (FRONT_OUT_M + LINE_M - window.z_m) * MM * zoom + 60
    under = (window.z_m - SERVICE_LINE_M) * MM * zoom + 60
    if over > 0 and over + down + 60 <= high:
        return top + max(over, up)
    if under > 0 and under + up + 60 <= high:
        return top + high - max(under, down)
    return top + high / 2


def _reach(window: WallWindow, middle_u: float) -> float:
    """Return how far the rings reach to the right of the middle, mm."""
    return max((x * MM - middle_u for ring in window.rings for x, _ in ring), default=0.0)


def _zoomed(window: WallWindow, zoom: float, middle: tuple[float, float]) -> WallWindow:
    """Return the same window, enlarged and moved so that its spot lies at `middle` (mm)."""
    at_x, at_z = middle[0] / MM, -middle[1] / MM

    def moved(x: float, z: float) -> tuple[float, float]:
        return at_x + (x - window.x_m) * zoom, at_z + (z - window.z_m) * zoom

    return WallWindow(
        at_x,
        at_z,
        tuple(tuple(moved(x, z) for x, z in ring) for ring in window.rings),
        window.wide_m * zoom,
        window.tall_m * zoom,
    )


def _nearest_line(
    theme: DrawingTheme,
    window: WallWindow,
    zoom: float,
    middle: tuple[float, float],
    inside: tuple[float, float, float, float],
) -> str:
    """Return the out line above or the service line below, if it comes into the enlarged view."""
    left, top, wide, high = inside
    u, v = middle
    for name, edge_m, line_m in (
        ("out line", FRONT_OUT_M, FRONT_OUT_M + LINE_M / 2),
        ("service line", SERVICE_LINE_TOP_M, SERVICE_LINE_M + LINE_M / 2),
    ):
        line_v = v - (line_m - window.z_m) * MM * zoom
        if not top <= line_v <= top + high:
            continue
        edge_v = v - (edge_m - window.z_m) * MM * zoom
        body = path(
            theme,
            f"M{num(left + 300)} {num(line_v)}H{num(left + wide * 0.6)}",
            stroke="court-line",
            thick=LINE_M * MM * zoom,
        )
        body += svg_text(theme, left + wide, line_v + 100, name, size=TEXT, anchor="end")
        gap = abs(window.z_m - edge_m)
        at = left + 700
        body += tape(theme, (at, max(edge_v, v)), abs(v - edge_v), unit=MM * zoom, upright=True, tick=100)
        body += path(theme, f"M{num(at + 140)} {num(v)}H{num(u - 200)}", stroke="ink", thick=16, dash="60 60")
        body += svg_text(
            theme, at - 160, (v + edge_v) / 2 + 100, f"{gap * 100:.0f} cm", size=TEXT, anchor="end"
        )
        return body
    return ""
