"""One flight at given times: places and contacts, for fitting paths to what a camera saw.

`batch_flight_simulation` knows contacts alone. Here the same steps and bounces give the ball's place at any
times, for one launch; `trace` is called from other compiled code, `path_at` from Python. Grazed walls and the
nick are left out.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import numpy as np

from goodlength.ball.flight.bounce_kernel import Meeting, bounce_once, settled
from goodlength.ball.flight.free_flight_kernel import (
    F,
    P,
    V,
    acceleration,
    compiled_apart,
    compiled_on_disk,
    root_of,
    slope_at,
    step,
    stride,
    value_at,
)
from goodlength.ball.model import flight_array_indices as col

LONGEST_STEP_S = 0.1
MOST_STEPS = 400
PATH_CONTACT_COLUMNS = 5  # time, x, y, z, surface
STILL_M2_S2 = col.ROLLING_SPEED_M_S**2


@compiled_apart
def earlier(p: P, at: float, side: float, surface: int, before: tuple[float, int]) -> tuple[float, int]:
    """Return the earlier of two crossings: of this plane within the step, and one found before."""
    if side * (value_at(p, 1.0) - at) >= 0.0:
        return before
    share = root_of(p, at, side, 1.0)
    return (share, surface) if share < before[0] else before


@compiled_apart
def first_crossing(px: P, py: P, pz: P, size: V) -> tuple[float, int]:
    """Return the share of the step at which a surface is touched, and which; (2, -1) if none is."""
    big, wide, long = size
    first = earlier(pz, big, 1.0, col.FLOOR, (2.0, -1))
    first = earlier(py, big, 1.0, col.FRONT, first)
    first = earlier(py, long - big, -1.0, col.BACK, first)
    first = earlier(px, big, 1.0, col.LEFT, first)
    return earlier(px, wide - big, -1.0, col.RIGHT, first)


@compiled_apart
def meeting_of(c: F, surface: int) -> Meeting:
    """Return what a bounce off a surface needs to know."""
    return (
        c[col.RADIUS],
        c[col.ALPHA],
        c[col.GRIP],
        c[col.K_FLOOR + surface] * c[col.E7],
        c[col.SPEED_POWER],
        c[col.MU_FLOOR + surface],
        col.MOST_RESTITUTION,
    )


@compiled_apart
def trace(launch: F, c: F, times: F, floors: int, places: F, contacts: F) -> int:
    """Write places at times after the launch, and contacts; return how many contacts there are.

    The ball stays where it touches the floor for the `floors`-th time.

    `launch` is place, velocity and spin (9,), `c` a set of coefficients, `times` (n,) grow from 0 on,
    `places` is (n, 3), `contacts` (m, 5) with time, place and surface. A still ball stays where it is.
    """
    r = (launch[0], launch[1], launch[2])
    v = (launch[3], launch[4], launch[5])
    w = (launch[6], launch[7], launch[8])
    air = (
        c[col.GRAVITY],
        c[col.DRAG_BY_REYNOLDS],
        c[col.DRAG_CONSTANT],
        c[col.LIFT],
        c[col.RADIUS],
        c[col.REYNOLDS_PER_SPEED],
        c[col.WHOLE_SPIN],
    )
    size = (c[col.RADIUS], c[col.WIDTH], c[col.LENGTH])
    t, k, found, last = 0.0, 0, 0, times.shape[0]
    for _ in range(MOST_STEPS):
        if k >= last:
            break
        a = acceleration(v, w, air)
        h = stride(r, v, a, size, LONGEST_STEP_S)
        px, py, pz = step(r, v, w, a, h, air)
        share, surface = first_crossing(px, py, pz, size)
        u = min(share, 1.0)
        while k < last and times[k] <= t + u * h:
            q = max(0.0, (times[k] - t) / h)
            places[k, 0], places[k, 1], places[k, 2] = value_at(px, q), value_at(py, q), value_at(pz, q)
            k += 1
        r = (value_at(px, u), value_at(py, u), value_at(pz, u))
        v = (slope_at(px, u) / h, slope_at(py, u) / h, slope_at(pz, u) / h)
        t += u * h
        if surface < 0:
            continue
        if found < contacts.shape[0]:
            contacts[found, 0], contacts[found, 4] = t, surface
            contacts[found, 1], contacts[found, 2], contacts[found, 3] = r
            found += 1
        floors -= surface == col.FLOOR
        if floors <= 0:
            break
        v_out, w = bounce_once(v, w, float(surface), meeting_of(c, surface))
        r = settled(r, v, v_out, float(surface), size, 0.0)
        v = v_out
        if v[0] * v[0] + v[1] * v[1] + v[2] * v[2] < STILL_M2_S2:
            break
    while k < last:
        places[k, 0], places[k, 1], places[k, 2] = r
        k += 1
    return found


def kernel_digest(*more: Path) -> int:
    """Return a number that changes with the sources that `trace` is compiled from, and with some others."""
    here = Path(__file__).parent
    kernels = ("free_flight_kernel", "bounce_kernel", "path_at_times_kernel")
    sources = [here / f"{name}.py" for name in kernels]
    sources += [here.parent / "model" / f"{name}.py" for name in ("flight_array_indices", "drag_coefficient")]
    found = hashlib.sha256()
    for source in (*sources, *more):
        found.update(source.read_bytes())
    return int.from_bytes(found.digest()[:6], "big")


def _path_door(digest: int) -> Callable[[F, F, F, int, F, F], int]:
    @compiled_on_disk("i8(f8[::1], f8[::1], f8[::1], i8, f8[:,::1], f8[:,::1])")
    def write_path(launch: F, c: F, times: F, floors: int, places: F, contacts: F) -> int:
        return trace(launch, c, times, floors, places, contacts) if digest >= 0 else 0

    return write_path


_write_path = _path_door(kernel_digest())


def path_at(launch: F, coefficients: F, times_s: F, floors: int = 2) -> tuple[F, F]:
    """Return where the ball is at some times after a launch, and what it touches until the last of them.

    Parameters
    ----------
    launch : ndarray, shape (9,)
        Place, m; velocity, m/s; spin, rad/s.
    coefficients : ndarray, shape (25,)
        From `Coefficients.row`.
    times_s : ndarray, shape (n,)
        Growing, from 0 on.
    floors : int
        The path ends with so many contacts with the floor; the ball stays there.

    Returns
    -------
    places_m : ndarray, shape (n, 3)
    contacts : ndarray, shape (m, 5)
        Time, s; place, m; surface as in `flight_array_indices` (the tin counts as front wall).
    """
    places = np.empty((len(times_s), 3))
    contacts = np.zeros((col.MOST_CONTACTS, PATH_CONTACT_COLUMNS))
    found = _write_path(
        np.ascontiguousarray(launch, float),
        np.ascontiguousarray(coefficients, float),
        np.ascontiguousarray(times_s, float),
        floors,
        places,
        contacts,
    )
    return places, contacts[:found]
