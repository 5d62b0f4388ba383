"""Where on the floor a player spent the time: the smallest parts of it that hold a half and more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.errors import InputError

ACROSS, DOWN = 16, 24  # cells of 0.40 by 0.41 m
PARTS = (0.5, 0.75, 0.95)
NEAR_T_M = 1.5  # nearer than this to the T counts as at the T; ASSUMED, as in the totals
_LEAST_ERROR_M = 0.05  # so that a place without an error still lies in a cell
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class TimeOnCourt:
    """How long a player was where.

    `share` is the share of the time in each cell, shape (24, 16), the first row at the front wall, the first
    column at the left wall. `part` is 0 for a cell in the smallest area that holds half of the time, 1
    where it holds three quarters, 2 where it holds 95 of 100, and 3 for the rest. `front`, `left` and
    `near_t` are the shares of the time in front of the short line's middle, left of the T, and within 1.5 m
    of it.
    """

    seconds: float
    share: Floats
    part: NDArray[np.int64]
    front: float
    left: float
    near_t: float


def time_on_court(places_m: ArrayLike, seconds: ArrayLike, error_m: ArrayLike) -> TimeOnCourt | None:
    """Return where a player spent the time, each place spread by its own error; None without any place.

    Parameters
    ----------
    places_m : array_like, shape (n, 2)
        Metres from the left and from the front wall. One off the floor counts at the wall; rows that are not
        finite are left out.
    seconds : array_like, shape (n,)
        How long the player was at each place, s; zero or more.
    error_m : array_like, shape (n,)
        Standard error of each place over both directions together, m.

    Raises
    ------
    InputError
        The shapes do not belong together, or a time is negative.

    Limits
    ------
    A place measured with error e is taken to be normal in both directions, each with e / sqrt(2), and
    independent of the next: errors that all places share (a calibration that is off) stay.

    Examples
    --------
    >>> found = time_on_court([[3.2, 5.0], [1.0, 9.0]], [3.0, 1.0], [0.1, 0.1])
    >>> found.seconds, found.front, found.left, found.near_t
    (4.0, 0.75, 0.25, 0.75)
    """
    places: Floats = np.asarray(places_m, dtype=float).reshape(-1, 2)
    weights: Floats = np.asarray(seconds, dtype=float)
    errors: Floats = np.asarray(error_m, dtype=float)
    if weights.shape != (len(places),) or errors.shape != (len(places),):
        raise InputError(
            f"There are {len(places)} places, {weights.size} times and {errors.size} errors; give one of "
            "each for each place."
        )
    known = np.isfinite(places).all(axis=1) & np.isfinite(weights) & np.isfinite(errors)
    if (weights[known] < 0).any():
        raise InputError(f"A time at a place is zero or more, in s; got {weights[known].min():g}.")
    known &= weights > 0
    if not known.any():
        return None
    xy = np.clip(places[known], 0.0, (WIDTH_M, LENGTH_M))
    time = weights[known]
    spread = np.maximum(errors[known], _LEAST_ERROR_M) / np.sqrt(2.0)
    across = _in_cells(xy[:, 0], spread, WIDTH_M, ACROSS)
    down = _in_cells(xy[:, 1], spread, LENGTH_M, DOWN)
    share: Floats = (down * time[:, None]).T @ across / time.sum()
    return TimeOnCourt(
        float(time.sum()),
        share,
        _parts(share),
        float(time[xy[:, 1] < T_M[1]].sum() / time.sum()),
        float(time[xy[:, 0] < T_M[0]].sum() / time.sum()),
        float(time[np.hypot(xy[:, 0] - T_M[0], xy[:, 1] - T_M[1]) <= NEAR_T_M].sum() / time.sum()),
    )


def _in_cells(at: Floats, spread: Floats, length_m: float, cells: int) -> Floats:
    """Return the share of each place in each cell along one direction, shape (n, cells); none is off it."""
    edges = np.linspace(0.0, length_m, cells + 1)
    inside: Floats = np.diff(ndtr((edges[None, :] - at[:, None]) / spread[:, None]), axis=1)
    shares: Floats = inside / inside.sum(axis=1, keepdims=True)
    return shares


def _parts(share: Floats) -> NDArray[np.int64]:
    """Return for each cell how many of `PARTS` the cells that hold more time than it have filled."""
    order = np.argsort(share, axis=None)[::-1]
    before = np.concatenate([[0.0], np.cumsum(share.ravel()[order])[:-1]])
    filled = np.empty(share.size, dtype=np.int64)
    filled[order] = np.searchsorted(np.array(PARTS), before, side="right")
    return filled.reshape(share.shape)
