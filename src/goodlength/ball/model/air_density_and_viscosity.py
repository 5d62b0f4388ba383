"""Density and viscosity of the air in the room, from what a coach can read off two instruments.

Density by the CIPM-2007 formula; pressure by altitude where there is no barometer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.ball.model.input_validation import within

GAS_CONSTANT = 8.314472  # J/(mol K), as CIPM-2007 uses it; source: CIPM-2007
MOLAR_MASS_WATER = 18.01528e-3  # kg/mol; source: CIPM-2007
CARBON_DIOXIDE_SHARE = 400e-6  # of the air, by amount; source: CIPM-2007


@dataclass(frozen=True)
class Air:
    """The air a ball flies through.

    Parameters
    ----------
    temperature_c : float
        Room temperature, -10 to 50 °C.
    humidity : float
        Relative humidity as a share, 0 to 1.
    pressure_pa : float
        Pressure in the room (not reduced to sea level), 60 000 to 110 000 Pa.
    """

    temperature_c: float = 20.0
    humidity: float = 0.5
    pressure_pa: float = 101325.0

    def __post_init__(self) -> None:
        within("room temperature", self.temperature_c, -10.0, 50.0, "°C")
        within("humidity", self.humidity, 0.0, 1.0, "as a share (0.5 is 50 %)")
        within("air pressure", self.pressure_pa, 60_000.0, 110_000.0, "Pa (the reading in the room)")

    @classmethod
    def at_altitude(cls, altitude_m: float, temperature_c: float = 20.0, humidity: float = 0.5) -> Air:
        """Return the air of a room at that altitude: pressure of the standard atmosphere, the room's own
        warmth.
        """
        return cls(temperature_c, humidity, pressure_at(altitude_m))

    @property
    def density_kg_m3(self) -> float:
        """Density by CIPM-2007."""
        return moist_air(self.temperature_c, self.humidity, self.pressure_pa).density_kg_m3

    @property
    def viscosity_pa_s(self) -> float:
        """Viscosity by Sutherland's formula."""
        return viscosity_pa_s(self.temperature_c)


@dataclass(frozen=True)
class MoistAir:
    """What the CIPM-2007 formula goes through on its way to the density."""

    saturation_pressure_pa: float
    enhancement: float
    vapour_share: float
    compressibility: float
    density_kg_m3: float


def moist_air(
    temperature_c: float,
    humidity: float,
    pressure_pa: float,
    carbon_dioxide: float = CARBON_DIOXIDE_SHARE,
) -> MoistAir:
    """Return density of moist air, with the steps on the way to it.

    Parameters
    ----------
    temperature_c, humidity, pressure_pa : float
        As in `Air`; the formula is stated for 15 to 27 °C and 600 to 1100 hPa.
    carbon_dioxide : float
        Share of carbon dioxide in the air, by amount.

    Returns
    -------
    MoistAir
        Every step; `density_kg_m3` is the answer.

    Source
    ------
    CIPM-2007, equations A1.1 to A1.4 and table of constants.

    Limits
    ------
    Outside 15 to 27 °C it is used beyond its stated range: good to some 0.01 %, more than enough here.

    Examples
    --------
    >>> round(moist_air(20.0, 0.5, 101325.0).density_kg_m3, 5)
    1.19931
    """
    t, p = temperature_c, pressure_pa
    kelvin = t + 273.15
    saturation = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    vapour = humidity * enhancement * saturation / p
    z = _compressibility(t, kelvin, p, vapour)
    dry_mass = (28.96546 + 12.011 * (carbon_dioxide - 0.0004)) * 1e-3
    density = (
        p * dry_mass / (z * GAS_CONSTANT * kelvin) * (1.0 - vapour * (1.0 - MOLAR_MASS_WATER / dry_mass))
    )
    return MoistAir(saturation, enhancement, vapour, z, density)


def _compressibility(t: float, kelvin: float, p: float, vapour: float) -> float:
    """CIPM-2007, equation A1.4."""
    a = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    b = (5.707e-6 - 2.051e-8 * t) * vapour
    c = (1.9898e-4 - 2.376e-6 * t) * vapour**2
    return 1.0 - p / kelvin * (a + b + c) + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * vapour**2)


def viscosity_pa_s(temperature_c: float) -> float:
    """Return the viscosity of air, Pa s, by Sutherland's formula with 1.813e-5 at 20 °C.

    Source
    ------
    SUTHERLAND; the constant 110.4 K is that of the US Standard Atmosphere 1976.

    Examples
    --------
    >>> round(viscosity_pa_s(20.0) * 1e5, 3)
    1.813
    """
    kelvin = temperature_c + 273.15
    return float(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def pressure_at(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere at an altitude, Pa; for a room without a barometer.

    Parameters
    ----------
    altitude_m : float
        Height above the sea, -430 to 4000 m.

    Source
    ------
    ISA-1976, the lowest layer; heights above the sea are turned into its geopotential heights.

    Examples
    --------
    >>> round(pressure_at(1000.0))
    89876
    """
    within("altitude", altitude_m, -430.0, 4000.0, "m above sea level")
    geopotential = altitude_m * 6356766.0 / (6356766.0 + altitude_m)
    return float(101325.0 * (1.0 - 0.0065 * geopotential / 288.15) ** 5.2558797)
