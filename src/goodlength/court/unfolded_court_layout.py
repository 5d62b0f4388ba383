"""Scale layout of the unfolded court for drawings: floor in the middle, walls folded out flat.

```
                 ┌───────────┐  v = -z
                 │ front wall│
        ┌────────┼───────────┼────────┐  v = 0
 u = -z │  left  │   floor   │  right │ u = 6.40 + z
        └────────┼───────────┼────────┘  v = 9.75
                 │ back wall │
                 └───────────┘  v = 9.75 + z
```
Seen from above; u runs right and v down, both in metres. A contact with a wall is drawn at its true
height. Drawing rooms scale and style; nothing here knows colours or SVG.
"""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.court.dimensions import (
    BACK_OUT_M,
    BOX_M,
    BOX_REAR_M,
    FRONT_OUT_M,
    HALF_COURT_LEFT_M,
    HALF_COURT_RIGHT_M,
    LENGTH_M,
    LINE_M,
    SERVICE_LINE_M,
    SHORT_LINE_FRONT_M,
    SHORT_LINE_REAR_M,
    SIDE_LINE_TALL_M,
    TIN_M,
    WIDTH_M,
)
from goodlength.court.serve_and_return_legality import CourtSurface
from goodlength.errors import InputError

SheetPoint = tuple[float, float]
WALL_ABOVE_M = 0.43  # wall drawn above its out line; a real wall goes on


@dataclass(frozen=True)
class SheetShape:
    """A filled shape of the sheet; `what` is wall, floor, tin or line, `name` says which."""

    what: str
    name: str
    surface: CourtSurface
    points: tuple[SheetPoint, ...]


@dataclass(frozen=True)
class SheetLabel:
    """Words of the drawing and where they belong; `anchor` is start or end."""

    name: str
    words: str
    at: SheetPoint
    anchor: str


@dataclass(frozen=True)
class UnfoldedCourt:
    """The unfolded court: shapes in the order to draw them, folds, labels, and its bounds."""

    shapes: tuple[SheetShape, ...]
    folds: tuple[tuple[SheetPoint, ...], ...]
    labels: tuple[SheetLabel, ...]
    bounds: tuple[float, float, float, float]  # u0, v0, u1, v1


def to_sheet(surface: str, x_m: float, y_m: float, z_m: float) -> SheetPoint:
    """Return where on the sheet a point of the court is drawn, as seen on the given surface.

    Parameters
    ----------
    surface : Surface or its value
        The surface touched. `FLOOR` gives the trace from above, whatever the height.
    x_m, y_m, z_m : float
        The point in the court frame, m.

    Raises
    ------
    InputError
        If the surface has no place on the sheet.

    Examples
    --------
    >>> to_sheet(CourtSurface.FRONT, 3.1, 0.0, 4.0), to_sheet("left-side-wall", 0.0, 7.2, 2.25)
    ((3.1, -4.0), (-2.25, 7.2))
    """
    if surface in (CourtSurface.FRONT, CourtSurface.TIN):
        return x_m, -z_m
    if surface == CourtSurface.LEFT:
        return -z_m, y_m
    if surface == CourtSurface.RIGHT:
        return WIDTH_M + z_m, y_m
    if surface == CourtSurface.BACK:
        return x_m, LENGTH_M + z_m
    if surface == CourtSurface.FLOOR:
        return x_m, y_m
    known = ", ".join(s.value for s in CourtSurface if s is not CourtSurface.ABOVE)
    raise InputError(f"{str(surface)!r} has no place on the unfolded court, which shows: {known}.")


def riser_foot(surface: str, x_m: float, y_m: float) -> SheetPoint:
    """Return the point of the fold below a contact: where its dashed riser begins.

    Examples
    --------
    >>> riser_foot(CourtSurface.BACK, 0.8, 9.75)
    (0.8, 9.75)
    """
    return to_sheet(surface, x_m, y_m, 0.0)


def unfolded(tin: str = "standard") -> UnfoldedCourt:
    """Return the court on one sheet: walls, floor, tin, every line at its width, folds, labels, bounds.

    Parameters
    ----------
    tin : str
        "standard" (0.48 m) or "tour" (0.43 m).

    Source
    ------
    COURT-2014, appendix 7.1, through `court.dimensions`; the arrangement is ours.

    Examples
    --------
    >>> tuple(round(edge, 2) for edge in unfolded().bounds)
    (-5.0, -5.0, 11.4, 12.31)
    """
    if tin not in TIN_M:
        raise InputError(f"There is no tin {tin!r} here. It is 'standard' (0.48 m) or 'tour' (0.43 m).")
    front, back = FRONT_OUT_M + WALL_ABOVE_M, BACK_OUT_M + WALL_ABOVE_M
    return UnfoldedCourt(
        shapes=(*_faces(front, back), *_wall_lines(TIN_M[tin]), *_floor_lines()),
        folds=(((0.0, 0.0), (WIDTH_M, 0.0), (WIDTH_M, LENGTH_M), (0.0, LENGTH_M), (0.0, 0.0)),),
        labels=_labels(TIN_M[tin], front, back),
        bounds=(-front, -front, WIDTH_M + front, LENGTH_M + back),
    )


