"""Flights beside a peer: speed, error and what the time is spent on, against scipy's solve_ivp.

The peer is DOP853 with a compiled right-hand side and the formula of the drag, not our table of it; its
bounce is written again here in vector form, so that the two share nothing but the coefficients.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numba import njit
from scipy.integrate import solve_ivp

from goodlength.ball import Coefficients, aim_at_spots, cores, fly_contacts, fly_summaries, free_path
from goodlength.ball.model import columns as at
from goodlength.ball.model.checks import Floats
from goodlength.ball.model.coefficients import SURFACES
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
    """Time and place of the peer's flight each millisecond up to the first bounce, shape (n, 4)."""
    y, spin, t = launch[:6].copy(), launch[6:].copy(), 0.0
    per_speed = 2.0 * c.radius_m * c.density_kg_m3 / c.viscosity_pa_s
    parts = []
    for surface, until in zip(surfaces, times, strict=True):
        told = [c.gravity_m_s2, c.aero_per_m, per_speed, c.radius_m, c.lift, c.drag_factor, c.drag_constant]
        at_s = np.append(np.arange(t, until, 1e-3), until)
        found = solve_ivp(
            _motion,
            (t, until),
            y,
            "DOP853",
            t_eval=at_s,
            rtol=1e-9,
            atol=1e-9,
            args=(np.array([*told, *spin]),),
        )
        parts.append(np.column_stack([found.t, found.y[:3].T]))
        t, y = float(until), found.y[:, -1].copy()
        y[3:], spin = peer_bounce(y[3:], spin, surface, c)
        if surface == at.FLOOR:
            break
    return np.vstack(parts)


def _planes(c: Coefficients, last: int) -> list[Callable[..., float]]:
    """Distances to the five planes as events; the plane just left stands back a tenth of a nanometre."""
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
    """Serves of every sort from the right box, 13 to 32 m/s, spin 60 rad/s sd an axis, shape (n, 9)."""
    kept: list[Floats] = []
    while sum(map(len, kept)) < count:
        n = count
        starts = np.empty((n, 6))
        starts[:, 0] = rng.uniform(4.3, 5.8, n)
        starts[:, 1] = rng.uniform(5.4, 6.8, n)
        starts[:, 2] = rng.uniform(0.5, 2.4, n)
        starts[:, 3:] = rng.normal(0.0, 60.0, (n, 3))
        spots = np.column_stack([rng.uniform(1.8, 4.4, n), rng.uniform(1.5, 4.55, n)])
        launches, miss = aim_at_spots(starts, rng.uniform(13.0, 32.0, n), spots, [c.row()])
        kept.append(launches[miss < 1e-4])
    return np.vstack(kept)[:count]


@dataclass(frozen=True)
class Errors:
    """Our flights beside the peer's at 1e-12: distances of the second bounce, and orders of surfaces."""

    serves: int
    worst_mm: float
    p99_mm: float
    median_mm: float
    order_differs: int  # unflagged: must be 0
    order_differs_flagged: int


def errors(launches: Floats, c: Coefficients, rtol: float = 1e-12) -> Errors:
    """Error of the compiled flight against DOP853, over these launches."""
    ours = fly_contacts(launches, [c.row()])
    off, plain, flagged = [], 0, 0
    for k, launch in enumerate(launches):
        rows = ours.rows[k, : ours.counts[k]]
        order = tuple(at.FRONT if s == at.TIN_PLATE else int(s) for s in rows[:, at.SURFACE])
        surfaces, _, places = peer_flight(launch, c, rtol)
        if surfaces != order:
            near = bool((rows[:, at.CORNER] >= 0).any())
            flagged, plain = flagged + near, plain + (not near)
            continue
        off.append(float(np.linalg.norm(places[-1] - rows[-1, at.X : at.Z + 1])) * 1e3)
    gaps = np.array(off)
    return Errors(
        len(launches),
        float(gaps.max()),
        float(np.quantile(gaps, 0.99)),
        float(np.median(gaps)),
        plain,
        flagged,
    )


@dataclass(frozen=True)
class Bench:
    """What `goodlength bench ball` prints; by the wall clock, by the cores' own time where it says cpu."""

    serves_per_s: float
    serves_per_s_one_core: float
    serves_per_cpu_s: float
    cores: int
    load_before: float
    ratio_to_solve_ivp: float
    ratio_core_for_core: float
    solve_ivp_ms: float
    solve_ivp_rtol: float
    solve_ivp_worst_mm: float
    worst_error_mm: float
    median_error_mm: float
    error_serves: int
    order_differs_unflagged: int
    order_differs_flagged: int
    steps_per_serve: float
    flops_per_serve: float
    flops_per_s_one_core: float
    ns_per_step: float
    growth: tuple[tuple[int, float], ...]  # number of serves, seconds
    first_use_s: float


