"""Drag coefficient of the ball against the Reynolds number, and the fraction that the flight uses."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model.input_validation import Floats

# The flight takes C_D Re as a fraction of two polynomials in Re / 100 000, lowest power first: without a
# table to look up, it is worked out for many flights at once. Fitted to `clift_gauvin` by weighted least
# squares on the relative error, from Re 2,000 (0.75 m/s) to 330,000 (120 m/s): within 3 in ten million there
# (tests/published/test_ball_drag.py). All coefficients are positive, so it has no pole and no sign change.
REYNOLDS_UNIT: Final = 1e5
DRAG_NUMERATOR: Final = (
    87.63375813986,
    54764.55492258,
    2843871.153331,
    62430565.60966,
    553096291.3922,
    933805379.0951,
    245717091.7584,
)
DRAG_DENOMINATOR: Final = (
    1.0,
    95.16441096793,
    1548.11396564,
    10784.28561747,
    18781.84020676,
    5343.986854396,
    7.684830468289,
)


def clift_gauvin(reynolds: ArrayLike) -> Floats:
    """Return the drag coefficient of a smooth ball.

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
