"""Intervals for a proportion, or a difference of two, for small counts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtri

from goodlength.errors import OutOfRange
from goodlength.findings.result_types import Share

Floats = NDArray[np.float64]
Range = tuple[Floats, Floats]


def _counts(count: ArrayLike, of: ArrayLike, level: float) -> tuple[Floats, Floats]:
    k, n = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(of, dtype=float))
    if not 0.0 < level < 1.0:
        raise OutOfRange(f"Level must lie between 0 and 1; got {level:g}. Use 0.95 for 95 in 100.")
    bad = ~((k >= 0) & (k <= n) & (n >= 1))
    if bad.any():
        raise OutOfRange(
            f"A share needs a count from 0 to its total, and a total of 1 or more; got {k[bad].flat[0]:g} "
            f"of {n[bad].flat[0]:g}. Leave the share out where nothing was counted."
        )
    return k, n


def wilson(count: ArrayLike, of: ArrayLike, level: float = 0.95) -> Range:
    """Return the low and high end of the Wilson score range.

    For labels, and for checks by hand; `jeffreys` is what range bars show.

    Parameters
    ----------
    count, of : array_like of int, broadcast together
        Successes and tries; 0 <= count <= of, of >= 1.
    level : float
        How often the range should hold the true share, 0 to 1.

    Returns
    -------
    low, high : ndarray
        Shares, 0 to 1.

    Source
    ------
    STATS-REF 2.3 (formula of Wilson 1927).

    Examples
    --------
    >>> low, high = wilson(14, 20)
    >>> round(float(low), 4), round(float(high), 4)
    (0.481, 0.8545)
    """
    k, n = _counts(count, of, level)
    z = float(ndtri(0.5 + level / 2))
    middle = (k + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * np.sqrt(k * (n - k) / n + z * z / 4)
    return np.where(k == 0, 0.0, middle - half), np.where(k == n, 1.0, middle + half)


def jeffreys(count: ArrayLike, of: ArrayLike, level: float = 0.95) -> Range:
    """Return the low and high end of the Jeffreys range, with the end set to 0 or 1 at none and at all.

    What every range bar shows. Parameters and returns as `wilson`.

    Source
    ------
    STATS-REF 2.3: quantiles of Beta(count + 1/2, of - count + 1/2).

    Examples
    --------
    >>> low, high = jeffreys(0, 20)
    >>> round(float(low), 4), round(float(high), 4)
    (0.0, 0.1166)
    """
    k, n = _counts(count, of, level)
    tail = (1 - level) / 2
    low = np.where(k == 0, 0.0, betaincinv(k + 0.5, n - k + 0.5, tail))
    return low, np.where(k == n, 1.0, betaincinv(k + 0.5, n - k + 0.5, 1 - tail))


def newcombe(
    count_1: float,
    of_1: float,
    count_2: float,
    of_2: float,
    level: float = 0.95,
    wider: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0)),
) -> tuple[float, float, float]:
    """Return difference of two shares (first minus second) with its hybrid score range.

    Parameters
    ----------
    count_1, of_1, count_2, of_2 : float
        The two shares compared; both totals 1 or more.
    level : float
        How often the range should hold the true difference.
    wider : ((float, float), (float, float))
        By how much the range of each share grows, down and up, for what is not sampling.

    Returns
    -------
    value, low, high : float
        The difference seen and its range, -1 to 1.

    Source
    ------
    STATS-REF 2.3 (Newcombe 1998, method 10).

    Examples
    --------
    >>> [round(x, 4) for x in newcombe(7, 10, 3, 10)]
    [0.4, -0.0288, 0.6718]
    """
    (l1, l2), (u1, u2) = (end.tolist() for end in wilson([count_1, count_2], [of_1, of_2], level))
    p1, p2 = count_1 / of_1, count_2 / of_2
    l1, l2 = l1 - wider[0][0], l2 - wider[1][0]
    u1, u2 = u1 + wider[0][1], u2 + wider[1][1]
    low = p1 - p2 - math.hypot(p1 - l1, u2 - p2)
    high = p1 - p2 + math.hypot(u1 - p1, p2 - l2)
    return p1 - p2, max(-1.0, low), min(1.0, high)


def jeffreys_share(
    count: int, of: int, rallies: Sequence[str] = (), level: float = 0.95, independent: float = 1.0
) -> Share:
    """Return one share with its Jeffreys range and the rallies counted; of nothing the range is 0 to 1.

    `independent` is the part of the tries that counts for the range, where tries hang together.

    Examples
    --------
    >>> jeffreys_share(0, 0)
    Share(count=0, of=0, low=0.0, high=1.0, rallies=())
    """
    if of == 0:
        return Share(0, 0, 0.0, 1.0, tuple(rallies))
    tries = max(1.0, of * independent)
    low, high = jeffreys(count / of * tries, tries, level)  # in this order: all of them is never more
    return Share(int(count), int(of), float(low), float(high), tuple(rallies))
