"""Compiled kernels of whole flights, their summaries and launch searches, cached on disk.

Numbers come in as plain arrays (`columns` names their places); checking them is the work of `many`.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from goodlength.ball.flight.bounce_kernel import (
    bounce_once,
    nick_chance,
    note,
    rolled_out,
    settled,
    snapped,
)
from goodlength.ball.flight.free_flight_kernel import (
    F,
    N,
    V,
    acceleration,
    compiled,
    compiled_on_disk,
    first_contact,
    other_near,
    place_at,
    root_of,
    slope_at,
    step,
    stride,
    time_to_close,
    value_at,
    velocity_at,
)
from goodlength.ball.model import array_layout as col


@compiled
def _watch(p: F, h: float, t: float, until: float, bounced: int, lines: F, seen: F) -> None:
    """Notes when and where the ball first passes lines across the court on its way back."""
    for k in range(lines.shape[0]):
        if p[1, 0] < lines[k] and value_at(p, 1, until) >= lines[k] and math.isnan(seen[k, 0]):
            s = root_of(p, 1, lines[k], -1.0, until)
            seen[k, 0] = t + s * h
            seen[k, 1] = value_at(p, 0, s)
            seen[k, 2] = value_at(p, 2, s)
            seen[k, 3] = slope_at(p, 2, s) / h
            seen[k, 4] = bounced


@compiled
def _top(p: F, until: float) -> float:
    """Return height of the highest place inside the step where the path turns from rising to falling; else
    0.
    """
    if p[2, 1] <= 0.0 or slope_at(p, 2, until) >= 0.0:
        return max(p[2, 0], 0.0)
    s = min(until, p[2, 1] / (-2.0 * p[2, 2]))
    for _ in range(4):
        bend = 2.0 * p[2, 2] + s * (6.0 * p[2, 3] + s * (12.0 * p[2, 4] + s * 20.0 * p[2, 5]))
        s -= slope_at(p, 2, s) / bend
    return value_at(p, 2, min(max(s, 0.0), until))


@compiled
def _flight(
    launch: F,
    c: F,
    drag: F,
    draw: float,
    swap: int,
    floors: int,
    longest: float,
    lines: F,
    seen: F,
    p: F,
    ev: F,
) -> tuple[int, int, float, int]:
    """Fly one launch into `ev`; returns contacts, how it ended, highest place, steps."""
    r, v = (launch[0], launch[1], launch[2]), (launch[3], launch[4], launch[5])
    w = (launch[6], launch[7], launch[8])
    t, n, bounced, top, steps = 0.0, 0, 0, launch[2], 0
    a = acceleration(v, w, c, drag)
    while t < col.LONGEST_FLIGHT_S:
        h = stride(r, v, a, c, longest)
        a = step(r, v, w, a, h, c, drag, p)
        steps += 1
        s, surface = first_contact(p, c)
        until = min(s, 1.0)
        top = max(top, _top(p, until))
        if n > 0 and lines.shape[0] > 0:
            _watch(p, h, t, until, bounced, lines, seen)
        r, v = place_at(p, until), velocity_at(p, until, h)
        t += until * h
        if surface < 0:
            continue
        near = other_near(p, s, h, surface, c)
        if near >= 0 and swap == n:
            surface, near = near, surface
        chance = nick_chance(r, v, surface, c)
        rolls = draw < chance
        v_out, w_out = (
            rolled_out(v, w, surface, c) if rolls else bounce_once(v, w, surface, c, col.MOST_RESTITUTION)
        )
        note(ev, n, t, snapped(r, surface, c), v, v_out, w_out, surface, near, chance)
        if surface == col.FRONT and r[2] < c[col.TIN]:
            ev[n, col.SURFACE] = col.TIN_PLATE
        n += 1
        r, v, w = settled(r, v, v_out, surface, c), v_out, w_out
        a = acceleration(v, w, c, drag)
        t += c[col.DWELL]
        if rolls:
            return n, col.ENDED_NICK, top, steps
        if surface == col.FLOOR:
            bounced += 1
            if bounced >= floors:
                return n, col.ENDED_WANTED, top, steps
        if n >= ev.shape[0]:
            return n, col.ENDED_FULL, top, steps
        if v[0] * v[0] + v[1] * v[1] + v[2] * v[2] < col.ROLLING_SPEED_M_S**2:
            return n, col.ENDED_ROLLING, top, steps
    return n, col.ENDED_LATE, top, steps


@compiled
def _under_line(row: F, surface: int, c: F, lines: F) -> float:
    """Return how far below the out line a wall was touched; large for the floor. `lines`: front, back
    out line.
    """
    if surface in (col.FRONT, col.TIN_PLATE):
        return lines[0] - row[col.Z]
    if surface == col.BACK:
        return lines[1] - row[col.Z]
    if surface in (col.LEFT, col.RIGHT):
        return lines[0] - (lines[0] - lines[1]) * row[col.Y] / c[col.LENGTH] - row[col.Z]
    return 1e9


@compiled
def _summarise(ev: F, n: int, top: float, c: F, outs: F, out: F) -> int:
    """Fill one summary from the contacts; returns the order of surfaces as octal digits, first one lowest."""
    out[:] = np.nan
    out[col.UNDER_LINE], out[col.TOP], out[col.NICK_CHANCE] = 1e9, top, 0.0
    order, bounced = 0, 0
    for k in range(n):
        row, surface = ev[k], int(ev[k, col.SURFACE])
        order += (surface + 1) << (3 * k)
        out[col.UNDER_LINE] = min(out[col.UNDER_LINE], _under_line(row, surface, c, outs))
        out[col.NICK_CHANCE] = 1.0 - (1.0 - out[col.NICK_CHANCE]) * (1.0 - row[col.NICK])
        if surface == col.FLOOR:
            bounced += 1
            first = bounced == 1
            i = col.ONE_T if first else col.TWO_T
            out[i], out[i + 1], out[i + 2] = row[col.TIME], row[col.X], row[col.Y]
            if first:
                out[col.ONE_SPEED] = math.sqrt(
                    row[col.VX_IN] ** 2 + row[col.VY_IN] ** 2 + row[col.VZ_IN] ** 2
                )
        elif surface in (col.FRONT, col.TIN_PLATE) and k == 0:
            out[col.FRONT_T], out[col.FRONT_X], out[col.FRONT_Z] = row[col.TIME], row[col.X], row[col.Z]
        elif surface in (col.LEFT, col.RIGHT) and bounced == 0 and math.isnan(out[col.SIDE_T]):
            out[col.SIDE_T], out[col.SIDE_Y], out[col.SIDE_Z] = row[col.TIME], row[col.Y], row[col.Z]
        elif surface == col.BACK and math.isnan(out[col.BACK_T]):
            out[col.BACK_T], out[col.BACK_X], out[col.BACK_Z] = row[col.TIME], row[col.X], row[col.Z]
        if row[col.CORNER] >= 0.0:
            order |= 1 << 60
    return order


@compiled
def _to_front(r: V, v: V, w: V, c: F, drag: F, longest: float, p: F) -> V:
    """Return where a free path from r meets the front plane (x, z, time); time 0 if it turns or takes 4 s."""
    t = 0.0
    while t < 4.0 and v[1] < 0.0:
        a = acceleration(v, w, c, drag)
        due = time_to_close(r[1] - c[col.RADIUS], v[1], a[1])
        h = min(1.02 * due + 1e-6, longest)
        step(r, v, w, a, h, c, drag, p)
        if value_at(p, 1, 1.0) < c[col.RADIUS]:
            s = root_of(p, 1, c[col.RADIUS], 1.0, 1.0)
            return value_at(p, 0, s), value_at(p, 2, s), t + s * h
        r, v = place_at(p, 1.0), velocity_at(p, 1.0, h)
        t += h
    return 0.0, 0.0, 0.0


@compiled
def _toward(speed: float, across: float, up: float) -> V:
    """Return velocity of that speed with slopes `across` (dx over -dy) and `up` (dz over -dy)."""
    forward = speed / math.sqrt(1.0 + across * across + up * up)
    return across * forward, -forward, up * forward


@compiled
def _slopes(r: V, speed: float, x: float, z: float, high: bool, c: F) -> V:
    """Slopes that meet the spot without air; ok is false if even that falls short (then the farthest)."""
    far = r[1] - c[col.RADIUS]
    across = (x - r[0]) / far
    fall = c[col.GRAVITY] * far * far / (2.0 * speed * speed)
    inner = far * far - 4.0 * fall * (fall * (1.0 + across * across) + z - r[2])
    root = math.sqrt(max(inner, 0.0))
    return across, (far + root if high else far - root) / (2.0 * fall), inner > 0.0


@compiled
def _aim_one(
    r: V, speed: float, w: V, x: float, z: float, high: bool, c: F, drag: F, longest: float, p: F
) -> tuple[V, float]:
    """Return velocity whose path meets the spot (x, z) on the front wall, and how far off it still is."""
    across, up, _ = _slopes(r, speed, x, z, high, c)
    far = r[1] - c[col.RADIUS]
    lean = far - c[col.GRAVITY] * (far / speed) ** 2 * up  # dz over d(up) without air
    miss, last_up, last_z = 1e9, 0.0, 0.0
    for turn in range(30):
        v = _toward(speed, across, up)
        at_x, at_z, t = _to_front(r, v, w, c, drag, longest, p)
        if t == 0.0:
            return v, 1e9
        miss = math.sqrt((at_x - x) ** 2 + (at_z - z) ** 2)
        if miss < 1e-6:
            return v, miss
        if turn > 0 and abs(up - last_up) > 1e-12:
            lean = (at_z - last_z) / (up - last_up)
        if not (lean > 0.02 * far) and not high:
            lean = 0.02 * far
        if high and not (lean < -0.02 * far):
            lean = -0.02 * far
        last_up, last_z = up, at_z
        across += (x - at_x) / far
        up += min(max((z - at_z) / lean, -0.5), 0.5)
    return _toward(speed, across, up), miss


def _source_hash() -> int:
    """Return a number that changes with any of the compiled sources.

    What is kept on disk is renewed when the file of the function itself changes, not when one it calls
    does. Each door below closes over this number, and so is renewed with any of the four.
    """
    found = hashlib.sha256()
    here = Path(__file__).parent
    for source in (
        here.parent / "model" / "array_layout.py",
        *(here / f"{name}.py" for name in ("free_flight_kernel", "bounce_kernel", "flight_kernel")),
    ):
        found.update(source.read_bytes())
    return int.from_bytes(found.digest()[:6], "big")


def _contacts_door(stamp: int) -> Callable[..., None]:
    @compiled_on_disk(_CONTACTS)
    def fly_contacts(
        launches: F,
        sets: F,
        which: N,
        drag: F,
        draws: F,
        swaps: N,
        floors: int,
        longest: float,
        ev: F,
        counts: N,
        ends: N,
        tops: F,
        steps: N,
    ) -> None:
        """Every contact of each launch, up to the wanted number of floor contacts."""
        p = np.empty((3, 6))
        lines = np.empty(0)
        seen = np.empty((0, 5))
        for k in range(launches.shape[0] if stamp >= 0 else 0):
            counts[k], ends[k], tops[k], steps[k] = _flight(
                launches[k], sets[which[k]], drag, draws[k], swaps[k], floors, longest, lines, seen, p, ev[k]
            )

    return fly_contacts


def _summaries_door(stamp: int) -> Callable[..., None]:
    @compiled_on_disk(_SUMMARIES)
    def fly_summaries(
        launches: F,
        sets: F,
        which: N,
        drag: F,
        draws: F,
        outs: F,
        lines: F,
        longest: float,
        out: F,
        seen: F,
        order: N,
    ) -> None:
        """What matters of each serve, to the second bounce; a ball that rolls out of the nick ends there."""
        p = np.empty((3, 6))
        ev = np.empty((12, col.CONTACT_COLUMNS))
        for k in range(launches.shape[0] if stamp >= 0 else 0):
            c = sets[which[k]]
            seen[k] = np.nan
            n, end, top, _ = _flight(launches[k], c, drag, draws[k], -1, 2, longest, lines, seen[k], p, ev)
            order[k] = _summarise(ev, n, top, c, outs, out[k])
            if end == col.ENDED_NICK:
                order[k] |= 1 << 61
                for i in (col.ONE_T, col.TWO_T):
                    if math.isnan(out[k, i]):
                        out[k, i], out[k, i + 1], out[k, i + 2] = ev[n - 1, 0], ev[n - 1, 1], ev[n - 1, 2]

    return fly_summaries


def _free_door(stamp: int) -> Callable[..., None]:
    @compiled_on_disk(_FREE)
    def fly_free(launch: F, c: F, drag: F, spacing: float, out: F) -> None:
        """A free path, walls ignored, at even times: place and velocity, out[point, 6]."""
        p = np.empty((3, 6))
        r, v = (launch[0], launch[1], launch[2]), (launch[3], launch[4], launch[5])
        w = (launch[6], launch[7], launch[8])
        for k in range(out.shape[0] if stamp >= 0 else 0):
            out[k, 0], out[k, 1], out[k, 2] = r
            out[k, 3], out[k, 4], out[k, 5] = v
            step(r, v, w, acceleration(v, w, c, drag), spacing, c, drag, p)
            r, v = place_at(p, 1.0), velocity_at(p, 1.0, spacing)

    return fly_free


def _aim_door(stamp: int) -> Callable[..., None]:
    @compiled_on_disk(_AIM)
    def aim_at_spots(
        starts: F,
        speeds: F,
        spots: F,
        sets: F,
        which: N,
        drag: F,
        high: bool,
        longest: float,
        launches: F,
        misses: F,
    ) -> None:
        """Launches from `starts` (place, spin) that meet spots on the front wall; `misses` is the rest."""
        p = np.empty((3, 6))
        for k in range(starts.shape[0] if stamp >= 0 else 0):
            s, c = starts[k], sets[which[k]]
            r, w = (s[0], s[1], s[2]), (s[3], s[4], s[5])
            v, misses[k] = _aim_one(r, speeds[k], w, spots[k, 0], spots[k, 1], high, c, drag, longest, p)
            launches[k, 0], launches[k, 1], launches[k, 2] = r
            launches[k, 3], launches[k, 4], launches[k, 5] = v
            launches[k, 6], launches[k, 7], launches[k, 8] = w

    return aim_at_spots


# Types of the doors: f8 real, i8 whole, b1 yes or no; ::1 is an array without gaps.
_CONTACTS = (
    "void(f8[:,::1], f8[:,::1], i8[::1], f8[:,::1], f8[::1], i8[::1], i8, f8, f8[:,:,::1], i8[::1], i8[::1], "
    "f8[::1], i8[::1])"
)
_SUMMARIES = (
    "void(f8[:,::1], f8[:,::1], i8[::1], f8[:,::1], f8[::1], f8[::1], f8[::1], f8, f8[:,::1], f8[:,:,::1], "
    "i8[::1])"
)
_FREE = "void(f8[::1], f8[::1], f8[:,::1], f8, f8[:,::1])"
_AIM = "void(f8[:,::1], f8[::1], f8[:,::1], f8[:,::1], i8[::1], f8[:,::1], b1, f8, f8[:,::1], f8[::1])"

_NOW = _source_hash()
fly_contacts = _contacts_door(_NOW)
fly_summaries = _summaries_door(_NOW)
fly_free = _free_door(_NOW)
aim_at_spots = _aim_door(_NOW)
