"""Drag of a ball in air, against the Reynolds number; and the table of it that the compiled flight reads."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model.checks import Floats, within
from goodlength.ball.model.constants import BALL_MASS_KG, BALL_RADIUS_M, STANDARD_GRAVITY_M_S2

TABLE_REYNOLDS: Final = 2000.0  # spacing of the table's cells; source: BALL-NOTE 4.1
TABLE_CELLS: Final = 160  # up to Reynolds number 320 000, 121 m/s at sea level


def clift_gauvin(reynolds: ArrayLike) -> Floats:
    """Drag coefficient of a smooth ball.

    Parameters
    ----------
    reynolds : float or ndarray, shape (n,)
        Reynolds number on the diameter; more than 0.

    Returns
    -------
    drag_coefficient : ndarray, shape (n,)

    Source
    ------
    CLIFT-GAUVIN, valid up to 200 000 (75 m/s). No squash ball was ever measured, that we know of.

    Examples
    --------
    >>> float(clift_gauvin(1e5).round(4))
    0.4918
    """
    re = np.asarray(reynolds, dtype=float)
    drag: Floats = 24.0 / re * (1.0 + 0.15 * re**0.687) + 0.42 / (1.0 + 42500.0 * re**-1.16)
    return drag


def morrison(reynolds: ArrayLike) -> Floats:
    """Drag coefficient by another formula, 8 to 15 % lower at squash speeds; for comparison, not for flight.

    Source
    ------
    MORRISON-2013, figure 8.13.
    """
    re = np.asarray(reynolds, dtype=float)
    fall = 0.411 * (re / 2.63e5) ** -7.94 / (1.0 + (re / 2.63e5) ** -8.00)
    drag: Floats = 24.0 / re + 2.6 * (re / 5.0) / (1.0 + (re / 5.0) ** 1.52) + fall + re**0.8 / 461000.0
    return drag


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
    within("air density", density_kg_m3, 0.5, 2.0, "kg/m³")
    area = math.pi * BALL_RADIUS_M.value**2
    return math.sqrt(
        2.0 * BALL_MASS_KG.value * STANDARD_GRAVITY_M_S2 / (density_kg_m3 * area * drag_coefficient)
    )


@cache
def drag_table() -> Floats:
    """Drag coefficient times Reynolds number, as a cubic in each cell, shape (cells, 4).

    The product runs smoothly down to a ball at rest, where the coefficient alone has no bound.
    Cells meet in value and slope; the first also passes through its middle.
    """
    edges: Floats = np.arange(TABLE_CELLS + 1, dtype=float) * TABLE_REYNOLDS
    value = np.array([24.0, *_product(edges[1:])])
    slope = np.array([0.0, *_product_slope(edges[1:])]) * TABLE_REYNOLDS
    table = np.empty((TABLE_CELLS, 4))
    rise = np.diff(value)
    table[:, 0] = value[:-1]
    table[:, 1] = slope[:-1]
    table[:, 2] = 3.0 * rise - 2.0 * slope[:-1] - slope[1:]
    table[:, 3] = slope[:-1] + slope[1:] - 2.0 * rise
    middle = float(_product(np.array([0.5 * TABLE_REYNOLDS]))[0]) - value[0]
    conditions = np.array([[1.0, 1.0, 1.0], [0.5, 0.25, 0.125], [1.0, 2.0, 3.0]])
    table[0, 1:] = np.linalg.solve(conditions, [rise[0], middle, slope[1]])
    table.setflags(write=False)
    return table


def _product(re: Floats) -> Floats:
    product: Floats = clift_gauvin(re) * re
    return product


def _product_slope(re: Floats) -> Floats:
    """d(C_D Re)/dRe, by hand from the formula."""
    tail = 1.0 + 42500.0 * re**-1.16
    slope: Floats = (
        24.0 * 0.15 * 0.687 * re**-0.313 + 0.42 / tail + 0.42 * 42500.0 * 1.16 * re**-1.16 / tail**2
    )
    return slope
