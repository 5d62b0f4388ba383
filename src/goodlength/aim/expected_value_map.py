"""Expected value of aiming at each place of a map under the player's scatter, and the best place to aim.

The general method of the room: smooth the map with the scatter, take the highest place. Checked on the
closed form in one dimension and on the dartboard (tests/published/test_aim_closed.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from goodlength.ball.model.input_validation import Floats


def smoothed(values: Floats, scatter: Sequence[float], spacing: Sequence[float]) -> Floats:
    """Return what aiming at each place of a lattice is worth: the map averaged over where the ball
    really goes.

    Parameters
    ----------
    values : ndarray
        Worth of each place; leading axes beyond those of `scatter` are left alone. Beyond the edge the
        edge's own value holds.
    scatter, spacing : sequence of float
        One standard deviation and the lattice's spacing, for each of the last axes.
    """
    from scipy.ndimage import correlate1d

    out = np.asarray(values, dtype=float)
    first = out.ndim - len(scatter)
    for k, (sd, step) in enumerate(zip(scatter, spacing, strict=True)):
        if sd > 0 and out.shape[first + k] > 1:
            out = correlate1d(out, cell_weights(sd / step), axis=first + k, mode="nearest")
    return out


def cell_weights(sd: float) -> Floats:
    """Return shares of a normal curve in unit cells around its middle, to four standard deviations."""
    from scipy.special import ndtr

    half = max(1, math.ceil(4 * sd))
    edges = np.arange(-half - 0.5, half + 1.0)
    shares: Floats = np.diff(ndtr(edges / sd))
    whole: Floats = shares / shares.sum()
    return whole
