"""Ball flight under pressure play: legs with drag linear in speed, bounces with restitution and friction.

Drag proportional to speed gives a closed form for every leg; its rate is set anew at each bounce so that the
loss at the leg's first speed is that of quadratic drag. Restitution, friction and the share of tangential
speed lost in a gripping bounce are those of the project's physics notes, except the fall with speed, which is
a straight line here (ASSUMED). Spin is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, TIN_M, WIDTH_M, side_wall_line_m
from goodlength.synthetic.recordings.recording_types import Surface

STANDARD_GRAVITY_M_S2 = 9.80665
CENTRE_M = 0.02  # the ball's centre when it touches, its radius
QUADRATIC_DRAG_PER_M = 0.0157  # 0.5 rho Cd A / m with Cd 0.5, 24 g, 40 mm, air of 1.2 kg/m3
GRIPPED_SHARE = 0.393  # tangential speed lost by a gripping, spinless bounce
ASSUMED_RESTITUTION_FALL_S_M = 0.0024

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class CourtBall:
    """A ball at a temperature in C on surfaces of a friction coefficient."""

    temperature_c: float
    friction: float = 0.6

    def restitution(self, normal_m_s: float) -> float:
        """Return speed off over speed on, along the normal."""
        at_seven = math.sqrt(0.308 + 0.006 * (self.temperature_c - 45.0))
        return min(0.8, max(0.2, at_seven - ASSUMED_RESTITUTION_FALL_S_M * (normal_m_s - 7.0)))


@dataclass(frozen=True)
class FlightLeg:
    """Flight from `start_s` to a contact at `end_s`: first place and velocity, drag rate, what is met."""

    start_s: float
    end_s: float
    start: Vector
    velocity: Vector
    drag_per_s: float
    wall: str
    surface: Surface
    end: Vector
    arriving: Vector
    normal_m_s: float

    def place(self, time_s: float) -> Vector:
        """Return where the ball is at a time within the leg."""
        return _place(self.start, self.velocity, self.drag_per_s, time_s - self.start_s)


def _place(start: Vector, velocity: Vector, rate: float, seconds: float) -> Vector:
    shrunk = -math.expm1(-rate * seconds) / rate
    sunk = STANDARD_GRAVITY_M_S2 / rate
    x, y, z = (s + v * shrunk for s, v in zip(start, velocity, strict=True))
    return x, y, z + sunk * (shrunk - seconds)


def _speed(velocity: Vector, rate: float, seconds: float) -> Vector:
    left = math.exp(-rate * seconds)
    sunk = STANDARD_GRAVITY_M_S2 / rate
    return velocity[0] * left, velocity[1] * left, (velocity[2] + sunk) * left - sunk


def _time_to_wall(gap: float, speed: float, rate: float) -> float:
    """Return when a gap (m, of the speed's sign) is crossed; infinite if drag stops the ball short."""
    if speed == 0.0 or gap / speed <= 0.0:
        return math.inf
    left = 1.0 - rate * gap / speed
    return -math.log(left) / rate if left > 0.0 else math.inf


def _time_to_floor(height: float, climb: float, rate: float) -> float:
    g = STANDARD_GRAVITY_M_S2
    time = (climb + math.sqrt(climb * climb + 2.0 * g * max(height, 0.0))) / g
    for _ in range(3):
        here = _place((0.0, 0.0, height), (0.0, 0.0, climb), rate, time)[2]
        fall = _speed((0.0, 0.0, climb), rate, time)[2]
        time -= here / fall if fall < -1e-6 else 0.0
    return max(time, 1e-4)


def _drag_rate(velocity: Vector) -> float:
    return max(0.05, 0.93 * QUADRATIC_DRAG_PER_M * math.hypot(*velocity))


_AXIS = {"floor": 2, "left": 0, "right": 0, "front": 1, "back": 1}


def _meets(wall: str, height_m: float) -> Surface:
    if wall == "floor":
        return Surface.FLOOR
    if wall != "front":
        return Surface.OTHER_WALL
    return Surface.TIN if height_m < TIN_M["standard"] else Surface.FRONT_WALL


def next_leg(time_s: float, place: Vector, velocity: Vector) -> FlightLeg:
    """Return the leg from a place and velocity to the first surface of the court that is met."""
    rate = _drag_rate(velocity)
    x, y, z = place
    vx, vy, vz = velocity
    times = {
        "floor": _time_to_floor(z - CENTRE_M, vz, rate),
        "left": _time_to_wall(CENTRE_M - x, vx, rate) if vx < 0 else math.inf,
        "right": _time_to_wall(WIDTH_M - CENTRE_M - x, vx, rate) if vx > 0 else math.inf,
        "front": _time_to_wall(CENTRE_M - y, vy, rate) if vy < 0 else math.inf,
        "back": _time_to_wall(LENGTH_M - CENTRE_M - y, vy, rate) if vy > 0 else math.inf,
    }
    wall = min(times, key=lambda name: times[name])
    seconds = max(times[wall], 1e-4)
    ex, ey, ez = _place(place, velocity, rate, seconds)
    end = (
        min(max(ex, CENTRE_M), WIDTH_M - CENTRE_M),
        min(max(ey, CENTRE_M), LENGTH_M - CENTRE_M),
        max(ez, CENTRE_M),
    )
    arriving = _speed(velocity, rate, seconds)
    normal = abs(arriving[_AXIS[wall]])
    surface = _meets(wall, end[2])
    return FlightLeg(time_s, time_s + seconds, place, velocity, rate, wall, surface, end, arriving, normal)


def bounce(ball: CourtBall, leg: FlightLeg) -> Vector:
    """Return the velocity after a leg's contact: normal speed by restitution, the rest less friction."""
    axis = _AXIS[leg.wall]
    share = ball.restitution(leg.normal_m_s)
    along = math.sqrt(sum(v * v for i, v in enumerate(leg.arriving) if i != axis))
    lost = min(ball.friction * (1.0 + share) * leg.normal_m_s, GRIPPED_SHARE * along)
    keep = 1.0 - lost / along if along > 1e-9 else 1.0
    out = [v * keep for v in leg.arriving]
    out[axis] = -share * leg.arriving[axis]
    return out[0], out[1], out[2]


def flight(
    ball: CourtBall, time_s: float, place: Vector, velocity: Vector, floors: int = 5, most: int = 20
) -> list[FlightLeg]:
    """Return the legs until the ball has bounced so often on the floor, or hardly bounces any more.

    Parameters
    ----------
    ball : CourtBall
    time_s : float
        When the ball leaves, s.
    place, velocity : tuple of float
        Metres and m/s in the court's frame.
    floors, most : int
        Bounces on the floor, and contacts in all, after which it is cut.
    """
    out: list[FlightLeg] = []
    bounced = 0
    while len(out) < most and bounced < floors:
        leg = next_leg(time_s, place, velocity)
        out.append(leg)
        time_s, place, velocity = leg.end_s, leg.end, bounce(ball, leg)
        if leg.surface is Surface.FLOOR:
            bounced += 1
            if leg.normal_m_s < 0.6:
                break
    return out


def velocity_to(place: Vector, target: Vector, speed_m_s: float) -> Vector:
    """Return the velocity of about a speed that meets a target, exactly for the drag of its first leg."""
    way = math.dist(place, target)
    velocity: Vector = (0.0, -speed_m_s, 0.0)
    for _ in range(4):
        rate = _drag_rate(velocity)
        lost = min(rate * way / max(speed_m_s, 1.0), 0.9)
        seconds = -math.log1p(-lost) / rate
        shrunk = -math.expm1(-rate * seconds) / rate
        sunk = STANDARD_GRAVITY_M_S2 / rate
        velocity = (
            (target[0] - place[0]) / shrunk,
            (target[1] - place[1]) / shrunk,
            (target[2] - place[2] - sunk * (shrunk - seconds)) / shrunk,
        )
    return velocity


def fault_index(legs: list[FlightLeg]) -> int | None:
    """Return the index of the contact by which a shot is no good return, None if it is good.

    Tin or floor before the front wall, or any wall at or above its out line before the first bounce.
    """
    front = False
    for index, leg in enumerate(legs):
        if leg.surface in {Surface.TIN, Surface.FLOOR}:
            return None if front else index
        front = front or leg.surface is Surface.FRONT_WALL
        line = FRONT_OUT_M if leg.wall == "front" else side_wall_line_m(min(max(leg.end[1], 0.0), LENGTH_M))
        if leg.end[2] >= line:
            return index
    return None


def floor_index(legs: list[FlightLeg], count: int) -> int | None:
    """Return the index of the n-th contact with the floor, None if there are fewer."""
    found = [i for i, leg in enumerate(legs) if leg.surface is Surface.FLOOR]
    return found[count - 1] if len(found) >= count else None
