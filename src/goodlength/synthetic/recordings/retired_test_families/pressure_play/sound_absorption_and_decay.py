"""Absorption of a court's surfaces and of air by octave band, and the decay that follows (Eyring).

Coefficients of 125 Hz to 4 kHz are those of Barron, Industrial Noise Control and Acoustics (2003), appendix
D, and of ceiling tiles and openings those of common tables of building materials (from memory); 63 Hz, 8 and
16 kHz are ASSUMED to go on as the nearest band does. Air is ISO 9613-1's formula (from memory, checked in a
test against the table in ISO 9613-2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M

SOUND_M_S = 343.2
CENTRES_HZ = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0])
_TABLE = {
    "plaster on brick": (0.013, 0.015, 0.02, 0.03, 0.04, 0.05),
    "plaster on lath": (0.14, 0.10, 0.06, 0.04, 0.04, 0.03),
    "concrete block, painted": (0.10, 0.05, 0.06, 0.07, 0.09, 0.08),
    "heavy plate glass": (0.18, 0.06, 0.04, 0.03, 0.02, 0.02),
    "plywood panel": (0.28, 0.20, 0.10, 0.10, 0.08, 0.08),
    "wood floor on joists": (0.15, 0.11, 0.10, 0.07, 0.06, 0.07),
    "plasterboard": (0.29, 0.10, 0.06, 0.05, 0.04, 0.04),
    "poured concrete, painted": (0.01, 0.01, 0.01, 0.02, 0.02, 0.02),
    "ceiling tile": (0.50, 0.70, 0.60, 0.70, 0.70, 0.50),
    "opening to the gallery": (0.25, 0.35, 0.45, 0.55, 0.65, 0.75),
}


def absorption_of(material: str) -> NDArray[np.float64]:
    """Return a material's absorption in the bands of `CENTRES_HZ`."""
    row = _TABLE[material]
    return np.array([*row, row[-1], row[-1]])


def air_loss_db_m(
    hz: NDArray[np.float64], temperature_c: float = 20.0, humidity_percent: float = 50.0
) -> NDArray[np.float64]:
    """Return the absorption of still air at sea level in dB/m (ISO 9613-1, equations 3 to 5)."""
    kelvin = temperature_c + 273.15
    ratio = kelvin / 293.15
    saturation = 10.0 ** (-6.8346 * (273.16 / kelvin) ** 1.261 + 4.6151)
    molar = humidity_percent * saturation
    oxygen = 24.0 + 4.04e4 * molar * (0.02 + molar) / (0.391 + molar)
    nitrogen = ratio**-0.5 * (9.0 + 280.0 * molar * math.exp(-4.170 * (ratio ** (-1.0 / 3.0) - 1.0)))
    relaxing = 0.01275 * math.exp(-2239.1 / kelvin) / (oxygen + hz**2 / oxygen)
    relaxing = relaxing + 0.1068 * math.exp(-3352.0 / kelvin) / (nitrogen + hz**2 / nitrogen)
    return np.asarray(8.686 * hz**2 * (1.84e-11 * ratio**0.5 + ratio**-2.5 * relaxing))


@dataclass(frozen=True)
class CourtSurfaces:
    """A court's six sides: absorption (6, bands), areas (6,) in m2, height in m, air in dB/m (bands,).

    Order: front, back, left, right, floor, ceiling.
    """

    absorption: NDArray[np.float64]
    area_m2: NDArray[np.float64]
    height_m: float
    air_db_m: NDArray[np.float64]

    @property
    def volume_m3(self) -> float:
        """Volume of the court."""
        return LENGTH_M * WIDTH_M * self.height_m

    @property
    def mean_free_path_m(self) -> float:
        """Mean way between reflections in a diffuse field, 4 V / S."""
        return 4.0 * self.volume_m3 / float(self.area_m2.sum())

    def absorbing_area_m2(self) -> NDArray[np.float64]:
        """Return Eyring's absorption area in each band, air included."""
        total = float(self.area_m2.sum())
        mean = self.area_m2 @ self.absorption / total
        air = 4.0 * (self.air_db_m / 4.343) * self.volume_m3
        return np.asarray(-total * np.log1p(-mean) + air)

    def eyring_decay_s(self) -> NDArray[np.float64]:
        """Return the time in which the sound falls by 60 dB, each band."""
        return np.asarray(24.0 * math.log(10.0) / SOUND_M_S * self.volume_m3 / self.absorbing_area_m2())


_HARD = ("plaster on brick", "plaster on lath", "concrete block, painted", "plywood panel")
_CEILINGS = ("plasterboard", "poured concrete, painted", "plaster on lath")


def draw_surfaces(rng: np.random.Generator, treated: tuple[float, float]) -> CourtSurfaces:
    """Return a court; `treated` bounds the share of its ceiling hung with absorbing tiles.

    Above the back wall it is open to a gallery unless there is no treatment at all.
    """
    height = float(rng.uniform(5.6, 7.6))
    walls = str(rng.choice(_HARD, p=[0.5, 0.15, 0.15, 0.2]))
    back = str(rng.choice(["heavy plate glass", walls], p=[0.7, 0.3]))
    share = float(rng.uniform(*treated))
    ceiling = (1.0 - share) * absorption_of(str(rng.choice(_CEILINGS)))
    ceiling = ceiling + share * absorption_of("ceiling tile")
    closed = 2.13 / height if treated[1] > 0.0 else 0.9
    rear = closed * absorption_of(back) + (1.0 - closed) * absorption_of("opening to the gallery")
    side = absorption_of(walls)
    rows = np.stack([side, rear, side, side, absorption_of("wood floor on joists"), ceiling])
    tilt = np.linspace(-1.0, 1.0, rows.shape[1])  # ASSUMED: one court differs from the tables smoothly
    rows = np.clip(rows * np.exp(rng.normal(0.0, 0.12) + rng.normal(0.0, 0.15) * tilt), 0.008, 0.95)
    areas = [WIDTH_M * height] * 2 + [LENGTH_M * height] * 2 + [LENGTH_M * WIDTH_M] * 2
    air = air_loss_db_m(CENTRES_HZ, float(rng.uniform(14.0, 24.0)), float(rng.uniform(30.0, 70.0)))
    return CourtSurfaces(rows, np.array(areas), height, air)
