"""Drag formulas for comparison: none of them flies."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model.constants_with_sources import (
    BALL_MASS_KG,
    BALL_RADIUS_M,
    STANDARD_GRAVITY_M_S2,
)
from goodlength.ball.model.input_validation import Floats


def clift_gauvin_refit(reynolds: ArrayLike) -> Floats:
    """The same two authors' formula with the other set of figures in circulation; for comparison only.

    From 5 % lower (100 000) to 2 % lower (10 000) than `clift_gauvin`: well inside the range that
    every answer is drawn over. It lies further from the standard curve where serves fly.

    Source
    ------
    BARATI-2014, table of earlier formulas; also what the library `fluids` holds under this name.
    """
    re = np.asarray(reynolds, dtype=float)
    drag: Floats = 24.0 / re * (1.0 + 0.152 * re**0.677) + 0.417 / (1.0 + 5070.0 * re**-0.94)
    return drag


def terminal_speed_m_s(density_kg_m3: float, drag_coefficient: float) -> float:
    """Speed at which a falling squash ball no longer gains speed.

    Source
    ------
    The closed form sqrt(2 m g / (rho A C_D)).

    Examples
    --------
    >>> round(terminal_speed_m_s(1.19931, 0.47), 2)
    25.78
    """
    area = math.pi * BALL_RADIUS_M.value**2
    return math.sqrt(
        2.0 * BALL_MASS_KG.value * STANDARD_GRAVITY_M_S2 / (density_kg_m3 * area * drag_coefficient)
    )