# Floating-point operations of one acceleration and of one step, counted in the source of the kernel.
FLOPS_PER_ACCELERATION = 62
# The last acceleration of a step is the first of the next, save where a contact lies between.
FLOPS_PER_STEP = 6 * FLOPS_PER_ACCELERATION + 6 * 21 + 3 * 40 + 60


def bench(
    serves: int = 200_000, error_serves: int = 10_000, peer_serves: int = 300, seed: int = 2025
) -> Bench:
    """Measure it all; some ninety seconds with the numbers above, most of it the peer's.

    Parameters
    ----------
    serves : int
        Flown for the speed.
    error_serves : int
        Flown by the peer at 1e-12 for the error.
    peer_serves : int
        Flown by the peer for its own speed, at the loosest tolerance that keeps within 0.2 mm.
    """
    load = _load()
    first = time.perf_counter()
    c = Coefficients()
    rng = np.random.default_rng(seed)
    launches = random_serves(serves, rng, c)
    first = time.perf_counter() - first
    wall_all, _ = _best(lambda n: fly_summaries(launches[:n], [c.row()], checked=True), serves)
    wall_one, cpu_one = _best(
        lambda n: fly_summaries(launches[:n], [c.row()], threads=1, checked=True), serves
    )
    peer_s, rtol, peer_worst = _peer_speed(launches[:peer_serves], c)
    off = errors(launches[:error_serves], c)
    looked = fly_contacts(launches[:5000], [c.row()])
    steps = float(looked.steps.mean())
    flops = steps * FLOPS_PER_STEP + float(looked.counts.mean()) * FLOPS_PER_ACCELERATION
    growth = tuple(
        (n, _best(lambda m: fly_summaries(launches[:m], [c.row()], checked=True), n, 2)[0])
        for n in (1_000, 10_000, 100_000)
        if n <= serves
    )
    return Bench(
        serves_per_s=serves / wall_all,
        serves_per_s_one_core=serves / wall_one,
        serves_per_cpu_s=serves / cpu_one,
        cores=cores(),
        load_before=load,
        ratio_to_solve_ivp=peer_s / (wall_all / serves),
        ratio_core_for_core=peer_s / (cpu_one / serves),
        solve_ivp_ms=peer_s * 1e3,
        solve_ivp_rtol=rtol,
        solve_ivp_worst_mm=peer_worst,
        worst_error_mm=off.worst_mm,
        median_error_mm=off.median_mm,
        error_serves=off.serves,
        order_differs_unflagged=off.order_differs,
        order_differs_flagged=off.order_differs_flagged,
        steps_per_serve=steps,
        flops_per_serve=flops,
        flops_per_s_one_core=flops * serves / cpu_one,
        ns_per_step=_step_ns(launches[0], c),
        growth=growth,
        first_use_s=first,
    )


def _load() -> float:
    import os

    return os.getloadavg()[0] if hasattr(os, "getloadavg") else math.nan


def _best(work: Callable[[int], object], n: int, times: int = 3) -> tuple[float, float]:
    """Shortest wall time and shortest processor time of some runs: the ones least disturbed by others."""
    wall, cpu = math.inf, math.inf
    for _ in range(times):
        a, b = time.perf_counter(), time.process_time()
        work(n)
        wall, cpu = min(wall, time.perf_counter() - a), min(cpu, time.process_time() - b)
    return wall, cpu


def _peer_speed(launches: Floats, c: Coefficients) -> tuple[float, float, float]:
    """Processor seconds a serve takes the peer, at the loosest tolerance that is within 0.2 mm as we are."""
    truth = [peer_flight(x, c, 1e-12) for x in launches]
    for rtol in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
        start = time.process_time()
        found = [peer_flight(x, c, rtol) for x in launches]
        took = (time.process_time() - start) / len(launches)
        same = [(a, b) for a, b in zip(truth, found, strict=True) if a[0] == b[0]]
        worst = max(float(np.linalg.norm(a[2][-1] - b[2][-1])) for a, b in same) * 1e3
        if worst < 0.2 and len(same) == len(launches):
            break
    return took, rtol, worst


def _step_ns(launch: Floats, c: Coefficients) -> float:
    n = 100_000
    still = c.but(gravity_m_s2=0.0, drag_factor=0.0)
    start = time.process_time()
    free_path(launch, still.row(), 1e-9, n)
    return (time.process_time() - start) / n * 1e9


def as_json(result: Bench) -> str:
    """Return the bench as JSON, figures as measured."""
    return json.dumps(asdict(result), indent=2)
