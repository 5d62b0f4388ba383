"""Sample sets of coefficients from their uncertainty, so that an answer is no surer than its numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.ball_court_room_conditions import PlayConditions
from goodlength.ball.model.input_validation import Floats


@dataclass(frozen=True)
class Draws:
    """So many drawn worlds: `sets` (n, columns.COEFFICIENT_COLUMNS) and the racket's `spins` (n, 3)."""

    sets: Floats
    spins: Floats

    def __len__(self) -> int:
        return len(self.sets)


def draw(
    setting: PlayConditions,
    count: int,
    rng: np.random.Generator,
    *,
    spin_sd_rad_s: float = c.ASSUMED_SPIN_SD_RAD_S.sd,
) -> Draws:
    """Draw sets of coefficients from their ranges, or from the calibration where there is one.

    Parameters
    ----------
    count : int
        How many; 200 for an answer.
    rng : numpy.random.Generator
        The only source of chance.
    spin_sd_rad_s : float
        How far the racket's spin may be from none, one sd for each axis across the path; a habit of the
        player, so one for each draw.

    Returns
    -------
    Draws

    A ball whose warmth nobody is sure of is drawn colder and warmer too.

    Source
    ------
    BALL-NOTE 4.4. Each number is drawn by itself from a normal curve cut off at its bounds;
    what a calibration has learnt comes from its own joint spread.
    """
    base = setting.coefficients()
    rows = np.repeat(base.row()[None], count, axis=0)
    learnt = setting.calibration.draw(base, count, rng) if setting.calibration is not None else {}

    def some(name: str, middle: float, sd: float, low: float, high: float) -> Floats:
        learnt_values = learnt.get(name)
        return _cut(middle, sd, low, high, count, rng) if learnt_values is None else learnt_values

    rows[:, at.E7] = some("e7", base.e7, c.BOUNCE_E7_SPREAD.sd, 0.05, 0.9)
    if setting.ball.unsure_c:
        warmer = setting.ball.unsure_c * rng.standard_normal(count)
        squared = rows[:, at.E7] ** 2 + c.BOUNCE_SLOPE_PER_C.value * warmer
        rows[:, at.E7] = np.sqrt(np.clip(squared, 0.05, 0.81))
    rows[:, at.SPEED_POWER] = some("speed_power", base.speed_power, c.ASSUMED_SPEED_POWER.sd, 0.0, 0.3)
    rows[:, at.GRIP] = some("grip", base.grip, c.ASSUMED_GRIP.sd, -0.3, 0.6)
    rows[:, at.ALPHA] = _cut(base.inertia_factor, c.INERTIA_FACTOR.sd, 0.45, 0.60, count, rng)
    drag = some("drag_factor", base.drag_factor, c.DRAG_FACTOR.sd, 0.6, 1.5)
    lift = some("lift", base.lift, c.ASSUMED_LIFT.sd, -0.3, 1.6)
    mass = _cut(base.mass_kg, c.BALL_MASS_KG.sd, 0.022, 0.026, count, rng)
    per_mass = base.mass_kg / mass
    rows[:, at.DRAG_BY_REYNOLDS] *= drag / base.drag_factor * per_mass
    rows[:, at.LIFT] = base.aero_per_m * lift * base.radius_m * per_mass
    _draw_surfaces(setting, rows, learnt, rng)
    spins = np.zeros((count, 3))
    spins[:, [0, 2]] = rng.normal(0.0, spin_sd_rad_s, (count, 2)) if spin_sd_rad_s > 0 else 0.0
    return Draws(rows, spins)


def _draw_surfaces(
    setting: PlayConditions, rows: Floats, learnt: dict[str, Floats], rng: np.random.Generator
) -> None:
    """Bounce factor and friction of each surface; the side walls are one material and are drawn as one."""
    count, built = len(rows), setting.court.surfaces
    for k, name in enumerate(("floor", "front", "left", "right", "back")):
        factor, friction = built[name].bounce, built[name].friction
        if name == "right":
            rows[:, at.K_FLOOR + k] = rows[:, at.K_LEFT]
            rows[:, at.MU_FLOOR + k] = rows[:, at.MU_LEFT]
            continue
        if name == "floor" and "floor_factor" in learnt:
            rows[:, at.K_FLOOR] = learnt["floor_factor"]
        elif name == "front" and learnt:
            pass  # the calibration speaks of the front wall itself
        else:
            rows[:, at.K_FLOOR + k] = _cut(factor.value, factor.sd, 0.7, 1.3, count, rng)
        rows[:, at.MU_FLOOR + k] = np.exp(
            _cut(
                np.log(friction.value),
                np.log(friction.high / friction.low) / c.NINE_IN_TEN_SDS,
                -2.0,
                0.7,
                count,
                rng,
            )
        )


def _cut(middle: float, sd: float, low: float, high: float, count: int, rng: np.random.Generator) -> Floats:
    """Normal draws, those outside the bounds drawn again."""
    samples: Floats = rng.normal(middle, sd, count)
    for _ in range(100):
        outside = ~((samples >= low) & (samples <= high))
        if not outside.any():
            break
        samples[outside] = rng.normal(middle, sd, int(outside.sum()))
    return np.clip(samples, low, high)
