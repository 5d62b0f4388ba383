"""Force of an impact over time: Hertz contact with Hunt and Crossley's damping, integrated numerically.

m x'' = -k x^1.5 (1 + c x' / v) with c = 8 (1 - e) / (5 e) for the restitution e (Flores and others 2011, from
memory). In units of the Hertz time (m^2 / k^2 v)^(1/5) the motion depends on e alone, so each e is integrated
once; the contact lasts as v to the power -1/5 and the force peaks as v to 6/5.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

REFERENCE_M_S = 10.0
UNDAMPED_CONTACT = 3.218  # an elastic Hertz impact's length in units of (m^2 / k^2 v)^(1/5), with 2.94 x / v


@lru_cache(maxsize=64)
def unit_impact(restitution_percent: int) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Return times, force and leaving speed of a unit impact, by the classical Runge and Kutta method."""
    share = restitution_percent / 100.0
    damping = 8.0 * (1.0 - share) / (5.0 * share)

    def force(x: float, v: float) -> float:
        return x**1.5 * max(0.0, 1.0 + damping * v) if x > 0.0 else 0.0

    step, x, v = 0.004, 0.0, 1.0
    times, forces = [0.0], [0.0]
    while (x > 0.0 or len(times) == 1) and len(times) < 6000:
        k1x, k1v = v, -force(x, v)
        k2x, k2v = v + 0.5 * step * k1v, -force(x + 0.5 * step * k1x, v + 0.5 * step * k1v)
        k3x, k3v = v + 0.5 * step * k2v, -force(x + 0.5 * step * k2x, v + 0.5 * step * k2v)
        k4x, k4v = v + step * k3v, -force(x + step * k3x, v + step * k3v)
        x += step / 6.0 * (k1x + 2.0 * k2x + 2.0 * k3x + k4x)
        v += step / 6.0 * (k1v + 2.0 * k2v + 2.0 * k3v + k4v)
        times.append(times[-1] + step)
        forces.append(force(x, v))
    return np.array(times), np.array(forces), -v


@dataclass(frozen=True)
class Contact:
    """A contact: its length at 10 m/s in ms as if elastic, its restitution, how sharply air is driven out."""

    elastic_ms: float
    restitution: float
    click: float


def contact_forces(
    contact: Contact, speeds_m_s: NDArray[np.float64], rate: int, length: int
) -> NDArray[np.float64]:
    """Return forces over time, one row an impact, relative to the peak at 10 m/s; the contact is sample 0."""
    times, force, _ = unit_impact(round(100.0 * contact.restitution))
    slow = np.maximum(speeds_m_s, 0.3) / REFERENCE_M_S
    unit_s = 1e-3 * contact.elastic_ms / UNDAMPED_CONTACT * slow**-0.2
    moment = np.arange(length)[None, :] / rate / unit_s[:, None]
    rows = np.interp(moment, times, force / force.max(), right=0.0)
    return np.asarray(rows * slow[:, None] ** 1.2)


def driven_air(
    rng: np.random.Generator, contact: Contact, speeds_m_s: NDArray[np.float64], rate: int, length: int
) -> NDArray[np.float64]:
    """Return the click of air driven out as the patch of contact spreads, one row an impact.

    The patch of a sphere grows at 2 pi R v from the first instant, a step of air flow whose pressure is a
    short pulse; after it the hollow ball rings shortly in its own mode. Widths and pitch are ASSUMED.
    """
    time = np.arange(length)[None, :] / rate
    fast = np.maximum(speeds_m_s, 0.3)[:, None] / REFERENCE_M_S
    width = 1.1e-4 * fast**-0.35 * rng.lognormal(0.0, 0.25, fast.shape)
    rise = time / width
    pulse = rise * np.exp(1.0 - rise) * (2.0 - rise)
    shell = 1500.0 * rng.lognormal(0.0, 0.22, fast.shape)
    ring = np.exp(-time / 1.1e-3) * np.sin(2.0 * math.pi * shell * time)
    energy = np.sqrt((pulse**2).sum(axis=1, keepdims=True)) + 1e-12
    ring_energy = np.sqrt((ring**2).sum(axis=1, keepdims=True)) + 1e-12
    return np.asarray(contact.click * fast**1.45 * (0.75 * pulse / energy + 0.45 * ring / ring_energy))
