"""One set of coefficients: everything the flight needs to know of ball, court and air, as numbers.

`setting` makes them from what a coach can say; `draws` scatters them; `calibrate` learns them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.air_density_and_viscosity import Air
from goodlength.ball.model.drag_coefficient import REYNOLDS_UNIT
from goodlength.ball.model.input_validation import Floats, within
from goodlength.court import SINGLES, TIN_M

SURFACES = ("floor", "front", "left", "right", "back")


def e7_at(temperature_c: float) -> float:
    """Return share of speed that a ball keeps when it hits a hard wall at 7 m/s, against its own temperature.

    Parameters
    ----------
    temperature_c : float
        Temperature of the ball, -10 to 80 °C.

    Source
    ------
    BALL-NOTE 1.2: square linear in temperature; level from WSF-BALL rebound limits (from memory),
    slope from EDGAR-2000 and IB-REPORT. Held at 0.05 squared from below.

    Examples
    --------
    >>> round(e7_at(45.0), 3), round(e7_at(33.0), 3), round(e7_at(25.0), 3)
    (0.555, 0.486, 0.434)
    """
    within("ball temperature", temperature_c, -10.0, 80.0, "°C")
    return math.sqrt(max(0.05, c.BOUNCE_LEVEL.value + c.BOUNCE_SLOPE_PER_C.value * (temperature_c - 45.0)))


@dataclass(frozen=True)
class PerSurface:
    """One number for each surface."""

    floor: float
    front: float
    left: float
    right: float
    back: float

    @classmethod
    def same(cls, value: float) -> PerSurface:
        """Return the same number on every surface."""
        return cls(value, value, value, value, value)


@dataclass(frozen=True)
class Coefficients:
    """Ball, bounce and air as numbers; SI units.

    Parameters
    ----------
    e7 : float
        Share of speed kept at 7 m/s straight on, against a hard block.
    speed_power : float
        Share kept falls as (speed/7) to this power, from 1 m/s up.
    grip : float
        Sideways restitution of a gripping bounce, -1 to 1.
    bounce, friction : PerSurface
        Factor on the share kept, and friction, by surface.
    drag_factor, drag_constant : float
        Drag coefficient = factor x Clift-Gauvin + constant.
    lift : float
        Lift coefficient = lift x S / (2 S + 1), S the spin parameter.
    lift_by_whole_spin : bool
        Take S (and the direction's norm) from the whole spin and not from its part across the path.
    dwell_s : float
        How long a contact lasts; 0 leaves it out.
    """

    e7: float = field(default_factory=lambda: e7_at(c.HOT_C))
    speed_power: float = c.ASSUMED_SPEED_POWER.value
    grip: float = c.ASSUMED_GRIP.value
    bounce: PerSurface = field(
        default_factory=lambda: PerSurface(c.ASSUMED_FLOOR_FACTOR.value, 1.0, 1.0, 1.0, 1.0)
    )
    friction: PerSurface = field(default_factory=lambda: PerSurface.same(c.ASSUMED_FRICTION.value))
    radius_m: float = c.BALL_RADIUS_M.value
    mass_kg: float = c.BALL_MASS_KG.value
    inertia_factor: float = c.INERTIA_FACTOR.value
    drag_factor: float = c.DRAG_FACTOR.value
    drag_constant: float = 0.0
    lift: float = c.ASSUMED_LIFT.value
    lift_by_whole_spin: bool = False
    dwell_s: float = 0.0
    gravity_m_s2: float = c.STANDARD_GRAVITY_M_S2
    density_kg_m3: float = field(default_factory=lambda: Air().density_kg_m3)
    viscosity_pa_s: float = field(default_factory=lambda: Air().viscosity_pa_s)
    tin_m: float = TIN_M["standard"]

    def __post_init__(self) -> None:
        for name, low, high in _ACCEPTED:
            within(name.replace("_", " "), getattr(self, name), low, high, "(SI units)")
        for part in fields(PerSurface):
            within(f"bounce factor of the {part.name}", getattr(self.bounce, part.name), 0.0, 2.0, "")
            within(f"friction of the {part.name}", getattr(self.friction, part.name), 0.0, 1e6, "")

    def but(self, **changes: Any) -> Coefficients:
        """Return the same set with some numbers changed."""
        return replace(self, **changes)

    @property
    def aero_per_m(self) -> float:
        """rho A / 2m: what turns a coefficient and a speed squared into an acceleration."""
        return self.density_kg_m3 * math.pi * self.radius_m**2 / (2.0 * self.mass_kg)

    def row(self) -> Floats:
        """Return the set as the compiled flight reads it, shape (columns.COEFFICIENT_COLUMNS,)."""
        row = np.zeros(at.COEFFICIENT_COLUMNS)
        per_speed = 2.0 * self.radius_m * self.density_kg_m3 / self.viscosity_pa_s
        row[at.GRAVITY] = self.gravity_m_s2
        row[at.DRAG_BY_REYNOLDS] = self.aero_per_m * self.drag_factor / per_speed
        row[at.DRAG_CONSTANT] = self.aero_per_m * self.drag_constant
        row[at.LIFT] = self.aero_per_m * self.lift * self.radius_m
        row[at.RADIUS] = self.radius_m
        row[at.REYNOLDS_PER_SPEED] = per_speed / REYNOLDS_UNIT
        row[at.ALPHA], row[at.GRIP] = self.inertia_factor, self.grip
        row[at.E7], row[at.SPEED_POWER], row[at.DWELL] = self.e7, self.speed_power, self.dwell_s
        row[at.WIDTH], row[at.LENGTH] = SINGLES.width.value_m, SINGLES.length.value_m
        row[at.TIN] = self.tin_m
        row[at.K_FLOOR : at.K_FLOOR + 5] = [getattr(self.bounce, s) for s in SURFACES]
        row[at.MU_FLOOR : at.MU_FLOOR + 5] = [getattr(self.friction, s) for s in SURFACES]
        row[at.WHOLE_SPIN] = float(self.lift_by_whole_spin)
        return row


_ACCEPTED = (
    ("e7", 0.0, 1.0),
    ("speed_power", -0.5, 1.0),
    ("grip", -1.0, 1.0),
    ("radius_m", 0.01, 0.04),
    ("mass_kg", 0.01, 0.1),
    ("inertia_factor", 0.1, 1.0),
    ("drag_factor", 0.0, 3.0),
    ("drag_constant", 0.0, 3.0),
    ("lift", -2.0, 1e6),
    ("dwell_s", 0.0, 0.02),
    ("gravity_m_s2", 0.0, 20.0),
    ("density_kg_m3", 0.0, 3.0),
    ("viscosity_pa_s", 1e-6, 1e-3),
    ("tin_m", 0.2, 0.6),
)
