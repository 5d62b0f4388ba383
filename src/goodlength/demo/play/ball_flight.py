"""Ball flight for the demo's frames and truth only: gravity, drag, bounces with spin.

The `ball` room is the model goodlength advises with. This one is written apart from it on purpose:
footage made by the model that later measures it would agree with itself and prove nothing.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.demo.play.court_camera import RADIUS_M, TIN_TOP_M, Point

GRAVITY_M_S2 = 9.80665  # source: CODATA-2018
DRAG_PER_M = 0.0147  # half of density x area x 0.47 / mass; source: CLIFT-GAUVIN-1971
ASSUMED_RESTITUTION_7 = 0.516  # at 7 m/s, a ball warmed by club play
ASSUMED_RESTITUTION_FALL = 0.12  # e = e7 (v / 7)^-0.12
ASSUMED_FLOOR_FACTOR = 0.95
ASSUMED_TANGENTIAL_E = 0.15
ASSUMED_FRICTION = 0.6
INERTIA = 0.52  # I / m R^2 of a hollow ball, worked out from mass, size and rubber density
STEP_S = 0.05
ROLLS_BELOW_M_S = 0.45
ASSUMED_ROLLING_M_S2 = 0.9  # slowing of a rolling ball


class DemoSurface(StrEnum):
    """What a ball can touch."""

    FRONT = "front-wall"
    TIN = "tin"
    LEFT = "left-side-wall"
    RIGHT = "right-side-wall"
    BACK = "back-wall"
    FLOOR = "floor"


@dataclass(frozen=True)
class DemoContact:
    """The ball touching the court: `time_s` from the start of the path, the centre of the ball in metres."""

    time_s: float
    surface: DemoSurface
    at: Point
    speed_m_s: float


Knot = tuple[float, float, float, float, float, float, float]  # t, x, y, z, vx, vy, vz


@dataclass(frozen=True)
class DemoFlight:
    """A flight with its contacts; between knots the centre of the ball follows a cubic."""

    knots: tuple[Knot, ...]
    times: tuple[float, ...]
    contacts: tuple[DemoContact, ...]

    @property
    def end_s(self) -> float:
        """Time of the last knot."""
        return self.times[-1]

    def at(self, time_s: float) -> Point:
        """Return the centre of the ball, metres; before the start and after the end it rests."""
        if time_s <= self.times[0]:
            return self.knots[0][1:4]
        if time_s >= self.times[-1]:
            return self.knots[-1][1:4]
        i = bisect_right(self.times, time_s) - 1
        a, b = self.knots[i], self.knots[i + 1]
        h = b[0] - a[0]
        s = (time_s - a[0]) / h
        s2, s3 = s * s, s * s * s
        h00, h10, h01, h11 = 2 * s3 - 3 * s2 + 1, s3 - 2 * s2 + s, 3 * s2 - 2 * s3, s3 - s2
        x, y, z = (h00 * a[k] + h10 * h * a[k + 3] + h01 * b[k] + h11 * h * b[k + 3] for k in (1, 2, 3))
        return (x, y, z)

    def until(self, time_s: float) -> DemoFlight:
        """Return the part of the path before a time, ending exactly there."""
        i = bisect_right(self.times, time_s)
        x, y, z = self.at(time_s)
        last = self.knots[min(i, len(self.knots) - 1)]
        knots = (*self.knots[:i], (time_s, x, y, z, *last[4:]))
        contacts = tuple(c for c in self.contacts if c.time_s < time_s)
        return DemoFlight(knots, tuple(k[0] for k in knots), contacts)


def _drag(vx: float, vy: float, vz: float) -> tuple[float, float, float]:
    k = -DRAG_PER_M * math.sqrt(vx * vx + vy * vy + vz * vz)
    return k * vx, k * vy, k * vz - GRAVITY_M_S2


def _step(s: list[float], h: float) -> list[float]:
    """Return one step of a fourth-order Runge-Kutta rule; the pull depends on the velocity alone."""
    x, y, z, u, v, w = s
    a1 = _drag(u, v, w)
    a2 = _drag(u + h / 2 * a1[0], v + h / 2 * a1[1], w + h / 2 * a1[2])
    a3 = _drag(u + h / 2 * a2[0], v + h / 2 * a2[1], w + h / 2 * a2[2])
    a4 = _drag(u + h * a3[0], v + h * a3[1], w + h * a3[2])
    q, p = h * h / 6, h / 6
    return [
        x + h * u + q * (a1[0] + a2[0] + a3[0]),
        y + h * v + q * (a1[1] + a2[1] + a3[1]),
        z + h * w + q * (a1[2] + a2[2] + a3[2]),
        u + p * (a1[0] + 2 * a2[0] + 2 * a3[0] + a4[0]),
        v + p * (a1[1] + 2 * a2[1] + 2 * a3[1] + a4[1]),
        w + p * (a1[2] + 2 * a2[2] + 2 * a3[2] + a4[2]),
    ]


# axis, side of the plane the ball must stay on, place of the plane for the ball's centre, surface
PLANES: tuple[tuple[int, float, float, DemoSurface], ...] = (
    (2, 1.0, RADIUS_M, DemoSurface.FLOOR),
    (1, 1.0, RADIUS_M, DemoSurface.FRONT),
    (0, 1.0, RADIUS_M, DemoSurface.LEFT),
    (0, -1.0, WIDTH_M - RADIUS_M, DemoSurface.RIGHT),
    (1, -1.0, LENGTH_M - RADIUS_M, DemoSurface.BACK),
)


def _first_crossing(a: list[float], b: list[float], h: float) -> tuple[float, int] | None:
    """Earliest time in the step at which a plane is reached, and which plane."""
    best: tuple[float, int] | None = None
    for i, (axis, side, place, _) in enumerate(PLANES):
        after = side * (b[axis] - place)
        if after < 0 and side * b[axis + 3] < 0:
            before = max(0.0, side * (a[axis] - place))
            t = h * before / (before - after)
            if best is None or t < best[0]:
                best = (t, i)
    return best


def bounce(s: list[float], spin: list[float], plane: int) -> None:
    """Turn the ball round at a plane: normal restitution, friction up to grip, spin kept in step."""
    axis, side, _, surface = PLANES[plane]
    v, n = s[3:6], [0.0, 0.0, 0.0]
    n[axis] = side
    into = -side * v[axis]
    e = ASSUMED_RESTITUTION_7 * (max(into, 1.0) / 7.0) ** -ASSUMED_RESTITUTION_FALL
    if surface is DemoSurface.FLOOR:
        e *= ASSUMED_FLOOR_FACTOR
    e = min(0.95, e)
    cross = [
        spin[1] * n[2] - spin[2] * n[1],
        spin[2] * n[0] - spin[0] * n[2],
        spin[0] * n[1] - spin[1] * n[0],
    ]
    slip = [v[k] - (v[axis] if k == axis else 0.0) - RADIUS_M * cross[k] for k in range(3)]
    slip[axis] = 0.0
    fast = math.sqrt(sum(c * c for c in slip))
    push = min((1 + ASSUMED_TANGENTIAL_E) * fast * INERTIA / (1 + INERTIA), ASSUMED_FRICTION * (1 + e) * into)
    along = [c / fast for c in slip] if fast > 1e-9 else [0.0, 0.0, 0.0]
    for k in range(3):
        s[3 + k] = v[k] - push * along[k]
    s[3 + axis] = side * e * into
    turn = [
        n[1] * along[2] - n[2] * along[1],
        n[2] * along[0] - n[0] * along[2],
        n[0] * along[1] - n[1] * along[0],
    ]
    for k in range(3):
        spin[k] += turn[k] * push / (INERTIA * RADIUS_M)


def _knot(t: float, s: list[float]) -> Knot:
    x, y, z, u, v, w = s
    return (t, x, y, z, u, v, w)


def fly(start: Point, velocity: Point, floor_bounces: int = 2, longest_s: float = 6.0) -> DemoFlight:
    """Return the path of a ball struck without spin, to its last allowed floor bounce.

    Parameters
    ----------
    start, velocity : (x, y, z)
        Centre of the ball, m, and velocity, m/s, in the court frame.
    floor_bounces : int
        The path ends at this bounce on the floor; 99 lets the ball come to rest.
    longest_s : float
        The path ends here at the latest.

    Returns
    -------
    Flight
    """
    s, spin, t = [*start, *velocity], [0.0, 0.0, 0.0], 0.0
    knots = [_knot(t, s)]
    contacts: list[DemoContact] = []
    floors = 0
    while t < longest_s:
        h = min(STEP_S, longest_s - t)
        new = _step(s, h)
        hit = _first_crossing(s, new, h)
        if hit is None:
            s, t = new, t + h
            knots.append(_knot(t, s))
            continue
        part, plane = hit
        axis, _, place, surface = PLANES[plane]
        for _ in range(3):
            new = _step(s, part)
            part = max(0.0, part - (new[axis] - place) / new[axis + 3])
        s, t = _step(s, part), t + part
        s[axis] = place
        if surface is DemoSurface.FRONT and s[2] <= TIN_TOP_M:
            surface = DemoSurface.TIN
        speed = math.sqrt(s[3] ** 2 + s[4] ** 2 + s[5] ** 2)
        contacts.append(DemoContact(t, surface, (s[0], s[1], s[2]), speed))
        knots.append(_knot(t, s))
        bounce(s, spin, plane)
        knots.append(_knot(t, s))
        if surface is DemoSurface.FLOOR:
            floors += 1
            if floors >= floor_bounces:
                break
            if s[5] < ROLLS_BELOW_M_S:
                knots.extend(_roll(t, s))
                break
    return DemoFlight(tuple(knots), tuple(k[0] for k in knots), tuple(contacts))


def _roll(t: float, s: list[float]) -> list[Knot]:
    """Return the last leg of a dead ball: straight on, slowing, stopped by a wall at the latest."""
    x, y, _, u, v, _ = s
    speed = math.hypot(u, v)
    if speed < 0.05:
        return []
    stop = speed / ASSUMED_ROLLING_M_S2
    knots: list[Knot] = []
    steps = max(1, math.ceil(stop / 0.1))
    for i in range(1, steps + 1):
        d = stop * i / steps
        share = (speed * d - ASSUMED_ROLLING_M_S2 * d * d / 2) / speed
        now = max(0.0, 1 - d / stop)
        px, py = x + u * share, y + v * share
        at_wall = not (RADIUS_M <= px <= WIDTH_M - RADIUS_M and RADIUS_M <= py <= LENGTH_M - RADIUS_M)
        px = min(max(px, RADIUS_M), WIDTH_M - RADIUS_M)
        py = min(max(py, RADIUS_M), LENGTH_M - RADIUS_M)
        knots.append((t + d, px, py, RADIUS_M, 0.0 if at_wall else u * now, 0.0 if at_wall else v * now, 0.0))
        if at_wall:
            break
    return knots


Miss = Callable[[DemoFlight], "tuple[float, float, float] | None"]


def solve(start: Point, guess: Point, miss: Miss, floor_bounces: int = 1) -> DemoFlight | None:
    """Return the path whose three misses are zero, by Newton's rule from a first guess.

    `miss` gives the three distances from what was wanted, in metres, or None where the path touches
    other surfaces than it should. None comes back where no such path was found in eight rounds.
    """
    velocity = np.array(guess, dtype=float)
    for _ in range(8):
        path = fly(start, _point(velocity), floor_bounces)
        got = miss(path)
        if got is None:
            return None
        value = np.array(got)
        if float(np.abs(value).max()) < 0.01:
            return path
        slopes = np.zeros((3, 3))
        for k in range(3):
            nudged = velocity.copy()
            nudged[k] += 0.05
            there = miss(fly(start, _point(nudged), floor_bounces))
            if there is None:
                return None
            slopes[:, k] = (np.array(there) - value) / 0.05
        if abs(float(np.linalg.det(slopes))) < 1e-9:
            return None
        velocity = velocity - np.clip(np.linalg.solve(slopes, value), -4.0, 4.0)
    return None


def _point(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Point:
    return (float(values[0]), float(values[1]), float(values[2]))
