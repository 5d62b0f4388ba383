"""Lines of the court as a detector sees them: painted stripes and joins of surfaces, in metres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import (
    BACK_OUT_M,
    BOX_M,
    BOX_REAR_M,
    FRONT_OUT_M,
    LENGTH_M,
    LINE_M,
    MIDDLE_M,
    SERVICE_LINE_M,
    SHORT_LINE_FRONT_M,
    SHORT_LINE_REAR_M,
    TIN_M,
    WIDTH_M,
)

Floats = NDArray[np.float64]
_HALF = LINE_M / 2
CORNER_TOP_M = 5.2  # how far up the joins of the front wall are looked for; ASSUMED
ACROSS, ALONG, UP = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


@dataclass(frozen=True)
class WireframeLine:
    """A straight line of the court.

    `group` is "floor" (paint on the floor), "front" (paint and tin of the front wall), "side" (out lines of
    the side walls) or "join" (where two surfaces meet). `across` is the direction across the paint on its
    surface; None for a line that is a step and no stripe.
    """

    name: str
    group: str
    start_m: Floats
    end_m: Floats
    across: Floats | None

    @property
    def painted(self) -> bool:
        """Whether it is a stripe 5 cm wide."""
        return self.across is not None

    @property
    def length_m(self) -> float:
        """Distance from end to end."""
        return float(np.linalg.norm(self.end_m - self.start_m))

    def points(self, shares: Floats) -> Floats:
        """Return court points at shares 0 to 1 of the way along, shape (n, 3)."""
        return np.asarray(self.start_m + (self.end_m - self.start_m) * shares[:, None])


def wireframe(tin: str = "standard") -> tuple[WireframeLine, ...]:
    """Return the lines that a camera behind the court can see on floor, front wall and side walls.

    Stripes run along their middle. The back wall is left out: its lines lie before the camera, and a glass
    wall's edges are nobody's standard.
    """
    w, short, rear = WIDTH_M, SHORT_LINE_FRONT_M + _HALF, BOX_REAR_M + _HALF
    tin_m, service, out, back = (TIN_M[tin], SERVICE_LINE_M + _HALF, FRONT_OUT_M + _HALF, BACK_OUT_M + _HALF)
    lines = [
        _line("short line", "floor", (0, short, 0), (w, short, 0), ALONG),
        _line("half-court line", "floor", (MIDDLE_M, SHORT_LINE_REAR_M, 0), (MIDDLE_M, LENGTH_M, 0), ACROSS),
        _line("front wall foot", "join", (0, 0, 0), (w, 0, 0), None),
        _line("tin", "front", (0, 0, tin_m), (w, 0, tin_m), None),
        _line("service line", "front", (0, 0, service), (w, 0, service), UP),
        _line("front out line", "front", (0, 0, out), (w, 0, out), UP),
    ]
    for side, wall, way in (("left", 0.0, 1.0), ("right", w, -1.0)):
        box = wall + way * (BOX_M + _HALF)
        lines += [
            _line(f"{side} box, side", "floor", (box, SHORT_LINE_REAR_M, 0), (box, rear + _HALF, 0), ACROSS),
            _line(f"{side} box, back", "floor", (wall, rear, 0), (box, rear, 0), ALONG),
            _line(f"{side} wall foot", "join", (wall, 0, 0), (wall, LENGTH_M, 0), None),
            _line(f"{side} front corner", "join", (wall, 0, 0), (wall, 0, CORNER_TOP_M), None),
            _line(f"{side} out line", "side", (wall, 0, out), (wall, LENGTH_M, back), UP),
        ]
    return tuple(lines)


def _line(
    name: str,
    group: str,
    start_m: tuple[float, float, float],
    end_m: tuple[float, float, float],
    across: tuple[float, float, float] | None,
) -> WireframeLine:
    return WireframeLine(
        name,
        group,
        np.array(start_m, float),
        np.array(end_m, float),
        None if across is None else np.array(across),
    )


@dataclass(frozen=True)
class WireframeNodes:
    """The wireframe cut into short pieces for scoring many cameras at once.

    `points_m` (n, 3) are nodes along all lines; `first` (m,) numbers the nodes at which a piece begins, the
    piece ends at the next node.
    """

    points_m: NDArray[np.float32]
    first: NDArray[np.intp]


def wireframe_nodes(lines: tuple[WireframeLine, ...], step_m: float = 0.5) -> WireframeNodes:
    """Return nodes at most so far apart along every line, three pieces a line at least."""
    points, first, count = [], [], 0
    for line in lines:
        pieces = max(3, int(np.ceil(line.length_m / step_m)))
        points.append(line.points(np.linspace(0.0, 1.0, pieces + 1)))
        first.append(count + np.arange(pieces))
        count += pieces + 1
    return WireframeNodes(np.vstack(points).astype(np.float32), np.concatenate(first))
