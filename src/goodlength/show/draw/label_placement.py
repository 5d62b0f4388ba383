"""Place labels without overlap: candidates in rings round their point, the clearest wins."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]
_TURNS = 16  # directions tried
_STEPS = (2.3, 2.9, 3.8)  # distances tried, in radii of the disc
_NEAR = 1.75  # radii: closer than this to a line is too close
_APART = 2.5  # radii: closer than this to another label is too close


class Spread:
    """Places taken so far, and lines and points to keep clear of. Pure geometry, nothing random."""

    def __init__(self, view: tuple[float, float, float, float], radius: float) -> None:
        self._view = view
        self._radius = radius
        self._lines: list[tuple[Point, Point]] = []
        self._points: list[tuple[Point, float]] = []

    def keep_clear_of_line(self, line: Sequence[Point]) -> None:
        """Add a line of straight pieces that labels shall not cover."""
        self._lines.extend(pairwise(line))

    def keep_clear_of_point(self, point: Point, radius: float = 0.0) -> None:
        """Add a mark of a radius that labels shall not cover."""
        self._points.append((point, radius))

    def take(self, place: Point) -> None:
        """Add a label that is now set."""
        self._points.append((place, self._radius * (_APART - 1)))

    def place_near(self, anchor: Point) -> Point:
        """Return the place near `anchor` that covers least; among equals the nearest, then the first
        tried.
        """
        best, least = anchor, math.inf
        for step in _STEPS:
            for turn in range(_TURNS):
                angle = 2 * math.pi * turn / _TURNS + math.pi
                place = (
                    anchor[0] + step * self._radius * math.cos(angle),
                    anchor[1] + step * self._radius * math.sin(angle),
                )
                cost = self._cost(place) + 0.02 * step
                if cost < least - 1e-9:
                    best, least = place, cost
        return best

    def _cost(self, place: Point) -> float:
        """Return how much a label here would cover: 0 where it is clear of everything."""
        left, top, wide, high = self._view
        inside = (
            left + self._radius <= place[0] <= left + wide - self._radius
            and top + self._radius <= place[1] <= top + high - self._radius
        )
        cost = 0.0 if inside else 100.0
        for line in self._lines:
            cost += max(0.0, 1 - distance(place, *line) / (_NEAR * self._radius))
        for point, radius in self._points:
            gap = math.dist(place, point) / (_NEAR * self._radius + radius)
            cost += max(0.0, 1 - gap) * 2
        return cost


def distance(point: Point, start: Point, end: Point) -> float:
    """From a point to a straight piece.

    Examples
    --------
    >>> distance((0, 3), (-1, 0), (1, 0)), distance((4, 4), (0, 0), (1, 0))
    (3.0, 5.0)
    """
    along = (end[0] - start[0], end[1] - start[1])
    square = along[0] ** 2 + along[1] ** 2
    share = 0.0
    if square > 0:
        share = ((point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]) / square
        share = min(max(share, 0.0), 1.0)
    return math.dist(point, (start[0] + share * along[0], start[1] + share * along[1]))
