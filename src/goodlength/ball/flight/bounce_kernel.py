"""Compiled kernel of a contact: bounce, nick, and the row written for it."""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from goodlength.ball.flight.free_flight_kernel import F, V, compiled, plane_of
from goodlength.ball.model import array_layout as col


@compiled
def bounce_once(v: V, w: V, surface: int, c: F, most: float) -> tuple[V, V]:
    """Return velocity and spin after a contact: grip or slip (BALL-NOTE 4.2); restitution at `most`."""
    axis, _, side = plane_of(surface, c)
    i, j = (axis + 1) % 3, (axis + 2) % 3  # axis, i, j are a right-handed set
    speed_in = abs(v[axis])
    e = min(most, c[col.K_FLOOR + surface] * c[col.E7] * (max(speed_in, 1.0) / 7.0) ** -c[col.SPEED_POWER])
    # Slip of the contact point, which lies at -R n: u = v_t - R (w x n), with n = side along the axis.
    ui = v[i] - c[col.RADIUS] * side * w[j]
    uj = v[j] + c[col.RADIUS] * side * w[i]
    slip = math.sqrt(ui * ui + uj * uj)
    grip = (1.0 + c[col.GRIP]) * slip * c[col.ALPHA] / (1.0 + c[col.ALPHA])
    push = min(grip, c[col.MU_FLOOR + surface] * (1.0 + e) * speed_in)
    pi = pj = 0.0
    if slip > 0.0:
        pi, pj = push * ui / slip, push * uj / slip
    twist = side / (c[col.ALPHA] * c[col.RADIUS])
    return turned(v, axis, side * e * speed_in, v[i] - pi, v[j] - pj), turned(
        w, axis, w[axis], w[i] - twist * pj, w[j] + twist * pi
    )


@compiled
def turned(_old: V, axis: int, along: float, i_value: float, j_value: float) -> V:
    if axis == 0:
        return along, i_value, j_value
    if axis == 1:
        return j_value, along, i_value
    return i_value, j_value, along


@compiled
def nick_chance(r: V, v: V, surface: int, c: F) -> float:
    """Return chance that a wall contact low over the floor rolls out (BALL-NOTE 4.3; a guess without
    data).
    """
    under = r[2] - c[col.RADIUS]
    hold = c[col.DWELL] if c[col.DWELL] > 0.0 else col.GUESSED_HOLD_S
    if surface == col.FLOOR or v[2] > 0.0 or under >= min(0.01, hold * max(-v[2], 1.0)):
        return 0.0
    return 0.5 if under >= 0.005 else 0.2


@compiled
def note(
    ev: F, n: int, t: float, r: V, v: V, v_out: V, w_out: V, surface: int, near: int, chance: float
) -> None:
    row = ev[n]
    row[col.TIME] = t
    row[col.X], row[col.Y], row[col.Z] = r
    row[col.VX_IN], row[col.VY_IN], row[col.VZ_IN] = v
    row[col.VX], row[col.VY], row[col.VZ] = v_out
    row[col.WX], row[col.WY], row[col.WZ] = w_out
    row[col.SURFACE] = surface
    row[col.CORNER] = near
    row[col.NICK] = chance


@compiled
def snapped(r: V, surface: int, c: F) -> V:
    """Return the place moved onto the plane of the surface exactly."""
    axis, at, _ = plane_of(surface, c)
    if axis == 0:
        return at, r[1], r[2]
    if axis == 1:
        return r[0], at, r[2]
    return r[0], r[1], at


@compiled
def settled(r: V, v: V, v_out: V, surface: int, c: F) -> V:
    """Return where the ball leaves: on the plane, moved along it while the contact lasts (BALL-NOTE
    4.2.5).
    """
    half, big = 0.5 * c[col.DWELL], c[col.RADIUS]
    x = min(max(r[0] + half * (v[0] + v_out[0]), big), c[col.WIDTH] - big)
    y = min(max(r[1] + half * (v[1] + v_out[1]), big), c[col.LENGTH] - big)
    z = max(r[2] + half * (v[2] + v_out[2]), big)
    return snapped((x, y, z), surface, c)


@compiled
def rolled_out(v: V, w: V, surface: int, c: F) -> tuple[V, V]:
    """Return velocity and spin of a ball that leaves the nick along the floor (BALL-NOTE 4.3)."""
    v_out, w_out = bounce_once(v, w, surface, c, col.MOST_RESTITUTION)
    along_x = surface in (col.FRONT, col.BACK)
    return (v_out[0], v_out[1], 0.0), (0.0 if along_x else w_out[0], w_out[1] if along_x else 0.0, w_out[2])
