"""What is struck and rings: a racket's string lattice and frame, panels with modes spaced at random, soles.

Strings are a lattice of point masses under tension whose modes are found by eigenvalues; the frame is a free
beam of finite elements with a hand's mass at the grip. Panels are not solved: their modes have the density
S sqrt(3) / (h c) of bending waves, Wigner's spacings, normal weights, and lose by material and by radiation
above coincidence. Sizes and losses are ASSUMED within usual ranges and drawn for each court.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.linalg
from numpy.typing import NDArray

from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_impact_force import (
    Contact,
    contact_forces,
    driven_air,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.footfalls_and_squeaks import squeaks

PLACES = 9  # strike places a body
FORCE_S = 0.03
AIR_KG_M3, SOUND_M_S = 1.2, 343.2


@dataclass(frozen=True)
class Modes:
    """Frequencies in Hz, decay rates in 1/s, and weights for each strike place (places, modes)."""

    hz: NDArray[np.float64]
    decay_per_s: NDArray[np.float64]
    weights: NDArray[np.float64]


@dataclass(frozen=True)
class VibratingBody:
    """A body: rings of its strike places (places, samples), how it is met, its loudness."""

    rings: NDArray[np.float32]
    contact: Contact
    gain: float


def string_lattice_hz(
    tension_n: float, mains: int, crosses: int, width_m: float, height_m: float, line_kg_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the string bed's frequencies, its nodes' places (n, 2) and its modes (n, modes).

    Every crossing of two strings inside the ellipse is a mass; those outside are held fast.
    """
    xs = np.linspace(-width_m / 2, width_m / 2, mains + 2)[1:-1]
    ys = np.linspace(-height_m / 2, height_m / 2, crosses + 2)[1:-1]
    dx, dy = xs[1] - xs[0], ys[1] - ys[0]
    inside = (2.0 * xs[:, None] / width_m) ** 2 + (2.0 * ys[None, :] / height_m) ** 2 < 1.0
    number = np.where(inside, np.cumsum(inside).reshape(inside.shape) - 1, -1)
    count = int(inside.sum())
    stiffness = np.zeros((count, count))
    places = np.array([(xs[i], ys[j]) for i, j in np.argwhere(inside)])
    for i, j in np.argwhere(inside):
        here = number[i, j]
        for di, dj, gap in ((1, 0, dx), (-1, 0, dx), (0, 1, dy), (0, -1, dy)):
            a, b = i + di, j + dj
            stiffness[here, here] += tension_n / gap
            if 0 <= a < mains and 0 <= b < crosses and inside[a, b]:
                stiffness[here, number[a, b]] -= tension_n / gap
    square, modes = np.linalg.eigh(stiffness / (line_kg_m * (dx + dy)))
    return np.sqrt(np.maximum(square, 0.0)) / (2.0 * math.pi), places, modes


