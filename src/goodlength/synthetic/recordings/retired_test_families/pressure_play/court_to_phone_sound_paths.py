"""The way from a court to the phone: over the back wall, through a gap or glass, along a gallery.

What bends over an edge loses 10 log10(3 + 20 N) dB for the Fresnel number N (Maekawa), what passes glass or a
wall 20 log10(m f) - 47 dB (field-incidence mass law), both from memory; a leak bounds the loss. Places,
detours and masses are ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    SOUND_M_S,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_flight_and_bounces import (
        Vector,
    )

TAPS = 1024


@dataclass(frozen=True)
class SoundPath:
    """The way of a court's sound to the phone.

    It leaves the court at `portal` and goes `beyond_m` further. `detour_m` is how much longer the way over an
    edge is than the straight one, `surface_kg_m2` the mass of what it passes (0: nothing), `leak_db` the
    deepest loss. `late` is a factor on the reverberation, `thump` on what the building carries.
    """

    portal: Vector
    beyond_m: float
    detour_m: float = 0.0
    surface_kg_m2: float = 0.0
    leak_db: float = 45.0
    late: float = 0.7
    gain: float = 1.0
    thump: float = 0.0

    def length_m(self, place: Vector) -> float:
        """Return the way from a place on the court to the phone, the truth's travel."""
        return math.dist(place, self.portal) + self.beyond_m

    def travel_s(self, place: Vector) -> float:
        """Return how long the direct sound travels."""
        return self.length_m(place) / SOUND_M_S

    def loss_db(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the loss by edge and mass at frequencies, in dB, beside a free way of that length."""
        hertz = np.maximum(hz, 20.0)
        loss = np.zeros_like(hertz)
        if self.detour_m > 0.0:
            fresnel = 2.0 * self.detour_m * hertz / SOUND_M_S
            loss += 10.0 * np.log10(3.0 + 20.0 * fresnel)
        if self.surface_kg_m2 > 0.0:
            loss += np.maximum(20.0 * np.log10(self.surface_kg_m2 * hertz) - 47.0, 0.0)
        energy = 10.0 ** (-loss / 10.0) + 10.0 ** (-self.leak_db / 10.0)
        return np.asarray(-10.0 * np.log10(np.minimum(energy, 1.0)))


def causal_filter(loss_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the taps of the filter of least delay with this loss at evenly spaced frequencies."""
    size = 2 * (loss_db.size - 1)
    cepstrum = np.fft.irfft(-loss_db * math.log(10.0) / 20.0, size)
    fold = np.zeros(size)
    fold[0], fold[size // 2], fold[1 : size // 2] = 1.0, 1.0, 2.0
    taps = np.fft.irfft(np.exp(np.fft.rfft(cepstrum * fold)), size)[: size // 2]
    taps[-size // 8 :] *= np.linspace(1.0, 0.0, size // 8)
    return np.asarray(taps)


def path_taps(path: SoundPath, rate: int) -> NDArray[np.float64]:
    """Return the taps of a path's filter."""
    return causal_filter(path.loss_db(np.linspace(0.0, rate / 2, TAPS + 1)))


def wall_taps(
    absorption: NDArray[np.float64], centres_hz: NDArray[np.float64], rate: int
) -> NDArray[np.float64]:
    """Return the taps of one reflection off a surface of an absorption given by band."""
    hz = np.linspace(0.0, rate / 2, TAPS + 1)
    row = np.interp(np.log(np.maximum(hz, 50.0)), np.log(centres_hz), absorption)
    diffuse = 1.5 * np.log2(1.0 + (hz / 5000.0) ** 2)  # ASSUMED: what a rough wall scatters aside
    return causal_filter(-10.0 * np.log10(1.0 - row) + diffuse)


def draw_path_to_phone(rng: np.random.Generator, place: str) -> SoundPath:
    """Return the own court's way to the phone at "above", "gallery", "corner", "door gap" or "glass"."""
    u = rng.uniform
    x = float(u(0.9, WIDTH_M - 0.9))
    if place == "above":
        beyond = float(u(0.05, 0.7))
        return SoundPath((x, LENGTH_M, float(u(2.25, 4.0))), beyond, late=float(u(0.4, 0.95)))
    if place == "gallery":
        beyond = float(u(1.0, 6.5))
        return SoundPath(
            (x, LENGTH_M, float(u(2.25, 4.4))),
            beyond,
            float(u(0.0, 0.05)),
            leak_db=30.0,
            late=float(u(0.5, 1.0)) / (1.0 + 0.1 * beyond),
        )
    if place == "corner":
        beyond = float(u(4.5, 12.0))
        far = 0.3 if rng.random() < 0.5 else WIDTH_M - 0.3
        return SoundPath(
            (far, LENGTH_M, float(u(2.3, 4.0))),
            beyond,
            float(u(0.03, 0.25)),
            leak_db=28.0,
            late=float(u(0.5, 1.0)) / (1.0 + 0.06 * beyond),
        )
    if place == "door gap":
        door_x = WIDTH_M / 2 + float(u(-0.7, 0.7))
        return SoundPath(
            (door_x, LENGTH_M, float(u(0.7, 1.7))),
            float(u(0.4, 3.5)),
            float(u(0.02, 0.3)),
            leak_db=32.0,
            late=float(u(0.4, 0.8)),
            thump=0.004,
        )
    return SoundPath(
        (x, LENGTH_M, float(u(1.0, 1.7))),
        float(u(0.3, 3.0)),
        float(u(0.0, 0.4)),
        float(u(24.0, 32.0)),
        float(u(44.0, 60.0)),
        float(u(0.4, 0.9)),
        thump=float(u(0.004, 0.03)),
    )


def draw_path_from_next_court(rng: np.random.Generator) -> SoundPath:
    """Return a neighbouring court's way: over two walls along the gallery, or through the wall between."""
    u = rng.uniform
    portal = (float(u(0.4, WIDTH_M - 0.4)), LENGTH_M, float(u(2.2, 4.4)))
    if rng.random() < 0.25:
        return SoundPath(portal, float(u(3.0, 9.0)), 0.0, float(u(60.0, 220.0)), 70.0, float(u(0.5, 1.0)))
    return SoundPath(portal, float(u(3.5, 13.0)), float(u(0.05, 1.0)), leak_db=36.0, late=float(u(0.6, 1.3)))
