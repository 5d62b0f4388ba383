"""One bounce by itself, off any wall: to look at, and to hold against closed forms."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model.ball_court_air_coefficients import Coefficients
from goodlength.ball.model.input_validation import Floats, numbers
from goodlength.errors import InputError


def bounce(
    velocity: ArrayLike,
    spin: ArrayLike,
    normal: Sequence[float],
    coefficients: Coefficients,
    *,
    guard: bool = True,
) -> tuple[Floats, Floats]:
    """Velocity and spin after one bounce off a plane.

    The compiled flight's own bounce, turned to the plane; `fly` is what flies a whole ball.

    Parameters
    ----------
    velocity, spin : array_like, shape (3,)
        m/s and rad/s before; the ball must move into the plane.
    normal : sequence of 3 float
        Unit vector into the court, along an axis: the floor is (0, 0, 1), the front wall (0, 1, 0).
    guard : bool
        Keep the restitution under 0.95, as in flight; off only for balls that never were.

    Returns
    -------
    velocity, spin : ndarray, shape (3,)

    Raises
    ------
    InputError
        If the normal is not along an axis, or the ball moves away from the plane.

    Source
    ------
    BALL-NOTE 4.2: grip or slip, with tangential restitution.

    Examples
    --------
    >>> v, w = bounce([0.0, 0.0, -7.0], [0.0, 0.0, 0.0], (0.0, 0.0, 1.0), Coefficients())
    >>> round(float(v[2]), 3)
    3.691
    """
    from goodlength.ball.flight.bounce_kernel import bounce_once
    from goodlength.ball.model import flight_array_indices as at

    v, w = numbers("velocity", velocity, 3)[0], numbers("spin", spin, 3)[0]
    n = np.asarray(normal, dtype=float)
    axis = int(np.argmax(np.abs(n)))
    if n.shape != (3,) or abs(abs(n[axis]) - 1.0) > 1e-9 or np.abs(n).sum() > 1.0 + 1e-9:
        raise InputError(
            f"A wall's normal must be a unit vector along an axis, such as (0, 0, 1); got {normal}."
        )
    if v @ n >= 0.0:
        raise InputError(
            "The ball moves away from this plane, so it does not bounce off it. Turn the velocity round."
        )
    surface = {(2, 1): at.FLOOR, (1, 1): at.FRONT, (0, 1): at.LEFT, (0, -1): at.RIGHT, (1, -1): at.BACK}
    turned = axis == 2 and n[2] < 0.0  # a ceiling is a floor upside down
    row = coefficients.row()
    if turned:
        v, w = v * [1.0, 1.0, -1.0], w * [-1.0, -1.0, 1.0]
    which = at.FLOOR if turned else surface[(axis, int(np.sign(n[axis])))]
    meeting = (
        *row[[at.RADIUS, at.ALPHA, at.GRIP]],
        row[at.K_FLOOR + which] * row[at.E7],
        row[at.SPEED_POWER],
        row[at.MU_FLOOR + which],
        0.95 if guard else 2.0,
    )
    v2, w2 = bounce_once(tuple(v), tuple(w), float(which), tuple(map(float, meeting)))
    after_v, after_w = np.array(v2), np.array(w2)
    if turned:
        after_v, after_w = after_v * [1.0, 1.0, -1.0], after_w * [-1.0, -1.0, 1.0]
    return after_v, after_w
