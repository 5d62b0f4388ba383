"""Ball flight on one court in closed form: arcs between walls and floor.

Not the flight model of `goodlength.ball` on purpose: the judging family shares no code with what it judges
beyond the court's dimensions. Air slows the ball by a fixed share a metre, spin is left out, a corner is two
bounces. Good to some centimetres a shot, which is more than a listener can tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, TIN_M, WIDTH_M, side_wall_line_m
from goodlength.synthetic.recordings.recording_types import Surface

GRAVITY_M_S2 = 9.81
RADIUS_M = 0.02
Point = tuple[float, float, float]


@dataclass(frozen=True)
class BallInFlight:
    """How one ball bounces: restitution at 7 m/s, what a wall leaves of speed along it, air's drag."""

    restitution: float
    grip: float
    drag_per_m: float = 0.0147  # about 13 of 100 in a court's length, from the project's table of flights

    def rebound(self, normal_m_s: float) -> float:
        """Return the share of normal speed kept; less for fast impacts (ASSUMED exponent)."""
        return min(0.78, self.restitution * math.pow(max(normal_m_s, 0.3) / 7.0, -0.12))


@dataclass(frozen=True)
class Arc:
    """A piece of flight that ends in a contact: times, start, speed and what is struck how hard."""

    start_s: float
    end_s: float
    start: Point
    velocity: Point
    end: Point
    surface: Surface
    normal_m_s: float
    wall: str

    def at(self, time_s: float) -> Point:
        """Return the place at a time within the arc."""
        share = (time_s - self.start_s) / max(self.end_s - self.start_s, 1e-9)
        fall = self.end_s - self.start_s
        x, y, z = (a + (b - a) * share for a, b in zip(self.start, self.end, strict=True))
        return x, y, z + 0.5 * GRAVITY_M_S2 * fall * fall * share * (1.0 - share)


def _times_to_planes(place: Point, velocity: Point) -> list[tuple[float, str]]:
    x, y, z = place
    vx, vy, vz = velocity
    out = [((vz + math.sqrt(vz * vz + 2.0 * GRAVITY_M_S2 * max(z - RADIUS_M, 0.0))) / GRAVITY_M_S2, "floor")]
    if vx < 0.0:
        out.append(((RADIUS_M - x) / vx, "left"))
    if vx > 0.0:
        out.append(((WIDTH_M - RADIUS_M - x) / vx, "right"))
    if vy < 0.0:
        out.append(((RADIUS_M - y) / vy, "front"))
    if vy > 0.0:
        out.append(((LENGTH_M - RADIUS_M - y) / vy, "back"))
    return out


_NORMAL = {"floor": 2, "left": 0, "right": 0, "front": 1, "back": 1}


def _surface(wall: str, height_m: float) -> Surface:
    if wall == "floor":
        return Surface.FLOOR
    if wall == "front":
        return Surface.TIN if height_m < TIN_M["standard"] else Surface.FRONT_WALL
    return Surface.OTHER_WALL


def _step(ball: BallInFlight, time_s: float, place: Point, velocity: Point) -> tuple[Arc, Point]:
    """Return the next arc and the velocity after its bounce."""
    times = _times_to_planes(place, velocity)
    fall, wall = min((max(t, 1e-4), name) for t, name in times)
    x, y, z = place
    vx, vy, vz = velocity
    end_z = max(z + vz * fall - 0.5 * GRAVITY_M_S2 * fall * fall, RADIUS_M)
    end = (
        min(max(x + vx * fall, RADIUS_M), WIDTH_M - RADIUS_M),
        min(max(y + vy * fall, RADIUS_M), LENGTH_M - RADIUS_M),
        end_z,
    )
    way = math.dist(place, end)
    drag_factor = math.exp(-ball.drag_per_m * way)
    arriving = [vx * drag_factor, vy * drag_factor, (vz - GRAVITY_M_S2 * fall) * (0.5 + 0.5 * drag_factor)]
    axis = _NORMAL[wall]
    normal = abs(arriving[axis])
    arc = Arc(
        time_s,
        time_s + fall * (1.0 + 0.5 * ball.drag_per_m * way),
        place,
        velocity,
        end,
        _surface(wall, end_z),
        normal,
        wall,
    )
    leaving = [v * ball.grip for v in arriving]
    leaving[axis] = -arriving[axis] * ball.rebound(normal)
    return arc, (leaving[0], leaving[1], leaving[2])


def fly(
    ball: BallInFlight, time_s: float, place: Point, velocity: Point, floor_bounces: int = 6, most: int = 22
) -> list[Arc]:
    """Return the arcs of a flight until so many bounces on the floor, or until the ball hardly moves.

    Parameters
    ----------
    ball : Ball
    time_s : float
        When it leaves, s.
    place, velocity : tuple of float
        Metres and m/s in the court's frame.
    floor_bounces, most : int
        The flight is cut after so many bounces on the floor, or contacts in all.
    """
    arcs: list[Arc] = []
    floors = 0
    while len(arcs) < most and floors < floor_bounces:
        arc, velocity = _step(ball, time_s, place, velocity)
        arcs.append(arc)
        time_s, place = arc.end_s, arc.end
        floors += arc.surface is Surface.FLOOR
        if arc.surface is Surface.FLOOR and arc.normal_m_s < 0.5:
            break
    return arcs


def first_fault(arcs: list[Arc]) -> int | None:
    """Return the index of the contact that makes the shot no good return, or None if it is good.

    No good: floor or tin before the front wall, front wall or another wall on or above its out line before
    the first bounce.
    """
    reached = False
    for i, arc in enumerate(arcs):
        if arc.surface is Surface.TIN:
            return None if reached else i
        if arc.surface is Surface.FLOOR:
            return None if reached else i
        if arc.surface is Surface.FRONT_WALL:
            reached = True
        line = FRONT_OUT_M if arc.wall == "front" else side_wall_line_m(min(max(arc.end[1], 0.0), LENGTH_M))
        if arc.end[2] >= line:
            return i
    return None


def contact_index(arcs: list[Arc], surface: Surface, count: int = 1) -> int | None:
    """Return the index of the n-th contact with a surface, or None."""
    found = [i for i, arc in enumerate(arcs) if arc.surface is surface]
    return found[count - 1] if len(found) >= count else None
