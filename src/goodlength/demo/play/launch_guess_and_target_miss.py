"""First guess of a shot's launch, and the distance by which a path misses its target."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from goodlength.court.dimensions import WIDTH_M, side_wall_line_m
from goodlength.demo.play.ball_flight import (
    GRAVITY_M_S2,
    DemoFlight,
    DemoSurface,
    Miss,
    fly,
    solve,
)
from goodlength.demo.play.court_camera import HALF_M, RADIUS_M, TIN_TOP_M, Point
from goodlength.record.model import Left, ShotType

WALL_E = 0.47  # for first guesses only: what a wall leaves of the speed into it
WALL_F = 0.61  # for first guesses only: what a wall leaves of the speed along it
SIDES = (DemoSurface.LEFT, DemoSurface.RIGHT)


@dataclass(frozen=True)
class LaunchTarget:
    """A launch to begin from and the three misses that must become zero."""

    start: Point
    guess: Point
    miss: Miss

    def path(self) -> DemoFlight | None:
        """Return the path that does it, or None."""
        return solve(self.start, self.guess, self.miss)


def _launch(start: Point, wall: tuple[float, float], t1: float) -> Point:
    """Return velocity that brings the ball to (x, z) on the front wall after t1 seconds, air left out."""
    x, y, z = start
    return ((wall[0] - x) / t1, -(y - RADIUS_M) / t1, (wall[1] - z) / t1 + GRAVITY_M_S2 * t1 / 2)


def _time_to_height(z: float, climb: float, height: float) -> float:
    """Later time at which a ball thrown from z is at a height below its top."""
    return (climb + math.sqrt(max(0.0, climb**2 + 2 * GRAVITY_M_S2 * (z - height)))) / GRAVITY_M_S2


def _after_wall(start: Point, wall_z: float, t1: float, height: float) -> float:
    """Return time from the front wall to a height, air left out."""
    climb = (wall_z - start[2]) / t1 - GRAVITY_M_S2 * t1 / 2
    return _time_to_height(wall_z, WALL_F * climb, height)


def _flight_time(start: Point, wall_z: float, height: float, y: float) -> tuple[float, float]:
    """Return times to the front wall and on to (height, y) after it: the slower launches come shorter."""
    low, high = 0.06, 1.6
    for _ in range(40):
        t1 = (low + high) / 2
        reached = WALL_E * start[1] / t1 * _after_wall(start, wall_z, t1, height)
        low, high = (t1, high) if reached > y else (low, t1)
    return t1, _after_wall(start, wall_z, t1, height)


def to_floor(start: Point, wall_z: float, x: float, y: float) -> LaunchTarget:
    """Aim at the front wall at a height, then the floor at (x, y), nothing between."""
    t1, t2 = _flight_time(start, wall_z, RADIUS_M, y)
    wall_x = (x + WALL_F * start[0] * t2 / t1) / (1 + WALL_F * t2 / t1)

    def miss(path: DemoFlight) -> Point | None:
        seen = [c.surface for c in path.contacts[:2]]
        if seen != [DemoSurface.FRONT, DemoSurface.FLOOR]:
            return None
        front, floor = path.contacts[0].at, path.contacts[1].at
        return (front[2] - wall_z, floor[0] - x, floor[1] - y)

    return LaunchTarget(start, _launch(start, (wall_x, wall_z), t1), miss)


def to_side(start: Point, wall_z: float, side: DemoSurface, y: float, z: float) -> LaunchTarget:
    """Aim at the front wall at a height, then a side wall at (y, z)."""
    x = RADIUS_M if side is DemoSurface.LEFT else WIDTH_M - RADIUS_M
    t1, t2 = _flight_time(start, wall_z, z, y)
    wall_x = (x + WALL_F * start[0] * t2 / t1) / (1 + WALL_F * t2 / t1)

    def miss(path: DemoFlight) -> Point | None:
        seen = [c.surface for c in path.contacts[:2]]
        if seen != [DemoSurface.FRONT, side]:
            return None
        front, wall = path.contacts[0].at, path.contacts[1].at
        return (front[2] - wall_z, wall[1] - y, wall[2] - z)

    return LaunchTarget(start, _launch(start, (wall_x, wall_z), t1), miss)


def boast(start: Point, front_x: float, front_z: float, speed_m_s: float) -> LaunchTarget:
    """Aim at the near side wall first, then the front wall at (x, z), at a speed."""
    left = start[0] < HALF_M
    side, wall_x = (DemoSurface.LEFT, RADIUS_M) if left else (DemoSurface.RIGHT, WIDTH_M - RADIUS_M)
    lean = WALL_F * abs(front_x - wall_x) / (WALL_E * max(0.05, abs(start[0] - wall_x)))
    side_y = start[1] * lean / (1 + lean)
    first = math.hypot(start[0] - wall_x, start[1] - side_y)
    t1 = first / speed_m_s
    t2 = abs(front_x - wall_x) / (WALL_E * abs(start[0] - wall_x) / t1)
    climb = (front_z - start[2] + GRAVITY_M_S2 * (t1 + t2) ** 2 / 2) / (t1 + WALL_F * t2)
    guess = ((wall_x - start[0]) / t1, (side_y - start[1]) / t1, climb)

    def miss(path: DemoFlight) -> Point | None:
        seen = [c.surface for c in path.contacts[:2]]
        if seen != [side, DemoSurface.FRONT]:
            return None
        front, launch = path.contacts[1].at, path.knots[0]
        return (front[0] - front_x, front[2] - front_z, math.dist(launch[4:7], (0, 0, 0)) - speed_m_s)

    return LaunchTarget(start, guess, miss)


def into_tin(start: Point, wall_x: float, wall_z: float, speed_m_s: float) -> LaunchTarget:
    """Return a shot that hits the tin at (x, z)."""
    t1 = max(0.05, start[1] / speed_m_s)

    def miss(path: DemoFlight) -> Point | None:
        if not path.contacts or path.contacts[0].surface not in (DemoSurface.TIN, DemoSurface.FRONT):
            return None
        at = path.contacts[0].at
        return (at[0] - wall_x, at[2] - wall_z, path.knots[0][5] + speed_m_s)

    return LaunchTarget(start, _launch(start, (wall_x, wall_z), t1), miss)


def serve(kind: str, start: Point, rng: random.Random, out: bool = False) -> LaunchTarget:
    """Return a serve of a kind from a box to the other side, one draw; `out` sends it over the side
    wall's line.
    """
    right = start[0] > HALF_M
    side = DemoSurface.LEFT if right else DemoSurface.RIGHT

    def across(from_wall: float) -> float:
        return from_wall if right else WIDTH_M - from_wall

    u = rng.uniform
    if kind == "lob":
        y = u(6.5, 7.4)
        z = side_wall_line_m(y) + (0.22 if out else -u(0.15, 0.5))
        return to_side(start, u(4.25, 4.4) if out else u(3.85, 4.3), side, y, z)
    if kind == "mid-height":
        return to_side(start, u(2.9, 3.4), side, u(6.3, 7.3), u(1.4, 2.0))
    if kind == "hard":
        return to_side(start, u(2.25, 2.7), side, u(6.0, 7.0), u(1.2, 1.7))
    if kind == "body-feet":
        return to_floor(start, u(2.0, 2.3), across(u(1.4, 2.0)), u(7.0, 7.8))
    return to_floor(start, u(2.6, 3.2), across(u(0.7, 1.2)), u(9.35, 9.6))


def shot(stroke: ShotType, start: Point, rng: random.Random, left: Left | None = None) -> LaunchTarget:
    """Return a shot of a kind from where the ball was struck, one draw; `left` is what a return leaves."""
    near_left = start[0] < HALF_M
    u = rng.uniform

    def near(from_wall: float) -> float:
        return from_wall if near_left else WIDTH_M - from_wall

    def far(from_wall: float) -> float:
        return WIDTH_M - from_wall if near_left else from_wall

    if left is Left.LOOSE:
        return to_floor(start, u(1.6, 2.6), (near, far)[rng.random() < 0.4](u(1.4, 2.2)), u(5.2, 6.3))
    if stroke is ShotType.BOAST:
        return boast(start, far(u(1.0, 2.0)), u(0.62, 0.95), u(17.0, 24.0))
    if stroke is ShotType.DROP:
        return to_floor(start, u(0.58, 0.8), near(u(0.25, 0.7)), u(0.9, 1.7))
    if stroke is ShotType.KILL:
        return to_floor(start, u(0.58, 0.75), near(u(0.4, 1.2)), u(1.9, 3.0))
    if stroke is ShotType.LOB:
        return to_floor(start, u(3.3, 4.2), far(u(0.4, 1.0)), u(7.4, 8.8))
    if stroke is ShotType.CROSS_COURT:
        return to_floor(start, u(1.5, 2.5), far(u(0.4, 1.1)), u(7.0, 8.6))
    return to_floor(start, u(1.3, 2.4), near(u(0.2, 0.6)), u(7.2, 8.8))


def error(start: Point, rng: random.Random) -> LaunchTarget:
    """Return a shot into the tin, one draw."""
    wall_x = min(max(start[0] + rng.uniform(-1.0, 1.0), 0.4), WIDTH_M - 0.4)
    return into_tin(start, wall_x, rng.uniform(0.2, TIN_TOP_M - 0.06), rng.uniform(14.0, 24.0))


def launch_of(path: DemoFlight) -> Point:
    """Return velocity at the start of a path."""
    return path.knots[0][4:7]


def fly_again(path: DemoFlight, floor_bounces: int) -> DemoFlight:
    """Return the same launch, flown to a later bounce; 99 lets the ball come to rest."""
    return fly(path.knots[0][1:4], launch_of(path), floor_bounces, longest_s=7.0)