def free_beam_hz(
    length_m: float, mass_kg: float, bending_n_m2: float, hand_kg: float, elements: int = 12
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the frequencies of a free beam with a mass near one end, and its modes at the nodes."""
    step = length_m / elements
    line = mass_kg / length_m
    size = 2 * (elements + 1)
    stiff, inertia = np.zeros((size, size)), np.zeros((size, size))
    k = np.array([[12, 6, -12, 6], [6, 4, -6, 2], [-12, -6, 12, -6], [6, 2, -6, 4]], dtype=float)
    m = np.array([[156, 22, 54, -13], [22, 4, 13, -3], [54, 13, 156, -22], [-13, -3, -22, 4]], dtype=float)
    unit = np.array([1.0, step, 1.0, step])
    scale = np.outer(unit, unit)
    for i in range(elements):
        rows = slice(2 * i, 2 * i + 4)
        stiff[rows, rows] += bending_n_m2 / step**3 * k * scale
        inertia[rows, rows] += line * step / 420.0 * m * scale
    inertia[2, 2] += hand_kg
    square, modes = scipy.linalg.eigh(stiff, inertia)
    return np.sqrt(np.maximum(square[2:], 0.0)) / (2.0 * math.pi), modes[::2, 2:]


def racket_modes(rng: np.random.Generator) -> Modes:
    """Return a racket's modes for strike places about the middle of its strings."""
    width, height = float(rng.uniform(0.185, 0.21)), float(rng.uniform(0.27, 0.33))
    tension, line = float(rng.uniform(85.0, 135.0)), float(rng.uniform(0.0012, 0.0017))
    hz, places, modes = string_lattice_hz(tension, 11, 15, width, height, line)
    strike = rng.normal(0.0, 1.0, (PLACES, 2)) * np.array([0.018, 0.03])
    nearest = np.argmin(((places[None] - strike[:, None]) ** 2).sum(axis=2), axis=1)
    radiates = modes.sum(axis=0) / math.sqrt(places.shape[0])
    strings = modes[nearest] * (np.abs(radiates) + 0.08) * np.sign(radiates + 1e-12)
    frame_hz, shapes = free_beam_hz(
        0.685, float(rng.uniform(0.13, 0.18)), float(rng.uniform(70.0, 190.0)), 0.18
    )
    chosen = frame_hz < 6000.0
    head = shapes[-4:, chosen][rng.integers(0, 4, PLACES)]
    head = head / np.maximum(np.abs(shapes[:, chosen]).max(axis=0), 1e-9)
    low = hz < 9000.0
    loss = float(rng.uniform(0.02, 0.05))
    off = np.hypot(strike[:, :1] / 0.018, strike[:, 1:] / 0.03)
    weights = np.concatenate([strings[:, low] / np.abs(strings).max(), 0.25 * (0.3 + off) * head], axis=1)
    decay = np.concatenate(
        [2.0 * math.pi * hz[low] * loss + 25.0, 2.0 * math.pi * frame_hz[chosen] * 0.018 + 30.0]
    )
    return Modes(np.concatenate([hz[low], frame_hz[chosen]]), decay, weights)


@dataclass(frozen=True)
class Panel:
    """A panel: area m2, thickness m, speed of waves along it m/s, density kg/m3, loss of its material."""

    area_m2: float
    thick_m: float
    along_m_s: float
    density: float
    loss: float


def draw_panel(rng: np.random.Generator, material: str) -> Panel:
    """Return a panel of "glass", "plaster", "ply", "boards", "steel" or "door"."""
    u = rng.uniform
    if material == "glass":
        return Panel(float(u(2.5, 4.8)), 0.012, 5300.0, 2500.0, float(u(0.006, 0.025)))
    if material == "plaster":
        return Panel(float(u(6.0, 14.0)), float(u(0.1, 0.24)), 2400.0, 1800.0, float(u(0.015, 0.05)))
    if material == "ply":
        return Panel(float(u(1.5, 3.2)), float(u(0.015, 0.028)), 3400.0, 680.0, float(u(0.02, 0.06)))
    if material == "boards":
        return Panel(float(u(1.5, 5.0)), float(u(0.02, 0.03)), 3800.0, 640.0, float(u(0.025, 0.08)))
    if material == "steel":
        return Panel(float(u(0.4, 1.1)), float(u(0.001, 0.0028)), 5100.0, 7800.0, float(u(0.004, 0.02)))
    return Panel(1.9, float(u(0.011, 0.04)), float(u(2600.0, 5300.0)), float(u(600.0, 2500.0)), 0.03)


def mode_density_per_hz(panel: Panel) -> float:
    """Return the number of bending modes in a hertz, the same at all frequencies."""
    return panel.area_m2 * math.sqrt(3.0) / (panel.thick_m * panel.along_m_s)


def coincidence_hz(panel: Panel) -> float:
    """Return where bending waves are as fast as sound in air, above which a panel radiates well."""
    return SOUND_M_S**2 * math.sqrt(3.0) / (math.pi * panel.along_m_s * panel.thick_m)


def panel_modes(rng: np.random.Generator, panel: Panel, top_hz: float = 9000.0, most: int = 140) -> Modes:
    """Return up to so many modes with random spacing; where there are more, a random share stands for all."""
    density = mode_density_per_hz(panel)
    count = max(6, int(1.1 * density * top_hz))
    gaps = np.sqrt(-4.0 / math.pi * np.log(rng.uniform(1e-9, 1.0, count))) / density
    hz = 25.0 + np.cumsum(gaps)
    hz = hz[hz < top_hz]
    if hz.size > most:
        hz = np.sort(rng.choice(hz, most, replace=False))
    critical = coincidence_hz(panel)
    above = np.maximum(1.0 - critical / np.maximum(hz, critical * 1.02), 0.02)
    radiates = np.where(hz > critical, above**-0.5, 0.12 * np.sqrt(hz / critical))
    radiates = np.minimum(radiates, 1.8)
    by_air = AIR_KG_M3 * SOUND_M_S * radiates / (panel.density * panel.thick_m)
    decay = math.pi * hz * panel.loss + 0.5 * by_air + 12.0
    weights = rng.normal(0.0, 1.0, (PLACES, hz.size)) * np.sqrt(radiates)
    return Modes(hz, decay, weights)


def ring_of(modes: Modes, rate: int, seconds: float) -> NDArray[np.float32]:
    """Return the ringing after a unit push at each strike place, energy 1, shape (places, samples)."""
    usable = modes.hz < 0.46 * rate
    time = np.arange(int(seconds * rate)) / rate
    if not usable.any():
        return np.zeros((PLACES, time.size), dtype=np.float32)
    turning = (2j * math.pi * modes.hz[usable] - modes.decay_per_s[usable])[:, None]
    step = 64  # a moment is a coarse one and a fine one: two small tables instead of one large
    coarse = np.exp(turning * time[None, ::step])
    fine = np.exp(turning * time[None, :step])
    table = (coarse[:, :, None] * fine[:, None, :]).imag.reshape(usable.sum(), -1)[:, : time.size]
    rings = modes.weights[:, usable] @ table
    energy = np.sqrt((rings**2).sum(axis=1, keepdims=True))
    return np.asarray(rings / np.maximum(energy, 1e-9), dtype=np.float32)


_CONTACTS = {  # ASSUMED elastic length at 10 m/s in ms, restitution, click beside the ringing
    "racket": (4.4, 0.72, 1.0),
    "wall": (4.3, 0.5, 1.0),
    "floor": (4.6, 0.48, 0.8),
    "tin": (4.0, 0.42, 0.5),
    "foot": (7.0, 0.3, 0.3),
    "tap": (0.9, 0.6, 0.5),
    "door": (4.5, 0.35, 0.3),
    "latch": (0.5, 0.5, 0.4),
}


def _body(
    rng: np.random.Generator, modes: Modes, contact: str, rate: int, seconds: float, gain: float
) -> VibratingBody:
    """Return a body whose impact at 10 m/s has energy 1 before its gain and click."""
    length_ms, restitution, click = _CONTACTS[contact]
    met = Contact(
        length_ms * float(rng.lognormal(0.0, 0.12)), restitution, click * float(rng.lognormal(0.0, 0.3))
    )
    rings = ring_of(modes, rate, seconds)
    force = contact_forces(met, np.array([10.0]), rate, int(FORCE_S * rate))
    size = rings.shape[1] + force.shape[1]
    moved = scipy.fft.irfft(scipy.fft.rfft(rings, size) * scipy.fft.rfft(force, size), size)
    energy = np.sqrt((moved**2).sum(axis=1, keepdims=True))
    return VibratingBody((rings / np.maximum(energy, 1e-9)).astype(np.float32), met, gain)


def draw_court_bodies(rng: np.random.Generator, rate: int) -> dict[str, VibratingBody]:
    """Return all that can be struck on a court, by name.

    Keys: "racket0", "racket1", "front", "side", "back", "floor", "tin", "foot", "squeak", "tap", "door",
    "latch".
    """
    wall = str(rng.choice(["plaster", "ply"], p=[0.7, 0.3]))
    back = str(rng.choice(["glass", "plaster", "ply"], p=[0.7, 0.2, 0.1]))
    boards = panel_modes(rng, draw_panel(rng, "boards"))
    loud = float(rng.lognormal(-0.1, 0.25))
    side = panel_modes(rng, draw_panel(rng, wall))
    latch = panel_modes(rng, draw_panel(rng, "steel"), 8000.0, 50)
    draw = {
        "racket0": (racket_modes(rng), "racket", 0.11, 1.0),
        "racket1": (racket_modes(rng), "racket", 0.11, float(rng.lognormal(0.0, 0.15))),
        "front": (panel_modes(rng, draw_panel(rng, wall)), "wall", 0.1, loud),
        "side": (side, "wall", 0.1, loud * float(rng.uniform(0.6, 1.0))),
        "back": (panel_modes(rng, draw_panel(rng, back)), "wall", 0.13, loud * float(rng.uniform(0.6, 1.3))),
        "floor": (boards, "floor", 0.1, float(rng.uniform(0.5, 1.3))),
        "tin": (panel_modes(rng, draw_panel(rng, "steel")), "tin", 0.16, float(rng.uniform(0.9, 2.0))),
        "foot": (boards, "foot", 0.12, float(rng.uniform(0.7, 2.6))),
        "tap": (racket_modes(rng), "tap", 0.08, float(rng.uniform(0.5, 1.3))),
        "door": (panel_modes(rng, draw_panel(rng, "door")), "door", 0.16, float(rng.uniform(0.8, 1.6))),
        "latch": (latch, "latch", 0.06, 0.5),
    }
    out = {name: _body(rng, m, contact, rate, s, g) for name, (m, contact, s, g) in draw.items()}
    out["squeak"] = VibratingBody(
        squeaks(rng, rate, PLACES), Contact(1.0, 0.5, 0.0), float(rng.uniform(0.05, 0.3))
    )
    return out


def impact_spectra(
    rng: np.random.Generator, body: VibratingBody, speeds_m_s: list[float], rate: int, size: int
) -> NDArray[np.complex64]:
    """Return the spectra (impacts, size // 2 + 1) of impacts on a body; sample 0 is the contact.

    The force sets loudness and dullness; place, hand and grip add 1.5 dB (ASSUMED). 20 m/s is about 1.
    """
    speed = np.asarray(speeds_m_s, dtype=float)
    place = rng.integers(0, body.rings.shape[0], speed.size)
    rings = scipy.fft.rfft(body.rings, size, axis=1)[place]
    loud = 0.42 * body.gain * 10.0 ** (rng.normal(0.0, 1.5, speed.size) / 20.0)
    if body.contact.click == 0.0:  # a sole that slips is not struck
        return np.asarray(rings * (loud * np.sqrt(speed))[:, None], dtype=np.complex64)
    length = int(FORCE_S * rate)
    force = contact_forces(body.contact, speed, rate, length).astype(np.float32)
    air = driven_air(rng, body.contact, speed, rate, length).astype(np.float32)
    out = rings * scipy.fft.rfft(force, size, axis=1) + scipy.fft.rfft(air, size, axis=1)
    return np.asarray(out * loud[:, None], dtype=np.complex64)
