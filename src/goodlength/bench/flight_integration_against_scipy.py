"""Benchmark of the flight integration against scipy's solve_ivp: speed, error, and time by part.

The peer is DOP853 with a compiled right-hand side and the formula of the drag, not our table of it; its
bounce is written again here in vector form, so that the two share nothing but the coefficients.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np

from goodlength.ball import Coefficients, cores, fly_contacts, fly_summaries, free_path
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.input_validation import Floats
from goodlength.synthetic.reference_flight_integration import peer_flight, random_serves


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
    """Return the error of the compiled flight against DOP853, over these launches."""
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


# Floating-point operations counted in the source of the kernel: of one acceleration, one step (its contact
# looked for), and one contact.
FLOPS_PER_ACCELERATION = 79
FLOPS_PER_STEP = 7 * FLOPS_PER_ACCELERATION + 6 * 21 + 3 * 40 + 60
FLOPS_PER_CONTACT = 150


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
    load = load_now()
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
    contacts = fly_contacts(launches[:5000], [c.row()])
    steps = float(contacts.steps.mean())
    flops = steps * FLOPS_PER_STEP + float(contacts.counts.mean()) * FLOPS_PER_ACCELERATION
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


def load_now() -> float:
    """Return how many processes wait for a core; NaN where the system does not say."""
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
