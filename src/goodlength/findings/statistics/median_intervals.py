"""Distribution-free intervals for medians from a few matches or rallies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr

from goodlength.errors import OutOfRange


@dataclass(frozen=True)
class MedianRange:
    """Median of `of` values with the range the true median could lie in.

    `coverage` is how often such a range holds it; the range is None where so few values cannot give one.
    """

    of: int
    median: float | None
    low: float | None
    high: float | None
    coverage: float | None
    rank: int | None  # the range runs from the rank-th smallest to the rank-th largest value


def coverage(rank: int, of: int) -> float:
    """Return how often the range from the rank-th smallest to the rank-th largest of `of` values holds
    the median.

    Source
    ------
    STATS-REF 2.2: 1 - 2 sum_{i<k} C(n, i) / 2^n.

    Examples
    --------
    >>> coverage(2, 9)
    0.9609375
    """
    if not 1 <= rank <= of / 2 + 0.5:
        raise OutOfRange(f"Rank must lie between 1 and half of {of} values; got {rank}.")
    return float(1 - 2 * sum(math.comb(of, i) for i in range(rank)) / 2**of)


def median_range(values: Sequence[float], level: float = 0.95) -> MedianRange:
    """Return median with the narrowest range of ranks that holds it at least as often as `level`.

    In place of "stable after so many matches": five matches give no such range at 95 in 100, and say so.

    Parameters
    ----------
    values : sequence of float
        One a match or a rally; NaN is left out.
    level : float
        How often the range should hold the true median.

    Returns
    -------
    Middle

    Source
    ------
    STATS-REF 2.2 (order statistics; after James, Mellalieu and Jones 2005).

    Examples
    --------
    >>> found = median_range([3, 5, 4, 8, 6, 7])
    >>> found.median, found.low, found.high, found.coverage
    (5.5, 3.0, 8.0, 0.96875)
    >>> median_range([1, 2, 3, 4, 5]).low is None
    True
    """
    known = np.sort([v for v in np.asarray(values, dtype=float) if np.isfinite(v)])
    n = known.size
    if not n:
        return MedianRange(0, None, None, None, None, None)
    median = float(np.median(known))
    ranks = np.arange(1, n // 2 + 1)
    covered = 1 - 2 * bdtr(ranks - 1, n, 0.5)
    enough = np.flatnonzero(covered >= level - 1e-12)
    if not enough.size:
        return MedianRange(n, median, None, None, None, None)
    rank = int(ranks[enough[-1]])
    return MedianRange(
        n, median, float(known[rank - 1]), float(known[n - rank]), float(covered[enough[-1]]), rank
    )
