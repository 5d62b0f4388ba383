"""Compiled kernel of free flight between two contacts, and of the crossing of a plane.

Only the velocity is integrated, for the force does not depend on the place: the fifth-order Runge-Kutta
pair of source: DORMAND-PRINCE-1980 with its fourth-order interpolant. One step so gives each coordinate as
a polynomial, and a contact is the first root of a polynomial. Steps are aimed just past the next contact,
as source: BALL-NOTE 4.5 asks.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from goodlength.ball.flight.compilation import njit
from goodlength.ball.model import array_layout as col

# DORMAND-PRINCE-1980, table 2; weights of the interpolant as in source: HAIRER-1993, II.6.
A21 = 1 / 5
A31, A32 = 3 / 40, 9 / 40
A41, A42, A43 = 44 / 45, -56 / 15, 32 / 9
A51, A52, A53, A54 = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
A61, A62, A63, A64, A65 = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
B1, B3, B4, B5, B6 = 35 / 384, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84
D1, D3, D4 = -12715105075 / 11282082432, 87487479700 / 32700410799, -10690763975 / 1880347072
D5, D6, D7 = 701980252875 / 199316789632, -1453857185 / 822651844, 69997945 / 29380423

V = tuple[float, float, float]
F = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
N = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
Any_function = TypeVar("Any_function", bound=Callable[..., Any])

HOW: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": {"contract"}}


def compiled(function: Any_function) -> Any_function:
    """Compile when first called from compiled code; the checker still sees the plain function.

    Put in where it is called: a flight is many short calls, and without this a quarter of it went into them.
    """
    made: Any_function = njit(forceinline=True, **HOW)(function)
    return made


def compiled_on_disk(signature: str) -> Callable[[Any_function], Any_function]:
    """Compile for these types at once, and keep what was compiled on the disk.

    Half a file, as a kill or a power cut leaves it, is deleted and compiled anew.
    """

    def made(function: Any_function) -> Any_function:
        try:
            return _compiled_for(signature, function)
        except Exception:  # whatever half a file leads to: the same once more, without it
            _forget_compiled(function)
            return _compiled_for(signature, function)

    return made


def _compiled_for(signature: str, function: Any_function) -> Any_function:
    kept: Any = njit(signature, cache=True, **HOW)(function)
    return kept


def _forget_compiled(function: Callable[..., Any]) -> None:
    """Delete what is kept on the disk of the module of a function."""
    stats = getattr(njit(cache=True, **HOW)(function), "stats", None)
    if stats is not None:  # without compiling nothing is kept
        for path in Path(stats.cache_path).glob(f"{Path(function.__code__.co_filename).stem}.*.nb[ci]"):
            with suppress(OSError):
                path.unlink()


@compiled
def acceleration(v: V, w: V, c: F, drag: F) -> V:
    """Acceleration, m/s2: weight, drag along the path, lift across it (k_L S/(2S+1), S by the cross spin)."""
    vx, vy, vz = v
    wx, wy, wz = w
    speed2 = vx * vx + vy * vy + vz * vz
    speed = math.sqrt(speed2)
    place = speed * c[col.REYNOLDS_PER_SPEED]  # Reynolds number over the table's spacing
    i = min(int(place), drag.shape[0] - 1)
    u = place - i
    cd_re = drag[i, 0] + u * (drag[i, 1] + u * (drag[i, 2] + u * drag[i, 3]))
    slow = -(c[col.DRAG_TABLED] * cd_re + c[col.DRAG_CONSTANT] * speed)
    lx = wy * vz - wz * vy
    ly = wz * vx - wx * vz
    lz = wx * vy - wy * vx
    # C_L |v|^2 (w x v)/|w x v| with S = R |w x v| / |v|^2; the smallest normal keeps 0/0 away.
    if c[col.WHOLE_SPIN] > 0.0:
        cross = speed * math.sqrt(wx * wx + wy * wy + wz * wz)
    else:
        cross = math.sqrt(lx * lx + ly * ly + lz * lz)
    turn = c[col.LIFT] * speed2 / (2.0 * c[col.RADIUS] * cross + speed2 + 1e-300)
    return slow * vx + turn * lx, slow * vy + turn * ly, slow * vz + turn * lz - c[col.GRAVITY]


@compiled
def moved(v: V, s: float, a: V) -> V:
    return v[0] + s * a[0], v[1] + s * a[1], v[2] + s * a[2]


@compiled
def step(r: V, v: V, w: V, k1: V, h: float, c: F, drag: F, p: F) -> V:
    """Return one step: each coordinate as a polynomial in the share of the step, p[axis, power]; its last
    force.
    """
    k2 = acceleration(moved(v, h * A21, k1), w, c, drag)
    k3 = acceleration(moved(moved(v, h * A31, k1), h * A32, k2), w, c, drag)
    k4 = acceleration(moved(moved(moved(v, h * A41, k1), h * A42, k2), h * A43, k3), w, c, drag)
    u = moved(moved(moved(moved(v, h * A51, k1), h * A52, k2), h * A53, k3), h * A54, k4)
    k5 = acceleration(u, w, c, drag)
    u = moved(moved(moved(moved(moved(v, h * A61, k1), h * A62, k2), h * A63, k3), h * A64, k4), h * A65, k5)
    k6 = acceleration(u, w, c, drag)
    end = moved(moved(moved(moved(moved(v, h * B1, k1), h * B3, k3), h * B4, k4), h * B5, k5), h * B6, k6)
    k7 = acceleration(end, w, c, drag)
    for i in range(3):
        gain = end[i] - v[i]
        r3 = h * k1[i] - gain
        r4 = gain - h * k7[i] - r3
        r5 = h * (D1 * k1[i] + D3 * k3[i] + D4 * k4[i] + D5 * k5[i] + D6 * k6[i] + D7 * k7[i])
        p[i, 0] = r[i]
        p[i, 1] = h * v[i]
        p[i, 2] = h * h * k1[i] / 2.0
        p[i, 3] = h * (r4 + r5 - r3) / 3.0
        p[i, 4] = -h * (r4 + 2.0 * r5) / 4.0
        p[i, 5] = h * r5 / 5.0
    return k7


@compiled
def value_at(p: F, axis: int, s: float) -> float:
    return p[axis, 0] + s * (
        p[axis, 1] + s * (p[axis, 2] + s * (p[axis, 3] + s * (p[axis, 4] + s * p[axis, 5])))
    )


@compiled
def slope_at(p: F, axis: int, s: float) -> float:
    return p[axis, 1] + s * (
        2.0 * p[axis, 2] + s * (3.0 * p[axis, 3] + s * (4.0 * p[axis, 4] + s * 5.0 * p[axis, 5]))
    )


@compiled
def place_at(p: F, s: float) -> V:
    return value_at(p, 0, s), value_at(p, 1, s), value_at(p, 2, s)


@compiled
def velocity_at(p: F, s: float, h: float) -> V:
    return slope_at(p, 0, s) / h, slope_at(p, 1, s) / h, slope_at(p, 2, s) / h


@compiled
def plane_of(surface: int, c: F) -> tuple[int, float, float]:
    """Axis, place of the ball's centre at contact, and +1 where the court lies above that place."""
    if surface == col.FLOOR:
        return 2, c[col.RADIUS], 1.0
    if surface == col.FRONT:
        return 1, c[col.RADIUS], 1.0
    if surface == col.LEFT:
        return 0, c[col.RADIUS], 1.0
    if surface == col.RIGHT:
        return 0, c[col.WIDTH] - c[col.RADIUS], -1.0
    return 1, c[col.LENGTH] - c[col.RADIUS], -1.0


