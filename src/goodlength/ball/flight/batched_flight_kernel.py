"""Compiled loops over the flights in the air together: step, contact, summary.

Each loop does the same to every lane; `batched_flight_row_indices` names the rows. What needs branches (a
contact that the quick search may have missed) is done lane by lane afterwards, and is rare.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from goodlength.ball.flight import batched_flight_row_indices as at
from goodlength.ball.flight.batched_flight_row_indices import LANES
from goodlength.ball.flight.bounce_kernel import (
    bounce_once,
    nick_chance,
    other_near,
    rolled_out,
    settled,
    snapped,
)
from goodlength.ball.flight.free_flight_kernel import (
    Air,
    F,
    N,
    P,
    V,
    acceleration,
    compiled,
    compiled_apart,
    interpolant,
    may_graze,
    newton,
    newton_step,
    reached,
    slope_at,
    stage_2,
    stage_3,
    stage_4,
    stage_5,
    stage_6,
    stage_7,
    stride,
    value_at,
)
from goodlength.ball.model import flight_array_indices as col

NONE = 2.0  # a share of the step at which there is no contact


@compiled
def air_of(s: F, k: int) -> Air:
    return (
        s[at.GRAVITY + k],
        s[at.DRAG_BY_REYNOLDS + k],
        s[at.DRAG_CONSTANT + k],
        s[at.LIFT + k],
        s[at.RADIUS + k],
        s[at.REYNOLDS_PER_SPEED + k],
        s[at.WHOLE_SPIN + k],
    )


@compiled
def three(s: F, row: int, k: int) -> V:
    return s[row + k], s[row + LANES + k], s[row + 2 * LANES + k]


@compiled
def put_three(s: F, row: int, k: int, values: V) -> None:
    s[row + k], s[row + LANES + k], s[row + 2 * LANES + k] = values


@compiled
def path(s: F, row: int, k: int) -> P:
    return (
        s[row + k],
        s[row + LANES + k],
        s[row + 2 * LANES + k],
        s[row + 3 * LANES + k],
        s[row + 4 * LANES + k],
        s[row + 5 * LANES + k],
    )


@compiled
def put_path(s: F, row: int, k: int, p: P) -> None:
    for power in range(6):
        s[row + power * LANES + k] = p[power]


@compiled
def size_of(s: F, k: int) -> V:
    return s[at.RADIUS + k], s[at.WIDTH + k], s[at.LENGTH + k]


@compiled
def slope_into(s: F, row: int, k: int, v: V) -> None:
    put_three(s, row, k, acceleration(v, three(s, at.WX, k), air_of(s, k)))


@compiled_apart
def advance(s: F, longest: float) -> None:
    """One step of every flight, and the first contact in it."""
    for k in range(LANES):
        slope_into(s, at.K1, k, three(s, at.VX, k))
    for k in range(LANES):
        r, v, k1 = three(s, at.X, k), three(s, at.VX, k), three(s, at.K1, k)
        s[at.STEP + k] = stride(r, v, k1, size_of(s, k), longest)
    take_step(s)
    for k in range(LANES):
        find_contact(s, k)


@compiled
def take_step(s: F) -> None:
    """Each coordinate of every flight as a polynomial, from its first slope K1 and the length of its STEP.

    A loop for each stage, though one could do it all: a stage waits for square roots, and in a short loop the
    processor begins the next flights meanwhile.
    """
    for k in range(LANES):
        v, h, k1 = three(s, at.VX, k), s[at.STEP + k], three(s, at.K1, k)
        slope_into(s, at.K2, k, stage_2(v, h, k1))
    for k in range(LANES):
        v, h, k1, k2 = three(s, at.VX, k), s[at.STEP + k], three(s, at.K1, k), three(s, at.K2, k)
        slope_into(s, at.K3, k, stage_3(v, h, k1, k2))
    for k in range(LANES):
        v, h, k1, k2 = three(s, at.VX, k), s[at.STEP + k], three(s, at.K1, k), three(s, at.K2, k)
        slope_into(s, at.K4, k, stage_4(v, h, k1, k2, three(s, at.K3, k)))
    for k in range(LANES):
        v, h, k1, k2 = three(s, at.VX, k), s[at.STEP + k], three(s, at.K1, k), three(s, at.K2, k)
        slope_into(s, at.K5, k, stage_5(v, h, k1, k2, three(s, at.K3, k), three(s, at.K4, k)))
    for k in range(LANES):
        v, h, k1, k2 = three(s, at.VX, k), s[at.STEP + k], three(s, at.K1, k), three(s, at.K2, k)
        u = stage_6(v, h, k1, k2, three(s, at.K3, k), three(s, at.K4, k), three(s, at.K5, k))
        slope_into(s, at.K6, k, u)
    for k in range(LANES):
        slope_into(s, at.K7, k, end_of(s, k))
    for k in range(LANES):
        r, v, end, h = three(s, at.X, k), three(s, at.VX, k), end_of(s, k), s[at.STEP + k]
        put_path(s, at.PX, k, interpolant(r[0], v[0], end[0], h, slopes(s, 0, k)))
        put_path(s, at.PY, k, interpolant(r[1], v[1], end[1], h, slopes(s, LANES, k)))
        put_path(s, at.PZ, k, interpolant(r[2], v[2], end[2], h, slopes(s, 2 * LANES, k)))


@compiled
def end_of(s: F, k: int) -> V:
    """Return the velocity at the end of the step."""
    k1, k3, k4 = three(s, at.K1, k), three(s, at.K3, k), three(s, at.K4, k)
    k5, k6 = three(s, at.K5, k), three(s, at.K6, k)
    return stage_7(three(s, at.VX, k), s[at.STEP + k], k1, k3, k4, k5, k6)


@compiled
def slopes(s: F, axis: int, k: int) -> P:
    return (
        s[at.K1 + axis + k],
        s[at.K3 + axis + k],
        s[at.K4 + axis + k],
        s[at.K5 + axis + k],
        s[at.K6 + axis + k],
        s[at.K7 + axis + k],
    )


@compiled
def find_contact(s: F, k: int) -> None:
    """Find the contact of a step quickly, and say whether that may be wrong.

    That is where two planes are crossed, the search does not settle, or a wall may be grazed and left.
    """
    px, py, pz = path(s, at.PX, k), path(s, at.PY, k), path(s, at.PZ, k)
    big, wide, long = size_of(s, k)
    x, y = value_at(px, 1.0), value_at(py, 1.0)
    left, right, front, back = x < big, x > wide - big, y < big, y > long - big
    aside, ahead, floor = left | right, front | back, value_at(pz, 1.0) < big
    plane = wide - big if right else (long - big if back else big)
    share, last = newton(choose(aside, px, choose(ahead, py, pz)), plane, 1.0)
    settled_at = (last < 1e-7) & (share >= 0.0) & (share <= 1.0)
    unclear = (floor & (aside | ahead)) | (aside & ahead)
    crossed = floor | aside | ahead
    unclear |= crossed & (not settled_at)
    unclear |= may_graze(px, min(px[0] - big, wide - big - px[0]))
    unclear |= may_graze(py, min(py[0] - big, long - big - py[0]))
    unclear |= (pz[1] < 0.0) & (slope_at(pz, 1.0) > 0.0)
    surface = float(col.FLOOR) if floor else -1.0
    surface = (float(col.FRONT) if front else float(col.BACK)) if ahead else surface
    surface = (float(col.LEFT) if left else float(col.RIGHT)) if aside else surface
    s[at.SHARE + k], s[at.SURFACE + k] = share if crossed else NONE, surface
    s[at.UNCLEAR + k] = 1.0 if unclear else 0.0
    s[at.STEPS + k] += 1.0


@compiled
def choose(first: bool, a: P, b: P) -> P:
    return (
        a[0] if first else b[0],
        a[1] if first else b[1],
        a[2] if first else b[2],
        a[3] if first else b[3],
        a[4] if first else b[4],
        a[5] if first else b[5],
    )


@compiled_apart
def clear_up(s: F) -> None:
    """Find the first contact with care, where the quick search may be wrong."""
    for k in range(LANES):
        if s[at.UNCLEAR + k] == 0.0 or s[at.LAUNCH + k] < 0.0:
            continue
        big, wide, long = size_of(s, k)
        best, surface = NONE, -1.0
        for which in range(5):
            row = at.PZ if which == col.FLOOR else (at.PX if which in (col.LEFT, col.RIGHT) else at.PY)
            far = which in (col.RIGHT, col.BACK)
            place = (wide if which == col.RIGHT else long) - big if far else big
            share = reached(path(s, row, k), place, -1.0 if far else 1.0)
            if share < best:
                best, surface = share, float(which)
        s[at.SHARE + k], s[at.SURFACE + k] = best, surface


@compiled_apart
def watch(s: F, lines: F, seen: F) -> None:
    """Note when and where each ball first passes lines across the court on its way back."""
    for i in range(lines.shape[0]):
        line, row = lines[i], 5 * i * LANES
        for k in range(LANES):
            p, until, h = path(s, at.PY, k), min(s[at.SHARE + k], 1.0), s[at.STEP + k]
            there = value_at(p, until)
            passes = (p[0] < line) & (there >= line) & (s[at.CONTACTS + k] > 0.0)
            passes &= math.isnan(seen[row + k])
            gained = there - p[0]
            share = until * (line - p[0]) / (gained if passes else 1.0)
            share = newton_step(p, line, newton_step(p, line, share))  # all but straight: 1e-9 is left
            z = path(s, at.PZ, k)
            x_there, z_there = value_at(path(s, at.PX, k), share), value_at(z, share)
            t, climb = s[at.TIME + k] + share * h, slope_at(z, share) / h
            seen[row + k] = t if passes else seen[row + k]
            seen[row + LANES + k] = x_there if passes else seen[row + LANES + k]
            seen[row + 2 * LANES + k] = z_there if passes else seen[row + 2 * LANES + k]
            seen[row + 3 * LANES + k] = climb if passes else seen[row + 3 * LANES + k]
            seen[row + 4 * LANES + k] = s[at.BOUNCES + k] if passes else seen[row + 4 * LANES + k]


@compiled
def top_of(p: P, until: float) -> float:
    """Return height of the highest place inside the step where the path turns from rising to falling; else
    where the step starts.
    """
    turns = (p[1] > 0.0) & (slope_at(p, until) < 0.0)
    s = min(until, p[1] / (-2.0 * (p[2] if turns else -1.0)))
    for _ in range(2):
        bend = 2.0 * p[2] + s * (6.0 * p[3] + s * (12.0 * p[4] + s * 20.0 * p[5]))
        s -= slope_at(p, s) / (bend if turns else 1.0)
    return value_at(p, min(max(s, 0.0), until)) if turns else p[0]


@compiled
def of_surface(s: F, row: int, k: int, surface: float) -> float:
    """Return the coefficient of a surface, out of five rows; a sum, for choosing a row would be a branch."""
    floor = s[row + k] * (1.0 if surface == col.FLOOR else 0.0)
    front = s[row + LANES + k] * (1.0 if surface == col.FRONT else 0.0)
    left = s[row + 2 * LANES + k] * (1.0 if surface == col.LEFT else 0.0)
    right = s[row + 3 * LANES + k] * (1.0 if surface == col.RIGHT else 0.0)
    back = s[row + 4 * LANES + k] * (1.0 if surface == col.BACK else 0.0)
    return floor + front + left + right + back


@compiled_apart
def meet(s: F, floors: int) -> None:
    """Move every flight to the end of its step, and through the contact there."""
    for k in range(LANES):
        arrive(s, k)
    for k in range(LANES):
        bounce_off(s, k)
    for k in range(LANES):
        leave(s, k, floors)


@compiled
def arrive(s: F, k: int) -> None:
    """Note time, place and velocity at the end of the step, and the chance of a nick."""
    until, h = min(s[at.SHARE + k], 1.0), s[at.STEP + k]
    px, py, pz = path(s, at.PX, k), path(s, at.PY, k), path(s, at.PZ, k)
    each, size = 1.0 / h, size_of(s, k)
    s[at.TOP + k] = max(s[at.TOP + k], top_of(pz, until))
    r = value_at(px, until), value_at(py, until), value_at(pz, until)
    v = slope_at(px, until) * each, slope_at(py, until) * each, slope_at(pz, until) * each
    surface = s[at.SURFACE + k]
    near = other_near(r, v, surface, size)
    swap = (surface >= 0.0) & (near >= 0.0) & (s[at.SWAP + k] == s[at.CONTACTS + k])
    surface, near = near if swap else surface, surface if swap else near
    s[at.SURFACE + k], s[at.NEAR + k] = surface, near
    s[at.NICK + k] = nick_chance(r[2], v[2], surface, size[0], s[at.DWELL + k])
    s[at.HIT_TIME + k] = s[at.TIME + k] + until * h
    put_three(s, at.HIT_X, k, r)
    put_three(s, at.HIT_VX, k, v)


@compiled
def bounce_off(s: F, k: int) -> None:
    """Put velocity and spin after the contact into the lane; without one, those at the end of the step."""
    v, w, surface = three(s, at.HIT_VX, k), three(s, at.WX, k), s[at.SURFACE + k]
    meeting = (
        s[at.RADIUS + k],
        s[at.ALPHA + k],
        s[at.GRIP + k],
        of_surface(s, at.K_FLOOR, k, surface) * s[at.E7 + k],
        s[at.SPEED_POWER + k],
        of_surface(s, at.MU_FLOOR, k, surface),
        col.MOST_RESTITUTION,
    )
    v_out, w_out = bounce_once(v, w, surface, meeting)
    v_rolled, w_rolled = rolled_out(v_out, w_out, surface)
    rolls = s[at.DRAW + k] < s[at.NICK + k]
    v_out, w_out = either(rolls, v_rolled, v_out), either(rolls, w_rolled, w_out)
    put_three(s, at.VX, k, either(surface >= 0.0, v_out, v))
    put_three(s, at.WX, k, either(surface >= 0.0, w_out, w))


@compiled
def leave(s: F, k: int, floors: int) -> None:
    """Put the flight where it leaves the surface; name the tin, count the contact, see whether it ended."""
    r, v, size, surface = three(s, at.HIT_X, k), three(s, at.HIT_VX, k), size_of(s, k), s[at.SURFACE + k]
    hit, t, dwell = surface >= 0.0, s[at.HIT_TIME + k], s[at.DWELL + k]
    put_three(s, at.HIT_X, k, snapped(r, surface, size))
    put_three(s, at.X, k, either(hit, settled(r, v, three(s, at.VX, k), surface, size, dwell), r))
    s[at.TIME + k] = t + dwell if hit else t
    tin = (surface == col.FRONT) & (r[2] < s[at.TIN + k])
    s[at.SURFACE + k] = float(col.TIN_PLATE) if tin else surface
    count(s, k, surface, hit, floors)


@compiled
def either(first: bool, a: V, b: V) -> V:
    return a[0] if first else b[0], a[1] if first else b[1], a[2] if first else b[2]


@compiled
def count(s: F, k: int, surface: float, hit: bool, floors: int) -> None:
    """Count the contact, and see whether the flight has ended."""
    contacts = s[at.CONTACTS + k] + (1.0 if hit else 0.0)
    bounces = s[at.BOUNCES + k] + (1.0 if hit & (surface == col.FLOOR) else 0.0)
    vx, vy, vz = three(s, at.VX, k)
    still = vx * vx + vy * vy + vz * vz < col.ROLLING_SPEED_M_S**2
    ended = float(col.ENDED_LATE) if s[at.TIME + k] >= col.LONGEST_FLIGHT_S else -1.0
    ended = float(col.ENDED_ROLLING) if hit & still else ended
    ended = float(col.ENDED_FULL) if hit & (contacts >= col.MOST_CONTACTS) else ended
    ended = float(col.ENDED_WANTED) if hit & (bounces >= floors) else ended
    rolls = hit & (s[at.DRAW + k] < s[at.NICK + k])
    s[at.ENDED + k] = float(col.ENDED_NICK) if rolls else ended
    s[at.CONTACTS + k], s[at.BOUNCES + k] = contacts, bounces


@compiled_apart
def take_off(s: F, k: int, which: int, launches: F, sets: F, index: N, draws: F) -> None:
    """Put a launch into a lane; `which` past the last leaves the lane idle."""
    idle = which >= launches.shape[0]
    n = 0 if idle else which
    for i in range(9):
        s[at.X + i * LANES + k] = launches[n, i]
    for i in range(col.COEFFICIENT_COLUMNS):
        s[at.COEFFICIENT + i * LANES + k] = sets[index[n], i]
    for i in range(col.SUMMARY_COLUMNS):
        s[at.SUMMARY + i * LANES + k] = np.nan
    s[at.SUMMARY + col.UNDER_LINE * LANES + k], s[at.SUMMARY + col.NICK_CHANCE * LANES + k] = 1e9, 0.0
    s[at.TIME + k], s[at.TOP + k], s[at.LAUNCH + k] = 0.0, launches[n, 2], -1.0 if idle else float(n)
    s[at.CONTACTS + k], s[at.BOUNCES + k], s[at.ORDER + k], s[at.DIGIT + k] = 0.0, 0.0, 0.0, 1.0
    s[at.CORNERED + k], s[at.ENDED + k], s[at.STEPS + k] = 0.0, -1.0, 0.0
    s[at.DRAW + k], s[at.SWAP + k] = draws[n], -1.0
