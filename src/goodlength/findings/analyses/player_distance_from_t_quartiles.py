"""Where a player stands on court, from arrays of positions.

Places come from whoever marked or measured them, in metres of the court frame.
Medians and quartiles, never means: a few wild balls must not speak for the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.court import SINGLES
from goodlength.court.dimensions import T_M
from goodlength.errors import InputError, OutOfRange
from goodlength.findings.statistics.median_intervals import MedianRange, median_range

FEWEST = 5  # fewer places give no range worth saying
Places = NDArray[np.float64]


@dataclass(frozen=True)
class CourtPositions:
    """Where a player stood at chosen moments: how far from the T, and in front of it or behind."""

    n: int
    from_t: MedianRange | None
    middle_m: tuple[float, float] | None
    in_front: int


def court_positions(places_m: ArrayLike, at: ArrayLike | None = None) -> CourtPositions:
    """Return where a player stood, at all places given or at chosen ones (when the opponent hits, say).

    Parameters
    ----------
    places_m : array_like, shape (n, 2)
        From the left wall, from the front wall. Rows with NaN are left out.
    at : array_like of bool, shape (n,), optional
        Which of them to look at.

    Raises
    ------
    InputError, OutOfRange
        If it is no list of pairs, `at` is of another length, or a place is off the floor.

    Examples
    --------
    >>> court_positions([[3.2, 5.6], [3.0, 6.1], [3.5, 5.2], [2.9, 6.4], [3.2, 5.9]]).in_front
    1
    """
    raw = _pairs(places_m)
    if at is not None:
        chosen = np.asarray(at, dtype=bool)
        if chosen.shape != (len(raw),):
            raise InputError(f"There are {len(raw)} places and {chosen.size} marks; give one for each place.")
        raw = raw[chosen]
    places = _on_floor(raw)
    away = np.hypot(places[:, 0] - T_M[0], places[:, 1] - T_M[1])
    middle = None if len(places) == 0 else (float(np.median(places[:, 0])), float(np.median(places[:, 1])))
    return CourtPositions(len(places), _range(away), middle, int((places[:, 1] < T_M[1]).sum()))


def _pairs(given: ArrayLike) -> Places:
    try:
        places: Places = np.asarray(given, dtype=float)
    except (TypeError, ValueError):
        raise InputError("Places are pairs of numbers: from the left wall, from the front wall.") from None
    if places.size == 0:
        return np.zeros((0, 2))
    if places.ndim != 2 or places.shape[1] != 2:
        raise InputError(f"Places are pairs, shape (n, 2); got shape {places.shape}.")
    return places


def _on_floor(places: Places) -> Places:
    """Return the known ones of them, all on the floor."""
    known: Places = places[~np.isnan(places).any(axis=1)]
    wide, long = SINGLES.width.value_m, SINGLES.length.value_m
    off = ((known < 0) | (known > np.array([wide, long]))).any(axis=1)
    if off.any():
        x, y = known[np.flatnonzero(off)[0]]
        raise OutOfRange(f"The place {x:g}, {y:g} m is off the floor, which is {wide:g} by {long:g} m.")
    return known


def _range(values: Places) -> MedianRange | None:
    return median_range(values.tolist()) if len(values) >= FEWEST else None