@compiled
def root_of(p: F, axis: int, at: float, side: float, high: float) -> float:
    """Return where the coordinate passes `at` on its way out of the court, between 0 and `high` of the
    step.
    """
    low, s = 0.0, high
    for _ in range(60):
        gap = side * (value_at(p, axis, s) - at)
        if gap > 0.0:
            low = s
        else:
            high = s
        slope = side * slope_at(p, axis, s)
        next_s = s - gap / slope if slope < 0.0 else 2.0
        if not low <= next_s <= high:
            next_s = 0.5 * (low + high)
        if abs(next_s - s) < 1e-7:  # Newton squares it: 1e-14 of the step is left
            return next_s
        s = next_s
    return s


@compiled
def dip(p: F, axis: int, at: float, side: float) -> float:
    """Return where in the step a wall is grazed and left again, or 0: only where spin bends the path away."""
    low, high = 0.0, 1.0
    for _ in range(50):
        s = 0.5 * (low + high)
        if side * slope_at(p, axis, s) < 0.0:
            low = s
        else:
            high = s
    return low if side * (value_at(p, axis, low) - at) < 0.0 else 0.0


@compiled
def reached(p: F, surface: int, c: F, best: float, which: int) -> tuple[float, int]:
    """Return the earlier of the contact already found and the one with this surface."""
    axis, at, side = plane_of(surface, c)
    last = 0.0
    if side * (value_at(p, axis, 1.0) - at) < 0.0:
        last = 1.0
    elif side * p[axis, 1] < 0.0 and side * slope_at(p, axis, 1.0) > 0.0:
        last = dip(p, axis, at, side)
    if last > 0.0:
        s = root_of(p, axis, at, side, last)
        if s < best:
            return s, surface
    return best, which


