"""Formulas of a contact for one flight: bounce, nick, roll-out; without branches, as free flight is."""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from goodlength.ball.flight.free_flight_kernel import V, compiled
from goodlength.ball.model import flight_array_indices as col

# The ball and the surface it meets: radius, factor of inertia, grip, restitution at 7 m/s on this surface,
# its power of speed, friction, and the most that restitution may be.
Meeting = tuple[float, float, float, float, float, float, float]


@compiled
def power(x: float, exponent: float) -> float:
    """Return x to a power, for x from 0.1 to 20 and exponents from -1 to 1, to 14 digits.

    Logarithm and exponential as series, after three square roots; the library's own cannot be worked out for
    several flights at once.
    """
    y = math.sqrt(math.sqrt(math.sqrt(x)))
    z = (y - 1.0) / (y + 1.0)
    q = z * z
    odd = 1.0 + q * (1 / 3 + q * (1 / 5 + q * (1 / 7 + q * (1 / 9 + q * (1 / 11 + q * (1 / 13 + q / 15))))))
    a = exponent * 2.0 * z * odd
    tail = 1.0 + a * (1 / 8) * (1.0 + a * (1 / 9) * (1.0 + a * (1 / 10) * (1.0 + a * (1 / 11))))
    front = 1.0 + a * (1 / 4) * (1.0 + a * (1 / 5) * (1.0 + a * (1 / 6) * (1.0 + a * (1 / 7) * tail)))
    e = 1.0 + a * (1.0 + a * (1 / 2) * (1.0 + a * (1 / 3) * front))
    e *= e
    e *= e
    return e * e


@compiled
def bounce_once(v: V, w: V, surface: float, meeting: Meeting) -> tuple[V, V]:
    """Return velocity and spin after a contact: grip or slip (BALL-NOTE 4.2)."""
    radius, alpha, grip, e7, speed_power, friction, most = meeting
    floor = surface == col.FLOOR
    end = (surface == col.FRONT) | (surface == col.BACK)
    side = -1.0 if (surface == col.RIGHT) | (surface == col.BACK) else 1.0
    vn, vi, vj = into_surface(v, floor, end)
    wn, wi, wj = into_surface(w, floor, end)
    speed_in = abs(vn)
    e = min(most, e7 * power(max(speed_in, 1.0) / 7.0, -speed_power))
    # Slip of the contact point, which lies at -R n: u = v_t - R (w x n), with n = side along the axis.
    ui = vi - radius * side * wj
    uj = vj + radius * side * wi
    slip = math.sqrt(ui * ui + uj * uj)
    gripped = (1.0 + grip) * slip * alpha / (1.0 + alpha)
    push = min(gripped, friction * (1.0 + e) * speed_in) / (slip + 1e-300)
    pi, pj = push * ui, push * uj
    twist = side / (alpha * radius)
    return (
        out_of_surface((side * e * speed_in, vi - pi, vj - pj), floor, end),
        out_of_surface((wn, wi - twist * pj, wj + twist * pi), floor, end),
    )


@compiled
def into_surface(v: V, floor: bool, end: bool) -> V:
    """Return the part along the surface's axis, then those along it: a right-handed set."""
    return (
        v[2] if floor else (v[1] if end else v[0]),
        v[0] if floor else (v[2] if end else v[1]),
        v[1] if floor else (v[0] if end else v[2]),
    )


@compiled
def out_of_surface(parts: V, floor: bool, end: bool) -> V:
    """Undo `into_surface`."""
    n, i, j = parts
    return (
        i if floor else (j if end else n),
        j if floor else (n if end else i),
        n if floor else (i if end else j),
    )


@compiled
def nick_chance(z: float, vz: float, surface: float, radius: float, dwell: float) -> float:
    """Return chance that a wall contact low over the floor rolls out (BALL-NOTE 4.3; a guess without
    data).
    """
    under = z - radius
    hold = dwell if dwell > 0.0 else col.GUESSED_HOLD_S
    low = (surface != col.FLOOR) & (vz <= 0.0) & (under < min(0.01, hold * max(-vz, 1.0)))
    chance = 0.5 if under >= 0.005 else 0.2
    return chance if low else 0.0


@compiled
def snapped(r: V, surface: float, size: V) -> V:
    """Return the place moved onto the plane of the surface exactly; `size` as for `stride`."""
    big, wide, long = size
    x = big if surface == col.LEFT else (wide - big if surface == col.RIGHT else r[0])
    y = big if surface == col.FRONT else (long - big if surface == col.BACK else r[1])
    return x, y, big if surface == col.FLOOR else r[2]


@compiled
def settled(r: V, v: V, v_out: V, surface: float, size: V, dwell: float) -> V:
    """Return where the ball leaves: on the plane, moved along it while the contact lasts (BALL-NOTE
    4.2.5).
    """
    big, wide, long = size
    half = 0.5 * dwell
    x = min(max(r[0] + half * (v[0] + v_out[0]), big), wide - big)
    y = min(max(r[1] + half * (v[1] + v_out[1]), big), long - big)
    z = max(r[2] + half * (v[2] + v_out[2]), big)
    return snapped((x, y, z), surface, size)


@compiled
def rolled_out(v: V, w: V, surface: float) -> tuple[V, V]:
    """Return velocity and spin after a bounce as a ball has them that leaves the nick along the floor
    (BALL-NOTE 4.3).
    """
    end = (surface == col.FRONT) | (surface == col.BACK)
    return (v[0], v[1], 0.0), (0.0 if end else w[0], w[1] if end else 0.0, w[2])


@compiled
def other_near(r: V, v: V, surface: float, size: V) -> float:
    """Return a second surface that the ball, still moving towards it, has within two millimetres; else -1."""
    big, wide, long = size
    near = -1.0
    near = float(col.BACK) if is_near(long - big - r[1], v[1], surface, float(col.BACK)) else near
    near = float(col.RIGHT) if is_near(wide - big - r[0], v[0], surface, float(col.RIGHT)) else near
    near = float(col.LEFT) if is_near(r[0] - big, -v[0], surface, float(col.LEFT)) else near
    near = float(col.FRONT) if is_near(r[1] - big, -v[1], surface, float(col.FRONT)) else near
    return float(col.FLOOR) if is_near(r[2] - big, -v[2], surface, float(col.FLOOR)) else near


@compiled
def is_near(gap: float, closing: float, surface: float, this: float) -> bool:
    return (surface != this) & (closing > 0.0) & (gap < max(col.CORNER_GAP_M, closing * col.CORNER_GAP_S))
