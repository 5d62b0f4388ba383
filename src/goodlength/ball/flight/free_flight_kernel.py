"""Formulas of free flight between two contacts, and of the crossing of a plane, for one flight.

They have no branches, only choices between two numbers, so that a loop over many flights that calls them is
worked out for several at once. Only the velocity is integrated, for the force does not depend on the place:
the fifth-order Runge-Kutta pair of source: DORMAND-PRINCE-1980 with its fourth-order interpolant. One step so
gives each coordinate as a polynomial, and a contact is the first root of a polynomial. Steps are aimed just
past the next contact, as source: BALL-NOTE 4.5 asks.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from goodlength.ball.flight.numba_or_plain_python import njit
from goodlength.ball.model.drag_coefficient import DRAG_DENOMINATOR, DRAG_NUMERATOR

# DORMAND-PRINCE-1980, table 2; weights of the interpolant as in source: HAIRER-1993, II.6.
A21 = 1 / 5
A31, A32 = 3 / 40, 9 / 40
A41, A42, A43 = 44 / 45, -56 / 15, 32 / 9
A51, A52, A53, A54 = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
A61, A62, A63, A64, A65 = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
B1, B3, B4, B5, B6 = 35 / 384, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84
D1, D3, D4 = -12715105075 / 11282082432, 87487479700 / 32700410799, -10690763975 / 1880347072
D5, D6, D7 = 701980252875 / 199316789632, -1453857185 / 822651844, 69997945 / 29380423

A0, A1, A2, A3, A4, A5, A6 = DRAG_NUMERATOR
_, Q1, Q2, Q3, Q4, Q5, Q6 = DRAG_DENOMINATOR
NEVER_S = 1e9

V = tuple[float, float, float]
# A coordinate over one step: the powers 0 to 5 of the share of the step.
P = tuple[float, float, float, float, float, float]
# What the air does: gravity, drag by Reynolds number, constant drag, lift, radius, Reynolds number per
# speed, and whether the lift goes by the whole spin.
Air = tuple[float, float, float, float, float, float, float]
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


def compiled_apart(function: Any_function) -> Any_function:
    """Compile when first called from compiled code, once for all that call it."""
    made: Any_function = njit(**HOW)(function)
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
    dispatcher: Any = njit(signature, cache=True, **HOW)(function)
    return dispatcher


def _forget_compiled(function: Callable[..., Any]) -> None:
    """Delete what is kept on the disk of the module of a function."""
    stats = getattr(njit(cache=True, **HOW)(function), "stats", None)
    if stats is not None:  # without compiling nothing is kept
        for path in Path(stats.cache_path).glob(f"{Path(function.__code__.co_filename).stem}.*.nb[ci]"):
            with suppress(OSError):
                path.unlink()


@compiled
def acceleration(v: V, w: V, air: Air) -> V:
    """Acceleration, m/s2: weight, drag along the path, lift across it (k_L S/(2S+1), S by the cross spin)."""
    gravity, drag_by_reynolds, drag_constant, lift, radius, reynolds_per_speed, whole_spin = air
    vx, vy, vz = v
    wx, wy, wz = w
    speed2 = vx * vx + vy * vy + vz * vz
    speed = math.sqrt(speed2)
    u = speed * reynolds_per_speed
    above = A0 + u * (A1 + u * (A2 + u * (A3 + u * (A4 + u * (A5 + u * A6)))))
    below = 1.0 + u * (Q1 + u * (Q2 + u * (Q3 + u * (Q4 + u * (Q5 + u * Q6)))))
    lx = wy * vz - wz * vy
    ly = wz * vx - wx * vz
    lz = wx * vy - wy * vx
    # C_L |v|^2 (w x v)/|w x v| with S = R |w x v| / |v|^2; the small number keeps 0/0 away.
    across2 = lx * lx + ly * ly + lz * lz
    whole2 = speed2 * (wx * wx + wy * wy + wz * wz)
    cross = math.sqrt(whole2 if whole_spin > 0.0 else across2)
    spun = 2.0 * radius * cross + speed2 + 1e-290
    each = 1.0 / (below * spun)  # one division for the two fractions
    slow = -(drag_by_reynolds * above * spun * each + drag_constant * speed)
    turn = lift * speed2 * below * each
    return slow * vx + turn * lx, slow * vy + turn * ly, slow * vz + turn * lz - gravity


@compiled
def moved(v: V, s: float, a: V) -> V:
    return v[0] + s * a[0], v[1] + s * a[1], v[2] + s * a[2]


@compiled
def stage_2(v: V, h: float, k1: V) -> V:
    return moved(v, h * A21, k1)


@compiled
def stage_3(v: V, h: float, k1: V, k2: V) -> V:
    return moved(moved(v, h * A31, k1), h * A32, k2)


@compiled
def stage_4(v: V, h: float, k1: V, k2: V, k3: V) -> V:
    return moved(moved(moved(v, h * A41, k1), h * A42, k2), h * A43, k3)


@compiled
def stage_5(v: V, h: float, k1: V, k2: V, k3: V, k4: V) -> V:
    return moved(moved(moved(moved(v, h * A51, k1), h * A52, k2), h * A53, k3), h * A54, k4)


@compiled
def stage_6(v: V, h: float, k1: V, k2: V, k3: V, k4: V, k5: V) -> V:
    u = moved(moved(moved(moved(v, h * A61, k1), h * A62, k2), h * A63, k3), h * A64, k4)
    return moved(u, h * A65, k5)


@compiled
def stage_7(v: V, h: float, k1: V, k3: V, k4: V, k5: V, k6: V) -> V:
    """Return the velocity at the end of the step."""
    return moved(moved(moved(moved(moved(v, h * B1, k1), h * B3, k3), h * B4, k4), h * B5, k5), h * B6, k6)


@compiled
def step(r: V, v: V, w: V, k1: V, h: float, air: Air) -> tuple[P, P, P]:
    """Return one step: each coordinate as a polynomial in the share of the step."""
    k2 = acceleration(stage_2(v, h, k1), w, air)
    k3 = acceleration(stage_3(v, h, k1, k2), w, air)
    k4 = acceleration(stage_4(v, h, k1, k2, k3), w, air)
    k5 = acceleration(stage_5(v, h, k1, k2, k3, k4), w, air)
    k6 = acceleration(stage_6(v, h, k1, k2, k3, k4, k5), w, air)
    end = stage_7(v, h, k1, k3, k4, k5, k6)
    k7 = acceleration(end, w, air)
    return (
        interpolant(r[0], v[0], end[0], h, (k1[0], k3[0], k4[0], k5[0], k6[0], k7[0])),
        interpolant(r[1], v[1], end[1], h, (k1[1], k3[1], k4[1], k5[1], k6[1], k7[1])),
        interpolant(r[2], v[2], end[2], h, (k1[2], k3[2], k4[2], k5[2], k6[2], k7[2])),
    )


@compiled
def interpolant(r: float, v: float, end: float, h: float, k: P) -> P:
    """Return one coordinate over a step, from where it starts, both speeds and the six slopes that count."""
    k1, k3, k4, k5, k6, k7 = k
    gain = end - v
    r3 = h * k1 - gain
    r4 = gain - h * k7 - r3
    r5 = h * (D1 * k1 + D3 * k3 + D4 * k4 + D5 * k5 + D6 * k6 + D7 * k7)
    third, fourth = h * (r4 + r5 - r3) * (1.0 / 3.0), -h * (r4 + 2.0 * r5) * 0.25
    return r, h * v, h * h * k1 * 0.5, third, fourth, h * r5 * 0.2


@compiled
def value_at(p: P, s: float) -> float:
    return p[0] + s * (p[1] + s * (p[2] + s * (p[3] + s * (p[4] + s * p[5]))))


@compiled
def slope_at(p: P, s: float) -> float:
    return p[1] + s * (2.0 * p[2] + s * (3.0 * p[3] + s * (4.0 * p[4] + s * 5.0 * p[5])))


@compiled
def newton_step(p: P, at: float, s: float) -> float:
    """Return a better guess where the coordinate passes `at`."""
    return s - (value_at(p, s) - at) / slope_at(p, s)


@compiled
def newton(p: P, at: float, s: float) -> tuple[float, float]:
    """Return where the coordinate passes `at`, by four steps from `s`, and how long the last step was."""
    before = newton_step(p, at, newton_step(p, at, newton_step(p, at, s)))
    found = newton_step(p, at, before)
    return found, abs(found - before)


@compiled
def root_of(p: P, at: float, side: float, high: float) -> float:
    """Return where the coordinate passes `at` on its way out of the court, between 0 and `high` of the
    step.
    """
    low, s = 0.0, high
    for _ in range(60):
        gap = side * (value_at(p, s) - at)
        if gap > 0.0:
            low = s
        else:
            high = s
        slope = side * slope_at(p, s)
        next_s = s - gap / slope if slope < 0.0 else 2.0
        if not low <= next_s <= high:
            next_s = 0.5 * (low + high)
        if abs(next_s - s) < 1e-7:  # Newton squares it: 1e-14 of the step is left
            return next_s
        s = next_s
    return s


@compiled
def dip(p: P, at: float, side: float) -> float:
    """Return where in the step a wall is grazed and left again, or 0: only where spin bends the path away."""
    low, high = 0.0, 1.0
    for _ in range(50):
        s = 0.5 * (low + high)
        if side * slope_at(p, s) < 0.0:
            low = s
        else:
            high = s
    return low if side * (value_at(p, low) - at) < 0.0 else 0.0


@compiled
def reached(p: P, at: float, side: float) -> float:
    """Return the share of the step at which a surface is touched, found with care; 2 if it is not."""
    last = 0.0
    if side * (value_at(p, 1.0) - at) < 0.0:
        last = 1.0
    elif side * p[1] < 0.0 and side * slope_at(p, 1.0) > 0.0:
        last = dip(p, at, side)
    return root_of(p, at, side, last) if last > 0.0 else 2.0


@compiled
def may_graze(p: P, gap: float) -> bool:
    """Return whether the path turns within the step, near enough to a wall that it may have touched it."""
    return (p[1] * slope_at(p, 1.0) < 0.0) & (gap < 1.5 * abs(p[1]))


@compiled
def time_to_close(gap: float, speed: float, accel: float) -> float:
    """Return time until a gap closes at steady acceleration; large if it does not. `speed` > 0 opens the
    gap.
    """
    inner = speed * speed - 2.0 * accel * gap
    root = math.sqrt(max(inner, 0.0))
    opens = speed > 0.0
    closes = (inner >= 0.0) & ((accel < -1e-9) | (speed < 0.0))
    # The stable form of the two roots; the wanted one is the first at which the gap is closing.
    above = speed + root if opens else 2.0 * gap
    below = -accel if opens else root - speed
    time = above / (below if closes else 1.0)
    return time if closes else NEVER_S


@compiled
def stride(r: V, v: V, a: V, size: V, longest: float) -> float:
    """Length of the next step: just past the contact that steady acceleration foretells, cut evenly.

    `size` is the radius, and the width and length of the court.
    """
    big, wide, long = size
    due = time_to_close(max(0.0, r[2] - big), v[2], a[2])
    due = NEVER_S if due < 1e-9 else due
    ahead = r[1] - big if v[1] < 0.0 else long - big - r[1]
    due = min(due, time_to_wall(ahead, abs(v[1]), a[1] if v[1] < 0.0 else -a[1]))
    aside = r[0] - big if v[0] < 0.0 else wide - big - r[0]
    due = min(due, time_to_wall(aside, abs(v[0]), a[0] if v[0] < 0.0 else -a[0]))
    due = 1.02 * due + 2e-6
    even = due / math.ceil(due / longest)
    return even if due < 1e8 else longest


@compiled
def time_to_wall(gap: float, speed: float, slows: float) -> float:
    """Return time until a wall is reached at steady deceleration, by its first two terms; large if slow."""
    each = 1.0 / (speed + 1e-9)
    time = max(0.0, gap) * each
    bend = 0.5 * slows * time * each
    bend = max(bend, -0.3)
    return time * (1.0 + bend + 2.0 * bend * bend) if bend < 0.2 else NEVER_S