@compiled
def first_contact(p: F, c: F) -> tuple[float, int]:
    """Return share of the step, and surface, of the first contact in the step; (2, -1) if there is none."""
    best, which = reached(p, col.FLOOR, c, 2.0, -1)
    best, which = reached(p, col.FRONT, c, best, which)
    best, which = reached(p, col.LEFT, c, best, which)
    best, which = reached(p, col.RIGHT, c, best, which)
    return reached(p, col.BACK, c, best, which)


@compiled
def other_near(p: F, s: float, h: float, which: int, c: F) -> int:
    """Return a second surface that the ball, still moving towards it, has within two millimetres; else -1."""
    for surface in range(5):
        axis, at, side = plane_of(surface, c)
        closing = -side * slope_at(p, axis, s) / h
        if surface != which and closing > 0.0:
            gap = side * (value_at(p, axis, s) - at)
            if gap < max(col.CORNER_GAP_M, closing * col.CORNER_GAP_S):
                return surface
    return -1


@compiled
def time_to_close(gap: float, speed: float, accel: float) -> float:
    """Return time until a gap closes at steady acceleration; large if it does not. `speed` > 0 opens the
    gap.
    """
    if abs(accel) < 1e-9:
        return -gap / speed if speed < 0.0 else 1e9
    inner = speed * speed - 2.0 * accel * gap
    if inner < 0.0:
        return 1e9
    root = math.sqrt(inner)
    # The stable form of the two roots; the wanted one is the first at which the gap is closing.
    if accel < 0.0:
        return (speed + root) / -accel if speed > 0.0 else 2.0 * gap / (root - speed)
    return 2.0 * gap / (root - speed) if speed < 0.0 else 1e9


@compiled
def stride(r: V, v: V, a: V, c: F, longest: float) -> float:
    """Length of the next step: just past the contact that steady acceleration foretells, cut evenly."""
    big = c[col.RADIUS]
    due = time_to_close(max(0.0, r[2] - big), v[2], a[2])
    if due < 1e-9:
        due = 1e9
    if v[1] < 0.0:
        due = min(due, time_to_close(max(0.0, r[1] - big), v[1], a[1]))
    else:
        due = min(due, time_to_close(max(0.0, c[col.LENGTH] - big - r[1]), -v[1], -a[1]))
    if v[0] < 0.0:
        due = min(due, time_to_close(max(0.0, r[0] - big), v[0], a[0]))
    else:
        due = min(due, time_to_close(max(0.0, c[col.WIDTH] - big - r[0]), -v[0], -a[0]))
    due = 1.02 * due + 2e-6
    return due / math.ceil(due / longest) if due < 1e8 else longest
