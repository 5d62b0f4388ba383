"""Synthesise impacts by physical models: ringing plates, strings and beams struck by the ball's force
pulse.

A plate's modes are those of a supported rectangle, f = (pi/2) sqrt(D / rho h) ((m/a)^2 + (n/b)^2), with
D = E h^3 / 12 (1 - nu^2); a string bed's those of a round membrane, a frame's those of a free beam (all from
memory of textbooks; materials' figures ASSUMED within their usual ranges and drawn anew each time).
The ball's force is an uneven pulse of 4 to 5 ms with a sharp first slap that grows with speed, so
a soft hit is dull and not only quiet. What sounds is the struck body's acceleration plus the slap itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

Samples = np.ndarray[tuple[int, ...], np.dtype[np.float32]]
VARIANTS = 10
PULSE_S = 0.02


@dataclass(frozen=True)
class ElasticPlate:
    """A panel: stiffness Pa, density kg/m3, thickness m, sides m, loss factor, share of slap."""

    young_pa: float
    density: float
    thick_m: float
    sides_m: tuple[float, float]
    loss: float
    slap: float


def _glass(rng: np.random.Generator) -> ElasticPlate:
    sides = (float(rng.uniform(1.0, 2.2)), float(rng.uniform(1.6, 2.2)))
    return ElasticPlate(
        70e9, 2500.0, float(rng.choice([0.010, 0.012, 0.015])), sides, float(rng.uniform(0.008, 0.03)), 0.7
    )


def _plaster(rng: np.random.Generator) -> ElasticPlate:
    sides = (float(rng.uniform(1.5, 3.5)), float(rng.uniform(1.5, 3.5)))
    young = float(rng.uniform(5e9, 18e9))
    return ElasticPlate(
        young, 1900.0, float(rng.uniform(0.05, 0.2)), sides, float(rng.uniform(0.05, 0.14)), 1.3
    )


def _panel(rng: np.random.Generator) -> ElasticPlate:
    sides = (float(rng.uniform(0.35, 0.62)), float(rng.uniform(1.2, 2.5)))
    young = float(rng.uniform(6e9, 12e9))
    return ElasticPlate(
        young, 950.0, float(rng.uniform(0.012, 0.03)), sides, float(rng.uniform(0.03, 0.09)), 1.0
    )


def _floor(rng: np.random.Generator) -> ElasticPlate:
    sides = (float(rng.uniform(0.3, 0.55)), float(rng.uniform(1.5, 3.0)))
    young = float(rng.uniform(8e9, 14e9))
    return ElasticPlate(
        young, 690.0, float(rng.uniform(0.018, 0.032)), sides, float(rng.uniform(0.04, 0.12)), 0.7
    )


def _tin(rng: np.random.Generator) -> ElasticPlate:
    sides = (0.43, float(rng.uniform(0.8, 2.1)))
    return ElasticPlate(
        200e9, 7800.0, float(rng.uniform(0.0008, 0.0025)), sides, float(rng.uniform(0.006, 0.03)), 0.5
    )


def _door(rng: np.random.Generator) -> ElasticPlate:
    sides = (0.9, 2.1)
    return ElasticPlate(float(rng.uniform(4e9, 60e9)), float(rng.uniform(600, 2400)), 0.03, sides, 0.05, 0.3)


WALLS = {"glass": _glass, "plaster": _plaster, "panel": _panel}


def _plate_modes(
    rng: np.random.Generator, plate: ElasticPlate, top_hz: float
) -> tuple[NDArray[np.float64], ...]:
    """Return frequency, weight and decay rate of up to 90 modes, struck at a random place."""
    stiff = plate.young_pa * plate.thick_m**3 / (12.0 * 0.92)
    scale = math.pi / 2.0 * math.sqrt(stiff / (plate.density * plate.thick_m))
    m, n = np.meshgrid(np.arange(1, 40), np.arange(1, 40), indexing="ij")
    a, b = plate.sides_m
    hz = scale * ((m / a) ** 2 + (n / b) ** 2) * rng.normal(1.0, 0.02, m.shape)
    place = rng.uniform(0.15, 0.85, 2)
    weight = np.sin(m * math.pi * place[0]) * np.sin(n * math.pi * place[1])
    keep = np.flatnonzero((hz.ravel() > 40.0) & (hz.ravel() < top_hz))
    if keep.size > 90:
        keep = rng.choice(keep, 90, replace=False)
    coincidence = 343.0**2 / (1.8 * plate.thick_m * math.sqrt(plate.young_pa / plate.density))
    hz, weight = hz.ravel()[keep], weight.ravel()[keep]
    weight = weight * np.minimum(1.0, hz / coincidence) ** 0.5
    return hz, weight, math.pi * hz * plate.loss + rng.uniform(8.0, 30.0)


_MEMBRANE = np.array([1.0, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.501, 3.6, 4.06, 4.23, 4.83])
_BEAM = np.array([1.0, 2.757, 5.404, 8.933, 13.34])


def _racket_modes(
    rng: np.random.Generator, strings_hz: float, frame_hz: float
) -> tuple[NDArray[np.float64], ...]:
    """Return the modes of strings and frame for one place on the strings."""
    strings = strings_hz * _MEMBRANE * rng.normal(1.0, 0.015, _MEMBRANE.size)
    frame = frame_hz * _BEAM * rng.normal(1.0, 0.01, _BEAM.size)
    off = rng.uniform(0.1, 1.0)
    weights = np.concatenate(
        [
            _MEMBRANE**-0.6 * np.concatenate([[1.0], off * rng.normal(0, 1.0, _MEMBRANE.size - 1)]),
            0.7 * off * rng.normal(0.0, 1.0, _BEAM.size),
        ]
    )
    decay = np.concatenate([strings * rng.uniform(0.06, 0.16) + 15.0, frame * rng.uniform(0.04, 0.1) + 10.0])
    return np.concatenate([strings, frame]), weights, decay


BLOCK = 128


def _ring(modes: tuple[NDArray[np.float64], ...], rate: int, length: int) -> NDArray[np.float64]:
    hz, weight, decay = modes
    usable = hz < 0.45 * rate
    hz, weight, decay = hz[usable], weight[usable], decay[usable]
    if hz.size == 0:
        return np.zeros(length)
    # A sample at block + within is exp(turn * block) * exp(turn * within): two small tables and one product
    turn = (2j * math.pi * hz - decay) / rate
    blocks = weight * np.exp(np.outer(np.arange(0, length, BLOCK), turn))
    within = np.exp(np.outer(turn, np.arange(BLOCK)))
    out: NDArray[np.float64] = (blocks @ within).imag.ravel()[:length]
    return out / max(float(np.sqrt((out**2).sum())), 1e-9)


@dataclass(frozen=True)
class Body:
    """What can be struck: rings of some places (variants, samples), share of slap, hiss, loudness."""

    rings: NDArray[np.float64]
    slap: float
    hiss: float
    gain: float


def _plate_body(
    rng: np.random.Generator, plate: ElasticPlate, rate: int, seconds: float, gain: float
) -> Body:
    length = int(seconds * rate)
    rings = np.stack([_ring(_plate_modes(rng, plate, 7000.0), rate, length) for _ in range(VARIANTS)])
    return Body(rings, plate.slap * float(rng.uniform(0.6, 1.5)), float(rng.uniform(0.02, 0.12)), gain)


def _racket_body(rng: np.random.Generator, rate: int) -> Body:
    strings, frame = float(rng.uniform(380.0, 720.0)), float(rng.uniform(130.0, 230.0))
    length = int(0.07 * rate)
    rings = np.stack([_ring(_racket_modes(rng, strings, frame), rate, length) for _ in range(VARIANTS)])
    return Body(rings, float(rng.uniform(0.5, 1.1)), float(rng.uniform(0.1, 0.45)), 1.0)


def _tap_body(rng: np.random.Generator, rate: int) -> Body:
    frame = float(rng.uniform(160.0, 320.0))
    length = int(0.09 * rate)
    modes = [
        (frame * _BEAM * rng.normal(1, 0.02, 5), rng.normal(0, 1, 5), 25 + 0.02 * frame * _BEAM)
        for _ in range(VARIANTS)
    ]
    rings = np.stack([_ring(m, rate, length) for m in modes])
    return Body(rings, 0.6, 0.1, float(rng.uniform(0.3, 0.8)))


def draw_bodies(rng: np.random.Generator, rate: int) -> dict[str, Body]:
    """Return everything on one court that can be struck, materials drawn anew.

    Keys: "racket0", "racket1", "front", "side", "back", "floor", "tin", "foot", "squeak", "tap", "door",
    "latch".
    """
    front, side = (str(rng.choice(["plaster", "panel"], p=[0.65, 0.35])) for _ in range(2))
    back = str(rng.choice(["glass", "plaster", "panel"], p=[0.65, 0.25, 0.1]))
    boards = _floor(rng)
    wall_gain = float(rng.uniform(0.6, 1.25))
    bodies = {
        "racket0": _racket_body(rng, rate),
        "racket1": _racket_body(rng, rate),
        "front": _plate_body(rng, WALLS[front](rng), rate, 0.09, wall_gain),
        "side": _plate_body(rng, WALLS[side](rng), rate, 0.09, wall_gain * float(rng.uniform(0.7, 1.1))),
        "back": _plate_body(rng, WALLS[back](rng), rate, 0.12, wall_gain * float(rng.uniform(0.7, 1.3))),
        "floor": _plate_body(rng, boards, rate, 0.08, float(rng.uniform(0.6, 1.4))),
        "tin": _plate_body(rng, _tin(rng), rate, 0.15, float(rng.uniform(1.0, 2.2))),
        "foot": _plate_body(rng, boards, rate, 0.1, float(rng.uniform(0.8, 3.0))),
        "squeak": _squeak_body(rng, rate),
        "tap": _tap_body(rng, rate),
        "door": _plate_body(rng, _door(rng), rate, 0.15, 1.2),
        "latch": _plate_body(rng, _tin(rng), rate, 0.06, 0.6),
    }
    return {name: _of_unit_energy(rng, body, name, rate) for name, body in bodies.items()}


def _of_unit_energy(rng: np.random.Generator, body: Body, name: str, rate: int) -> Body:
    """Return the body with rings scaled so that a contact at 10 m/s gives energy 1."""
    if name == "squeak":
        return body
    pulse = _pulses(rng, np.array([10.0]), _CONTACT_MS.get(name, 4.5), rate)
    size = body.rings.shape[1] + pulse.shape[1]
    rung = scipy.fft.irfft(scipy.fft.rfft(body.rings, size) * scipy.fft.rfft(pulse, size), size)
    energy = np.sqrt((rung**2).sum(axis=1, keepdims=True))
    return replace(body, rings=body.rings / np.maximum(energy, 1e-9))


def _unit(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(rows / np.maximum(np.sqrt((rows**2).sum(axis=1, keepdims=True)), 1e-9))


def _squeak_body(rng: np.random.Generator, rate: int) -> Body:
    """Return squeaks: a rubbing sole, harmonics that glide, swelling and gone in a tenth of a second."""
    rows = []
    time = np.arange(int(0.16 * rate)) / rate
    for _ in range(VARIANTS):
        base = float(rng.uniform(700.0, 1900.0))
        glide = base * (time + float(rng.uniform(-2.0, 2.0)) * time**2)
        jitter = np.cumsum(rng.normal(0.0, 0.004, time.size))
        shape = (time / 0.02).clip(0, 1) * np.exp(-time / float(rng.uniform(0.02, 0.07)))
        wave = sum(
            np.sin(2 * math.pi * k * (glide + jitter)) / k for k in range(1, 6) if k * base < 0.4 * rate
        )
        rows.append(shape * wave / 4.0)
    return Body(np.stack(rows), 0.0, 0.0, float(rng.uniform(0.3, 1.0)))


# ASSUMED contact times at 10 m/s in ms: a hollow rubber ball 4.5, a shoe 12, a racket on wood 1.5, a door 6.
_CONTACT_MS = {"tin": 2.2, "foot": 12.0, "tap": 1.5, "door": 6.0, "latch": 0.6, "squeak": 0.2}


def _pulses(
    rng: np.random.Generator, speeds: NDArray[np.float64], width_ms: float, rate: int
) -> NDArray[np.float64]:
    """Return force pulses (events, samples) of unit push: rise as the 1.5th power, slower fall."""
    time = np.arange(int(PULSE_S * rate)) / rate
    width = (width_ms * 1e-3 * (np.maximum(speeds, 0.5) / 10.0) ** -0.2)[:, None]
    rise = width * rng.uniform(0.18, 0.4, width.shape)
    up = (time / rise).clip(0.0, 1.0) ** 1.5
    down = np.cos(0.5 * math.pi * ((time - rise) / (width - rise)).clip(0.0, 1.0))
    shape: NDArray[np.float64] = up * down
    return np.asarray(shape / np.maximum(shape.sum(axis=1, keepdims=True), 1e-9))


def _slaps(
    rng: np.random.Generator, speeds: NDArray[np.float64], body: Body, width_ms: float, rate: int
) -> NDArray[np.float64]:
    """Return the first slap with the hiss that strings and grit add, and the breathing of the hollow ball."""
    time = np.arange(int(PULSE_S * rate)) / rate
    fast = (np.maximum(speeds, 0.5) / 15.0)[:, None]
    short = 0.25e-3 * (width_ms / 4.5) * fast**-0.5 * rng.uniform(0.7, 1.5, fast.shape)
    slap = (1.0 - time / short) * np.exp(-time / short)
    tone = rng.uniform(700.0, 1500.0, fast.shape)
    breath = 0.5 * np.sin(2 * math.pi * tone * time) * np.exp(-time / 1.5e-3)
    hiss = rng.standard_normal((speeds.size, time.size)) * np.exp(-time / 3e-3) * (time / 3e-4).clip(0, 1)
    out: NDArray[np.float64] = 0.9 * body.slap * np.minimum(fast, 3.0) ** 0.6 * _unit(slap + breath)
    return np.asarray(out + body.hiss * np.minimum(fast, 3.0) * _unit(hiss))


def sound_of(
    rng: np.random.Generator, body: Body, name: str, speeds: Sequence[float], rate: int, size: int
) -> NDArray[np.complex64]:
    """Return the spectra (events, size // 2 + 1) of impacts on a body; their first sample is the contact.

    Loudness goes with speed to the power 1.15 (ASSUMED), 1 for 20 m/s; each event has its own place and tilt.
    """
    speed = np.asarray(speeds, dtype=float)
    width = _CONTACT_MS.get(name, 4.5)
    force = scipy.fft.rfft(_pulses(rng, speed, width, rate).astype(np.float32), size)
    rings = scipy.fft.rfft(body.rings.astype(np.float32), size)[rng.integers(0, VARIANTS, speed.size)]
    out = rings * (force if name != "squeak" else 1.0)
    if name != "squeak":
        out = out + scipy.fft.rfft(_slaps(rng, speed, body, width, rate).astype(np.float32), size)
    grid = np.fft.rfftfreq(size, 1.0 / rate) / 1000.0
    tilt = (grid[None, :] + 0.2) ** rng.normal(0.0, 0.12, speed.size)[:, None]
    loud = body.gain * (speed / 20.0) ** 1.15 * 10.0 ** (rng.normal(0.0, 1.5, speed.size) / 20.0)
    return np.asarray(out * tilt * loud[:, None], dtype=np.complex64)
