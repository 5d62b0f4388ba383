"""Compiled search for the launches that meet spots on the front wall, many at once.

Each lane flies one try to the front wall, step by step, and corrects it there until it meets its spot.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from goodlength.ball.flight import batched_flight_row_indices as at
from goodlength.ball.flight.batched_flight_kernel import (
    air_of,
    either,
    path,
    put_three,
    slope_into,
    take_step,
    three,
)
from goodlength.ball.flight.batched_flight_row_indices import LANES
from goodlength.ball.flight.free_flight_kernel import (
    F,
    N,
    V,
    acceleration,
    compiled,
    compiled_apart,
    newton,
    slope_at,
    time_to_close,
    value_at,
)
from goodlength.ball.model import flight_array_indices as col

MOST_TURNS = 30
MET_M = 1e-6
NEVER_M = 1e9
LONGEST_S = 4.0


@compiled
def toward(speed: float, across: float, up: float) -> V:
    """Return velocity of that speed with slopes `across` (dx over -dy) and `up` (dz over -dy)."""
    forward = speed / math.sqrt(1.0 + across * across + up * up)
    return across * forward, -forward, up * forward


@compiled_apart
def begin_aim(
    s: F, k: int, wanted: int, starts: F, speeds: F, spots: F, sets: F, index: N, high: bool
) -> None:
    """Put a search into a lane; `wanted` past the last leaves the lane idle.

    It begins with the slopes that meet the spot without air, or the farthest where even those fall short.
    """
    idle = wanted >= starts.shape[0]
    n = 0 if idle else wanted
    for i in range(col.COEFFICIENT_COLUMNS):
        s[at.COEFFICIENT + i * LANES + k] = sets[index[n], i]
    for i in range(3):
        s[at.X + i * LANES + k] = s[at.START_X + i * LANES + k] = starts[n, i]
        s[at.WX + i * LANES + k] = starts[n, 3 + i]
    x, z, speed = spots[n, 0], spots[n, 1], speeds[n]
    far = starts[n, 1] - sets[index[n], col.RADIUS]
    across = (x - starts[n, 0]) / far
    fall = sets[index[n], col.GRAVITY] * far * far / (2.0 * speed * speed)
    inner = far * far - 4.0 * fall * (fall * (1.0 + across * across) + z - starts[n, 2])
    root = math.sqrt(max(inner, 0.0))
    up = (far + root if high else far - root) / (2.0 * fall)
    lean = far - 2.0 * fall * up  # dz over d(up) without air
    off_x, off_z = air_miss(s, k, toward(speed, across, up), far)
    across, up = across - off_x / far, up - clipped(off_z / bounded(lean, far, high))
    s[at.ACROSS + k], s[at.UP + k], s[at.SPEED + k], s[at.LEAN + k] = across, up, speed, lean
    s[at.SPOT_X + k], s[at.SPOT_Z + k], s[at.HIGH + k] = x, z, 1.0 if high else 0.0
    s[at.LAST_UP + k], s[at.LAST_Z + k], s[at.TURN + k], s[at.MISS + k] = 0.0, 0.0, 0.0, NEVER_M
    s[at.TIME + k], s[at.ENDED + k], s[at.LAUNCH + k] = 0.0, -1.0, -1.0 if idle else float(n)
    put_three(s, at.VX, k, toward(speed, across, up))


@compiled
def clipped(turn: float) -> float:
    return min(max(turn, -0.5), 0.5)


@compiled
def bounded(lean: float, far: float, high: bool) -> float:
    """Return how the height follows the slope, kept from nothing and from the other sign."""
    least = 0.02 * far
    flat = lean if lean > least else least
    lofted = lean if lean < -least else -least
    return lofted if high else flat


@compiled
def air_miss(s: F, k: int, v: V, far: float) -> tuple[float, float]:
    """Return how far aside and up the air carries a ball until the front wall, by two terms of a series.

    The pull of the air fades as the ball slows, and slows its fall too.
    """
    ax, ay, az = acceleration(v, three(s, at.WX, k), air_of(s, k))
    gravity = s[at.GRAVITY + k]
    air = ax, ay, az + gravity
    speed2 = v[0] * v[0] + v[1] * v[1] + v[2] * v[2]
    along = -(air[0] * v[0] + air[1] * v[1] + air[2] * v[2]) / speed2  # 1/s: deceleration over speed
    straight = far / -v[1]
    bend = min(max(0.5 * air[1] * straight / -v[1], -0.2), 0.2)
    t = straight * (1.0 + bend + (2.0 * bend - (2.0 / 3.0) * along * straight) * bend)
    fades = 0.5 * t * t * (1.0 - (2.0 / 3.0) * along * t)
    later = t - straight
    sinks = 0.5 * gravity * (t * t - straight * straight) - along * gravity * t * t * t / 6.0
    return v[0] * later + air[0] * fades, v[2] * later + air[2] * fades - sinks


@compiled_apart
def try_aims(s: F, longest: float, close: float) -> None:
    """One step of every try; those that come to the front wall are corrected and start again.

    One that missed by less than `close` is corrected and not flown again.
    """
    for k in range(LANES):
        slope_into(s, at.K1, k, three(s, at.VX, k))
    for k in range(LANES):
        due = time_to_close(s[at.Y + k] - s[at.RADIUS + k], s[at.VY + k], s[at.K1 + LANES + k])
        s[at.STEP + k] = min(1.02 * due + 1e-6, longest)
    take_step(s)
    for k in range(LANES):
        px, py, pz = path(s, at.PX, k), path(s, at.PY, k), path(s, at.PZ, k)
        big, h = s[at.RADIUS + k], s[at.STEP + k]
        there = value_at(py, 1.0) < big
        root, _ = newton(py, big, 1.0)
        share = min(max(root, 0.0), 1.0) if there else 1.0
        r = value_at(px, share), value_at(py, share), value_at(pz, share)
        v = slope_at(px, 1.0) / h, slope_at(py, 1.0) / h, slope_at(pz, 1.0) / h
        t = s[at.TIME + k] + share * h
        lost = (not there) & ((t >= LONGEST_S) | (v[1] >= 0.0))
        v_trial = toward(s[at.SPEED + k], s[at.ACROSS + k], s[at.UP + k])
        met = correct(s, k, there, r)
        v_next = toward(s[at.SPEED + k], s[at.ACROSS + k], s[at.UP + k])
        over = there & ((s[at.TURN + k] >= MOST_TURNS) | (s[at.MISS + k] < close))
        put_three(s, at.HIT_VX, k, either(over & (not met), v_next, v_trial))
        s[at.MISS + k] = NEVER_M if lost else s[at.MISS + k]
        s[at.ENDED + k] = 1.0 if met | lost | over else -1.0
        s[at.TIME + k] = 0.0 if there else t
        put_three(s, at.X, k, either(there, three(s, at.START_X, k), r))
        put_three(s, at.VX, k, either(there, v_next, v))


@compiled
def correct(s: F, k: int, there: bool, r: V) -> bool:
    """Correct the slopes of a try that came to the front wall at r; return whether it met its spot."""
    across, up, turn = s[at.ACROSS + k], s[at.UP + k], s[at.TURN + k]
    off_x, off_z = r[0] - s[at.SPOT_X + k], r[2] - s[at.SPOT_Z + k]
    miss = math.sqrt(off_x * off_x + off_z * off_z)
    met = there & (miss < MET_M)
    far = s[at.START_X + LANES + k] - s[at.RADIUS + k]
    moved = up - s[at.LAST_UP + k]
    by_secant = (turn > 0.0) & (abs(moved) > 1e-12)
    lean = (r[2] - s[at.LAST_Z + k]) / (moved if by_secant else 1.0)
    lean = lean if by_secant else s[at.LEAN + k]
    lean = bounded(lean, far, s[at.HIGH + k] > 0.0)
    goes = there & (not met)
    s[at.MISS + k] = miss if there else s[at.MISS + k]
    s[at.LEAN + k] = lean if goes else s[at.LEAN + k]
    s[at.LAST_UP + k] = up if goes else s[at.LAST_UP + k]
    s[at.LAST_Z + k] = r[2] if goes else s[at.LAST_Z + k]
    s[at.TURN + k] = turn + (1.0 if goes else 0.0)
    s[at.ACROSS + k] = across - off_x / far if goes else across
    s[at.UP + k] = up + clipped(-off_z / lean) if goes else up
    return met
