"""Reference flights by scipy's DOP853, without the compiled flight, and random launches."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from goodlength.ball import Coefficients, aim_at_spots
from goodlength.ball.flight.numba_or_plain_python import njit
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.ball_court_air_coefficients import SURFACES
from goodlength.ball.model.input_validation import Floats
from goodlength.court import SINGLES

Surfaces = tuple[int, ...]


@njit(cache=True, error_model="numpy")
def _motion(_t: float, y: Floats, a: Floats) -> Floats:  # pragma: no cover - compiled
    """a = gravity, rho A / 2m, Reynolds number per speed, radius, lift, drag factor and constant, spin."""
    out = np.empty(6)
    speed = math.sqrt(y[3] ** 2 + y[4] ** 2 + y[5] ** 2)
    re = max(a[2] * speed, 1e-12)
    drag = a[5] * (24.0 / re * (1.0 + 0.15 * re**0.687) + 0.42 / (1.0 + 42500.0 * re**-1.16)) + a[6]
    cx, cy, cz = a[8] * y[5] - a[9] * y[4], a[9] * y[3] - a[7] * y[5], a[7] * y[4] - a[8] * y[3]
    cross = math.sqrt(cx * cx + cy * cy + cz * cz)
    lift = 0.0
    if cross > 0.0:
        s = a[3] * cross / speed**2
        lift = a[1] * a[4] * s / (2.0 * s + 1.0) * speed**2 / cross
    slow = a[1] * drag * speed
    for i in range(3):
        out[i] = y[3 + i]
    out[3] = lift * cx - slow * y[3]
    out[4] = lift * cy - slow * y[4]
    out[5] = lift * cz - slow * y[5] - a[0]
    return out


def peer_flight(
    launch: Floats, c: Coefficients, rtol: float, bounces: int = 2
) -> tuple[Surfaces, Floats, Floats]:
    """Return the same flight by solve_ivp: surfaces in order, contact times, contact places (n, 3)."""
    per_speed = 2.0 * c.radius_m * c.density_kg_m3 / c.viscosity_pa_s
    y, spin, t, last = launch[:6].copy(), launch[6:].copy(), 0.0, -1
    surfaces: list[int] = []
    times: list[float] = []
    places: list[Floats] = []
    while len(surfaces) < 12 and surfaces.count(at.FLOOR) < bounces:
        a = np.array(
            [
                c.gravity_m_s2,
                c.aero_per_m,
                per_speed,
                c.radius_m,
                c.lift,
                c.drag_factor,
                c.drag_constant,
                *spin,
            ]
        )
        found = solve_ivp(
            _motion, (t, t + 8.0), y, "DOP853", events=_planes(c, last), rtol=rtol, atol=rtol, args=(a,)
        )
        if found.status != 1:
            break
        last = next(k for k, hit in enumerate(found.t_events or []) if hit.size)
        t, y = float(found.t[-1]), found.y[:, -1].copy()
        surfaces.append(last)
        times.append(t)
        places.append(y[:3].copy())
        y[3:], spin = peer_bounce(y[3:], spin, last, c)
    return tuple(surfaces), np.array(times), np.array(places).reshape(-1, 3)


def peer_path(launch: Floats, c: Coefficients, surfaces: Surfaces, times: Floats) -> Floats:
    """Return time and place of the peer's flight each millisecond up to the first bounce, shape (n, 4)."""
    y, spin, t = launch[:6].copy(), launch[6:].copy(), 0.0
    per_speed = 2.0 * c.radius_m * c.density_kg_m3 / c.viscosity_pa_s
    parts = []
    for surface, until in zip(surfaces, times, strict=True):
        parameters = [
            c.gravity_m_s2,
            c.aero_per_m,
            per_speed,
            c.radius_m,
            c.lift,
            c.drag_factor,
            c.drag_constant,
        ]
        at_s = np.append(np.arange(t, until, 1e-3), until)
        found = solve_ivp(
            _motion,
            (t, until),
            y,
            "DOP853",
            t_eval=at_s,
            rtol=1e-9,
            atol=1e-9,
            args=(np.array([*parameters, *spin]),),
        )
        parts.append(np.column_stack([found.t, found.y[:3].T]))
        t, y = float(until), found.y[:, -1].copy()
        y[3:], spin = peer_bounce(y[3:], spin, surface, c)
        if surface == at.FLOOR:
            break
    return np.vstack(parts)


def _planes(c: Coefficients, last: int) -> list[Callable[..., float]]:
    """Return distances to the five planes as events; the plane just left stands back a tenth of a
    nanometre.
    """
    gap = [1e-10 if k == last else 0.0 for k in range(5)]
    r, wide, long = c.radius_m, SINGLES.width.value_m - c.radius_m, SINGLES.length.value_m - c.radius_m
    events: list[Any] = [
        lambda _t, y, _a: y[2] - r + gap[0],
        lambda _t, y, _a: y[1] - r + gap[1],
        lambda _t, y, _a: y[0] - r + gap[2],
        lambda _t, y, _a: wide - y[0] + gap[3],
        lambda _t, y, _a: long - y[1] + gap[4],
    ]
    for event in events:
        event.terminal, event.direction = True, -1.0
    return events


def peer_bounce(v: Floats, w: Floats, surface: int, c: Coefficients) -> tuple[Floats, Floats]:
    """Return the bounce in vector form: source BALL-NOTE 4.2, written apart from the compiled one."""
    n = np.array([[0, 0, 1.0], [0, 1.0, 0], [1.0, 0, 0], [-1.0, 0, 0], [0, -1.0, 0]][surface])
    into = -float(v @ n)
    across = v + into * n
    slip = across - c.radius_m * np.cross(w, n)
    size = float(np.linalg.norm(slip))
    e = min(0.95, getattr(c.bounce, SURFACES[surface]) * c.e7 * (max(into, 1.0) / 7.0) ** -c.speed_power)
    grip = (1.0 + c.grip) * size * c.inertia_factor / (1.0 + c.inertia_factor)
    push = min(grip, getattr(c.friction, SURFACES[surface]) * (1.0 + e) * into)
    along = slip / size if size > 0.0 else np.zeros(3)
    turned: Floats = w + np.cross(n, along) * push / (c.inertia_factor * c.radius_m)
    return across + e * into * n - push * along, turned


def random_serves(count: int, rng: np.random.Generator, c: Coefficients) -> Floats:
    """Return serves of every sort from the right box, 13 to 32 m/s, spin 60 rad/s sd an axis, shape (n,
    9).
    """
    serves: list[Floats] = []
    while sum(map(len, serves)) < count:
        n = count
        starts = np.empty((n, 6))
        starts[:, 0] = rng.uniform(4.3, 5.8, n)
        starts[:, 1] = rng.uniform(5.4, 6.8, n)
        starts[:, 2] = rng.uniform(0.5, 2.4, n)
        starts[:, 3:] = rng.normal(0.0, 60.0, (n, 3))
        spots = np.column_stack([rng.uniform(1.8, 4.4, n), rng.uniform(1.5, 4.55, n)])
        launches, miss = aim_at_spots(starts, rng.uniform(13.0, 32.0, n), spots, [c.row()])
        serves.append(launches[miss < 1e-4])
    return np.vstack(serves)[:count]
