"""Drag coefficient of the ball against the Reynolds number, and its table for the compiled flight."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model.input_validation import Floats

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