def _faces(front: float, back: float) -> tuple[SheetShape, ...]:
    """Return the four walls as far as they are drawn, and the floor."""
    return (
        SheetShape("wall", "front wall", CourtSurface.FRONT, _box(0.0, -front, WIDTH_M, 0.0)),
        _side("wall", "left wall", CourtSurface.LEFT, (0.0, front), (0.0, back)),
        _side("wall", "right wall", CourtSurface.RIGHT, (0.0, front), (0.0, back)),
        SheetShape("wall", "back wall", CourtSurface.BACK, _box(0.0, LENGTH_M, WIDTH_M, LENGTH_M + back)),
        SheetShape("floor", "floor", CourtSurface.FLOOR, _box(0.0, 0.0, WIDTH_M, LENGTH_M)),
    )


def _wall_lines(tin_m: float) -> tuple[SheetShape, ...]:
    """Tin, service line and out lines."""
    at_front, at_back = FRONT_OUT_M + SIDE_LINE_TALL_M, BACK_OUT_M + SIDE_LINE_TALL_M
    slope = ((FRONT_OUT_M, at_front), (BACK_OUT_M, at_back))
    return (
        SheetShape("tin", "tin", CourtSurface.TIN, _box(0.0, -tin_m, WIDTH_M, 0.0)),
        _across("tin", CourtSurface.TIN, tin_m - LINE_M),
        _across("service line", CourtSurface.FRONT, SERVICE_LINE_M),
        _across("front out line", CourtSurface.FRONT, FRONT_OUT_M),
        _side("line", "left out line", CourtSurface.LEFT, *slope),
        _side("line", "right out line", CourtSurface.RIGHT, *slope),
        _across("back out line", CourtSurface.BACK, BACK_OUT_M),
    )


def _floor_lines() -> tuple[SheetShape, ...]:
    """Short line, half-court line, and the two lines of each box."""
    inside, outside = BOX_M, BOX_M + LINE_M
    rear, rear_out = BOX_REAR_M, BOX_REAR_M + LINE_M
    top = SHORT_LINE_REAR_M
    left = ((inside, top), (outside, top), (outside, rear_out), (0.0, rear_out), (0.0, rear), (inside, rear))
    right = tuple((WIDTH_M - u, v) for u, v in left)
    return (
        SheetShape("line", "short line", CourtSurface.FLOOR, _box(0.0, SHORT_LINE_FRONT_M, WIDTH_M, top)),
        SheetShape(
            "line",
            "half-court line",
            CourtSurface.FLOOR,
            _box(HALF_COURT_LEFT_M, top, HALF_COURT_RIGHT_M, LENGTH_M),
        ),
        SheetShape("line", "left box", CourtSurface.FLOOR, left),
        SheetShape("line", "right box", CourtSurface.FLOOR, right),
    )


def _labels(tin_m: float, front: float, back: float) -> tuple[SheetLabel, ...]:
    """Return names of the surfaces, and heights beside the lines."""
    inset, label_x = 0.18, WIDTH_M + 0.16
    return (
        SheetLabel("front wall", "Front wall", (inset, -front - 0.2), "start"),
        SheetLabel("left wall", "Left wall", (-front, -0.25), "start"),
        SheetLabel("right wall", "Right wall", (WIDTH_M + front, -0.25), "end"),
        SheetLabel("back wall", "Back wall", (inset, LENGTH_M + back + 0.39), "start"),
        SheetLabel("floor", "Floor", (WIDTH_M - inset, LENGTH_M - 0.23), "end"),
        SheetLabel("front out line", f"out line, {FRONT_OUT_M:.2f} m", (label_x, -FRONT_OUT_M), "start"),
        SheetLabel(
            "service line",
            f"service line, {SERVICE_LINE_M:.2f} m",
            (label_x, -SERVICE_LINE_M),
            "start",
        ),
        SheetLabel("tin", f"tin, {tin_m:.2f} m", (label_x, -tin_m), "start"),
        SheetLabel(
            "back out line",
            f"out line, {BACK_OUT_M:.2f} m",
            (WIDTH_M - inset, LENGTH_M + BACK_OUT_M - 0.08),
            "end",
        ),
    )


def _box(u0: float, v0: float, u1: float, v1: float) -> tuple[SheetPoint, ...]:
    """Return a rectangle as its four corners."""
    return ((u0, v0), (u1, v0), (u1, v1), (u0, v1))


def _across(name: str, surface: CourtSurface, z_m: float) -> SheetShape:
    """Return a line over the whole front or back wall, lower edge at a height."""
    low, high = to_sheet(surface, 0.0, 0.0, z_m)[1], to_sheet(surface, 0.0, 0.0, z_m + LINE_M)[1]
    return SheetShape("line", name, surface, _box(0.0, min(low, high), WIDTH_M, max(low, high)))


def _side(
    what: str, name: str, surface: CourtSurface, front: tuple[float, float], back: tuple[float, float]
) -> SheetShape:
    """Return a strip of a side wall between two heights at the front wall and two at the back wall."""
    low0, high0 = front
    low1, high1 = back
    corners = ((0.0, low0), (0.0, high0), (LENGTH_M, high1), (LENGTH_M, low1))
    return SheetShape(what, name, surface, tuple(to_sheet(surface, 0.0, y, z) for y, z in corners))
