"""Input validation for practice counts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import InputError, OutOfRange


def counts(hits: int, attempts: int) -> None:
    """Refuses hits that are more than the attempts, and counts below zero."""
    if hits < 0 or attempts < 0:
        raise OutOfRange(f"Hits and attempts are counted from zero; got {hits} of {attempts}. Count again.")
    if hits > attempts:
        raise InputError(
            f"{hits} hits in {attempts} attempts cannot be: hits are at most the attempts. "
            "Put the two numbers right and send the set again."
        )


def points_array(places_m: ArrayLike) -> NDArray[np.float64]:
    """Return places as an array of shape (n, 2), metres; every figure finite."""
    places = np.asarray(places_m, dtype=float)
    if places.ndim != 2 or places.shape[1] != 2:
        raise InputError(
            f"Places are pairs of metres (across, up), one row an attempt; got a shape of {places.shape}."
        )
    bad = np.flatnonzero(~np.isfinite(places).all(axis=1))
    if bad.size:
        raise InputError(
            f"Attempt {bad[0] + 1} has no place that can be read. Leave it out or write it again."
        )
    return places
