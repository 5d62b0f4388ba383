"""What is struck on a court: a force by speed, through an all-pole lattice that glides as the ball leaves.

Each body is a set of line spectral frequencies drawn anew for each court, racket and panel; no modes, plates
or strings are worked out. The force lasts as speed to the power -1/5 and grows as speed to 6/5 (Hertz); its
shape, the roughness that goes with it and every range below are ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from goodlength.synthetic.recordings.test_family.all_pole_filters import (
    gliding_lattice,
    line_spectrum_filter,
    reflection_coefficients,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

REFERENCE_M_S = 12.0
VARIANTS = 5  # places on a body that sound a little different
Range = tuple[float, float]
_SLAP = (0.01, 0.3)  # noise of the air pressed out, beside the body's peak


@dataclass(frozen=True)
class _BodyRange:
    """From what a kind of body is drawn: lines, lowest line, crowding to the low end, ring, force, level."""

    lines: tuple[int, int]
    lowest_hz: Range
    crowding: Range  # 1: lines evenly over log frequency, 0: evenly over frequency
    evenness: Range  # of the gaps between lines: small makes sharp resonances
    ring_s: Range
    contact_ms: Range
    edge: Range  # of the force: below 1 it starts and ends at once
    rough: Range  # noise that goes with the force
    level_db: Range


_WALL = _BodyRange(
    (10, 18),
    (90.0, 300.0),
    (0.4, 0.9),
    (1.2, 5.0),
    (0.010, 0.06),
    (1.2, 4.5),
    (0.5, 1.3),
    (0.1, 0.9),
    (-9.0, 2.0),
)
_KINDS = {
    "racket": _BodyRange(
        (12, 22),
        (180.0, 650.0),
        (0.2, 0.8),
        (0.8, 3.6),
        (0.012, 0.09),
        (0.9, 3.8),
        (0.5, 1.4),
        (0.05, 0.7),
        (-2.0, 3.0),
    ),
    "front": _WALL,
    "side": _WALL,
    "glass": _BodyRange(
        (12, 20),
        (70.0, 240.0),
        (0.4, 0.9),
        (1.5, 5.0),
        (0.02, 0.11),
        (1.2, 4.0),
        (0.6, 1.4),
        (0.05, 0.5),
        (-9.0, 1.0),
    ),
    "floor": _BodyRange(
        (10, 18),
        (60.0, 200.0),
        (0.5, 1.0),
        (1.2, 4.0),
        (0.012, 0.08),
        (1.8, 5.5),
        (0.7, 1.6),
        (0.05, 0.6),
        (-6.0, 6.0),
    ),
    "tin": _BodyRange(
        (16, 24),
        (110.0, 480.0),
        (0.2, 0.8),
        (0.5, 1.8),
        (0.08, 0.45),
        (0.8, 3.0),
        (0.4, 1.0),
        (0.2, 1.2),
        (1.0, 9.0),
    ),
    "foot": _BodyRange(
        (8, 14),
        (45.0, 150.0),
        (0.6, 1.0),
        (2.0, 6.0),
        (0.012, 0.06),
        (5.0, 22.0),
        (0.6, 1.8),
        (0.1, 1.0),
        (-4.0, 6.0),
    ),
    "door": _BodyRange(
        (12, 20),
        (40.0, 140.0),
        (0.5, 1.0),
        (1.5, 4.0),
        (0.05, 0.35),
        (3.0, 14.0),
        (0.5, 1.3),
        (0.1, 1.0),
        (2.0, 9.0),
    ),
    "latch": _BodyRange(
        (12, 18),
        (500.0, 1600.0),
        (0.1, 0.6),
        (1.2, 4.0),
        (0.01, 0.08),
        (0.2, 1.0),
        (0.4, 1.0),
        (0.2, 1.0),
        (-8.0, 2.0),
    ),
    "frame": _BodyRange(
        (10, 16),
        (300.0, 900.0),
        (0.2, 0.7),
        (1.2, 4.0),
        (0.01, 0.07),
        (0.3, 1.6),
        (0.4, 1.2),
        (0.1, 0.8),
        (-6.0, 3.0),
    ),
}


@dataclass(frozen=True)
class StruckBody:
    """A body: lattices in contact and free for `VARIANTS` places, its force, slap of air, level and rate."""

    contact: tuple[NDArray[np.float64], ...]
    free: tuple[NDArray[np.float64], ...]
    gains: tuple[float, ...]
    ring_s: float
    contact_s: float
    edge: float
    rough: float
    slap: float
    level: float
    rate: int


@lru_cache(maxsize=512)
def _window(count: int, skew: float, edge: float) -> NDArray[np.float64]:
    """Return the force over a contact, largest 1: a sine to a power over a skewed time."""
    phase = (np.arange(count) + 0.5) / count
    out: NDArray[np.float64] = np.sin(math.pi * phase**skew) ** edge
    out.flags.writeable = False
    return out


def draw_body(rng: np.random.Generator, kind: str, rate: int) -> StruckBody:
    """Return a body of a kind of `_KINDS`, drawn for one court."""
    r, u = _KINDS[kind], rng.uniform
    low = float(np.exp(u(*np.log(r.lowest_hz))))
    ring = float(np.exp(u(*np.log(r.ring_s))))
    gaps = np.cumsum(
        rng.gamma(float(u(*r.evenness)), 1.0, 2 * int(rng.integers(r.lines[0] // 2, r.lines[1] // 2 + 1)))
    )
    share = (gaps - 0.5 * gaps[0]) / gaps[-1]
    crowded = float(u(*r.crowding))
    top = float(u(14000.0, 21000.0))
    lines = crowded * low * (top / low) ** share + (1.0 - crowded) * (low + (top - low) * share)
    contact, free, gains = [], [], []
    for _ in range(VARIANTS):
        here = np.sort(lines * np.exp(rng.normal(0.0, 0.02, lines.size)))
        here = np.maximum.accumulate(here + 3.0 * np.arange(here.size))
        here = here[here < 0.47 * rate]
        free.append(reflection_coefficients(line_spectrum_filter(here, rate, ring)))
        pressed = here * float(u(0.8, 0.97))
        contact.append(reflection_coefficients(line_spectrum_filter(pressed, rate, 0.25 * ring)))
        gains.append(math.sqrt(float(np.prod(1.0 - free[-1] ** 2))))
    body = StruckBody(
        tuple(contact),
        tuple(free),
        tuple(gains),
        ring,
        0.001 * float(np.exp(u(*np.log(r.contact_ms)))),
        float(u(*r.edge)),
        float(u(*r.rough)),
        float(np.exp(u(*np.log(_SLAP)))),
        10.0 ** (float(u(*r.level_db)) / 20.0),
        rate,
    )
    return _levelled_body(body)


def _levelled_body(body: StruckBody) -> StruckBody:
    """Return the body with gains that give every place the same energy over 0.4 to 6 kHz at usual speed."""
    quiet = np.random.default_rng(0)
    gains = []
    for variant in range(VARIANTS):
        wave = impact_sound(quiet, body, REFERENCE_M_S, variant, rough=False)
        spectrum = np.abs(np.fft.rfft(wave)) ** 2
        hz = np.fft.rfftfreq(wave.size, 1.0 / body.rate)
        energy = float(spectrum[(hz > 400.0) & (hz < 6000.0)].sum()) / wave.size * 2.0
        whole = float((wave.astype(np.float64) ** 2).sum())
        usual = body.level * 0.05 * math.sqrt(0.02 * body.rate)
        gains.append(body.gains[variant] * usual / math.sqrt(0.7 * energy + 0.3 * whole + 1e-18))
    return StruckBody(
        body.contact,
        body.free,
        tuple(gains),
        body.ring_s,
        body.contact_s,
        body.edge,
        body.rough,
        body.slap,
        1.0,
        body.rate,
    )


def impact_sound(
    rng: np.random.Generator, body: StruckBody, speed_m_s: float, variant: int, rough: bool = True
) -> NDArray[np.float32]:
    """Return the sound of one impact at 1 m; its first sample is the first touch."""
    speed = max(speed_m_s, 0.2)
    lasts = (
        body.contact_s * (speed / REFERENCE_M_S) ** -0.2 * (float(rng.normal(1.0, 0.04)) if rough else 1.0)
    )
    touch = max(3, round(lasts * body.rate))
    force = _window(touch, 0.75, body.edge)
    count = touch + int(min(1.2 * body.ring_s, 0.4) * body.rate) + 8
    pushed = np.zeros(count)
    pushed[:touch] = np.diff(force, prepend=0.0)
    pushed[touch] = -force[-1]
    if rough:
        pushed[:touch] += (
            body.rough * float(np.abs(pushed[: touch + 1]).max()) * force * rng.standard_normal(touch)
        )
    pushed *= body.gains[variant] * (speed / REFERENCE_M_S) ** 1.2
    out: NDArray[np.float32] = gliding_lattice(
        pushed, body.contact[variant], body.free[variant], touch, max(touch // 2, 4)
    )
    if rough:
        slap = rng.standard_normal(touch) * _window(touch, 0.4, 0.5)
        out[:touch] += np.float32(body.slap * float(np.abs(out).max())) * slap.astype(np.float32)
    out[-8:] *= np.linspace(1.0, 0.0, 8, dtype=np.float32)
    return out


def squeak_sound(rng: np.random.Generator, rate: int, loud: float) -> NDArray[np.float32]:
    """Return a shoe that squeaks: a tone and its overtones that glide, with noise."""
    count = int(float(rng.uniform(0.04, 0.22)) * rate)
    time = np.arange(count) / count
    bend = float(rng.uniform(-0.25, 0.35))
    hz = float(rng.uniform(900.0, 3400.0)) * (
        1.0 + bend * time + 0.02 * np.cumsum(rng.standard_normal(count)) / math.sqrt(count)
    )
    phase = 2.0 * math.pi * np.cumsum(hz) / rate
    tone = sum(np.sin(n * phase) / n**1.3 for n in (1, 2, 3) if 4.0 * n * 900.0 < 2.0 * rate)
    wave = (tone + 0.3 * rng.standard_normal(count)) * np.sin(math.pi * np.minimum(time * 1.02, 1.0)) ** 0.6
    return np.asarray(0.012 * loud * wave, dtype=np.float32)


def draw_court_bodies(rng: np.random.Generator, rate: int) -> dict[str, StruckBody]:
    """Return every body of a court: two rackets, four walls, floor, tin, feet, door and a frame."""
    back = "glass" if rng.random() < 0.65 else "side"
    kinds = {
        "racket0": "racket",
        "racket1": "racket",
        "front": "front",
        "left": "side",
        "right": "side",
        "back": back,
        "floor": "floor",
        "tin": "tin",
        "foot0": "foot",
        "foot1": "foot",
        "door": "door",
        "latch": "latch",
        "tap": "frame",
    }
    return {name: draw_body(rng, kind, rate) for name, kind in kinds.items()}
