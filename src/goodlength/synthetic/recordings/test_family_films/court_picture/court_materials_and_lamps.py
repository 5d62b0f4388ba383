"""A court's materials, lines, adverts, doors and lamps, packed as the compiled renderer takes them.

Colours are linear light, 0 to 1, as red, green, blue. What is painted on a surface is a list of rectangles in
that surface's own metres, later ones over earlier ones; the slanting out lines are the one exception.
All looks are ASSUMED, from what courts are built of; none is measured.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as dim

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]
FLOOR, FRONT, LEFT, RIGHT, BACK, CEILING, HALL_FLOOR, HALL, SURROUND = range(9)
SOLID, ADVERT, FRAME, DIRT = range(4)


@dataclass(frozen=True)
class PaintedRectangle:
    """A painted rectangle: surface, its span along the surface's two axes in metres, colours, kind, seed.

    Axes: floor and ceiling x, y; front and back wall x, z; side walls y, z.
    """

    surface: int
    span: tuple[float, float, float, float]
    colour: Colour
    kind: int = SOLID
    second: Colour = (0.0, 0.0, 0.0)
    seed: int = 0

    def row(self) -> list[float]:
        """Return the rectangle as the renderer's row."""
        return [self.surface, *self.span, *self.colour, self.kind, *self.second, self.seed]


@dataclass(frozen=True)
class CeilingLamp:
    """A flat lamp facing down: centre, half sizes in metres, light it sends, circuit 0 or 1."""

    centre: tuple[float, float, float]
    half: tuple[float, float]
    power: Colour
    circuit: int = 0

    def row(self) -> list[float]:
        """Return the lamp as the renderer's row."""
        return [*self.centre, *self.half, *self.power, self.circuit]


@dataclass(frozen=True)
class CourtScene:
    """Everything of a court that does not move."""

    floor: Colour
    walls: Colour
    ceiling: Colour
    hall: Colour
    line: Colour
    glass_walls: bool
    back_glass: bool
    back_height_m: float
    court_height_m: float
    glass_top_m: float
    glass_tint: Colour
    floor_reflectance: float
    floor_roughness: float
    glass_reflectance: float
    veil: float
    plank_m: float
    plank_contrast: float
    mark_density: float
    panel_m: float
    panel_contrast: float
    seed: int
    hall_floor_m: float
    ambient: float
    side_lines: bool
    back_line: bool
    lamps: tuple[CeilingLamp, ...]
    painted: tuple[PaintedRectangle, ...] = field(default=())
    other_courts: bool = False
    no_court: bool = False

    def parameters(self) -> Floats:
        """Return the renderer's parameters, in the order its indices name."""
        return np.array(
            [
                self.glass_walls,
                self.back_glass,
                self.back_height_m,
                self.court_height_m,
                self.glass_top_m,
                *self.floor,
                *self.walls,
                *self.ceiling,
                *self.hall,
                *self.glass_tint,
                self.floor_reflectance,
                self.floor_roughness,
                self.glass_reflectance,
                self.plank_m,
                self.plank_contrast,
                self.mark_density,
                self.panel_m,
                self.panel_contrast,
                self.seed,
                self.hall_floor_m,
                self.ambient,
                *self.line,
                self.side_lines,
                self.back_line,
                self.veil,
                self.other_courts,
                self.no_court,
            ],
            dtype=np.float64,
        )

    def lamp_rows(self) -> Floats:
        """Return the lamps, shape (n, 9)."""
        return np.array([lamp.row() for lamp in self.lamps], dtype=np.float64)

    def painted_rows(self) -> Floats:
        """Return the painted rectangles, shape (n, 13)."""
        return np.array([item.row() for item in self.painted], dtype=np.float64).reshape(-1, 13)


def singles_lines(
    wall_colour: Colour, floor_colour: Colour, tin_colour: Colour, tin_m: float
) -> list[PaintedRectangle]:
    """Return the lines of a singles court, on walls and floor, and its tin, as painted rectangles."""
    width, wide = dim.WIDTH_M, dim.LINE_M
    lines = [
        (FRONT, (0.0, width, dim.FRONT_OUT_M, dim.FRONT_OUT_M + wide)),
        (FRONT, (0.0, width, dim.SERVICE_LINE_M, dim.SERVICE_LINE_TOP_M)),
        (FLOOR, (0.0, width, dim.SHORT_LINE_FRONT_M, dim.SHORT_LINE_REAR_M)),
        (FLOOR, (dim.HALF_COURT_LEFT_M, dim.HALF_COURT_RIGHT_M, dim.SHORT_LINE_REAR_M, dim.LENGTH_M)),
    ]
    for mirrored in (False, True):
        for low, high, near, far in (
            (dim.BOX_M, dim.BOX_M + wide, dim.SHORT_LINE_REAR_M, dim.BOX_REAR_M + wide),
            (0.0, dim.BOX_M + wide, dim.BOX_REAR_M, dim.BOX_REAR_M + wide),
        ):
            across = (width - high, width - low) if mirrored else (low, high)
            lines.append((FLOOR, (*across, near, far)))
    tin = PaintedRectangle(FRONT, (0.0, width, 0.0, tin_m), tin_colour)
    band = PaintedRectangle(FRONT, (0.0, width, tin_m - wide, tin_m), wall_colour)
    colours = {FRONT: wall_colour, FLOOR: floor_colour}
    return [tin, band, *(PaintedRectangle(surface, span, colours[surface]) for surface, span in lines)]


def racketball_like_lines(colour: Colour) -> list[PaintedRectangle]:
    """Return the lines of another game on the same walls: two floor lines across, no boxes, no tin."""
    return [
        PaintedRectangle(FLOOR, (0.0, dim.WIDTH_M, 4.3, 4.35), colour),
        PaintedRectangle(FLOOR, (0.0, dim.WIDTH_M, 5.85, 5.9), colour),
        PaintedRectangle(FLOOR, (0.46, 0.51, 4.35, 5.85), colour),
        PaintedRectangle(FLOOR, (dim.WIDTH_M - 0.51, dim.WIDTH_M - 0.46, 4.35, 5.85), colour),
    ]
