"""Agreement measures between observers: on counts, on labels, on times of events."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
TRUSTED, DOUBTFUL = 0.80, 0.667  # STATS-REF 2.1: below the second a variable is greyed, between amber


def _table(counts: ArrayLike) -> Floats:
    o = np.asarray(counts, dtype=float)
    if o.ndim != 2 or o.shape[0] != o.shape[1] or (o < 0).any() or not o.sum():
        raise OutOfRange(
            "Agreement needs a square table of counts, zero or more, with at least one event; got shape "
            f"{o.shape} with a total of {o.sum():g}."
        )
    return o


def confusion(first: Sequence[int], second: Sequence[int], labels: int) -> Floats:
    """Return the table of how often label i of the first observer met label j of the second.

    Examples
    --------
    >>> confusion([0, 1, 1], [0, 1, 0], 2).tolist()
    [[1.0, 0.0], [1.0, 1.0]]
    """
    out = np.zeros((labels, labels))
    np.add.at(out, (np.asarray(first, dtype=int), np.asarray(second, dtype=int)), 1)
    return out


def agreed(counts: ArrayLike) -> float:
    """Return share of events both observers labelled the same.

    Examples
    --------
    >>> agreed([[20, 5], [10, 15]])
    0.7
    """
    o = _table(counts)
    return float(np.trace(o) / o.sum())


def kappa(counts: ArrayLike, weights: str | ArrayLike | None = None) -> float | None:
    """Return Cohen's kappa: agreement beyond that of two observers guessing by their own habits.

    Parameters
    ----------
    counts : array_like, shape (k, k)
        First observer by second.
    weights : None, "linear", "quadratic" or array_like, shape (k, k)
        How bad each disagreement is; for court zones the distance between zone centres.

    Returns
    -------
    float or None
        1 is full agreement, 0 no better than guessing; None where both used one label only.

    Source
    ------
    STATS-REF 2.1: 1 - sum w o / sum w e.

    Examples
    --------
    >>> round(kappa([[20, 5], [10, 15]]), 6)
    0.4
    """
    o = _table(counts)
    away = np.abs(np.subtract.outer(np.arange(len(o)), np.arange(len(o)))).astype(float)
    if weights is None:
        w = (away > 0).astype(float)
    elif isinstance(weights, str):
        if weights not in ("linear", "quadratic"):
            raise OutOfRange(f'Weights must be "linear", "quadratic" or a table; got {weights!r}.')
        w = away if weights == "linear" else away**2
    else:
        w = np.asarray(weights, dtype=float)
    expected = np.outer(o.sum(axis=1), o.sum(axis=0)) / o.sum()
    chance = float((w * expected).sum())
    return None if chance == 0 else float(1 - (w * o).sum() / chance)


def ac1(counts: ArrayLike) -> float | None:
    """Return Gwet's AC1: agreement beyond chance, stable where one label dominates. None with a single label.

    Source
    ------
    STATS-REF 2.1 (check value 36/41).

    Examples
    --------
    >>> round(ac1([[85, 5], [5, 5]]), 6)
    0.878049
    """
    o = _table(counts)
    if len(o) < 2:
        return None
    share = (o.sum(axis=0) + o.sum(axis=1)) / (2 * o.sum())
    chance = float((share * (1 - share)).sum() / (len(o) - 1))
    return float((agreed(o) - chance) / (1 - chance))


def percentage_error(first: ArrayLike, second: ArrayLike) -> float:
    """Return difference between two observers' totals, as a share of the mean totals.

    Never to be shown alone: two observers can reach zero and disagree on every event.

    Source
    ------
    STATS-REF 2.1 (Hughes, Cooper and Nevill; formula as printed in a chapter of Hughes): sum |V1 - V2| /
    sum of means; there in percent, up to 5 accepted.

    Examples
    --------
    >>> round(percentage_error([79, 42], [80, 41]), 4)
    0.0165
    """
    array, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    total = float((array + two).sum() / 2)
    if array.shape != two.shape or total <= 0:
        raise OutOfRange("Percentage error needs the same counts of both observers, not all zero.")
    return float(np.abs(array - two).sum() / total)


def alpha(ratings: Sequence[Sequence[float | None]], level: str = "nominal") -> float | None:
    """Return Krippendorff's alpha, for any number of observers, with gaps.

    Parameters
    ----------
    ratings : sequence of observers, each a sequence of values
        One value a unit; None (or NaN) where an observer gave none.
    level : "nominal", "ordinal", "interval" or "ratio"
        What kind of value it is.

    Returns
    -------
    float or None
        None where fewer than two values can be compared, or all values are the same.

    Source
    ------
    STATS-REF 2.1: 1 - Do/De from the coincidence matrix.

    Examples
    --------
    >>> round(alpha([[0, 1, 0, 0], [0, 1, 0, 1]]), 4)
    0.5333
    """
    data = np.array([[np.nan if v is None else v for v in row] for row in ratings], dtype=float)
    values = np.unique(data[np.isfinite(data)])
    counts = np.array([[(unit == v).sum() for v in values] for unit in data.T], dtype=float)
    counts = counts[counts.sum(axis=1) >= 2] if counts.size else counts
    if not counts.size:
        return None
    per_unit = counts.sum(axis=1, keepdims=True)
    pairs = counts[:, :, None] * counts[:, None, :]
    pairs[:, np.arange(values.size), np.arange(values.size)] -= counts
    coincidence = (pairs / (per_unit - 1)[:, :, None]).sum(axis=0)
    n = coincidence.sum(axis=1)
    apart = _squared_distance(values, n, level)
    expected = float((np.outer(n, n) * apart).sum()) / (n.sum() - 1)
    return None if expected == 0 else float(1 - (coincidence * apart).sum() / expected)


def _squared_distance(values: Floats, n: Floats, level: str) -> Floats:
    """Squared distance between values, by the kind of value."""
    if level == "nominal":
        return np.asarray(1.0 - np.eye(values.size))
    if level == "interval":
        return np.asarray(np.subtract.outer(values, values) ** 2)
    if level == "ratio":
        total = np.add.outer(values, values)
        return np.asarray((np.subtract.outer(values, values) / np.where(total == 0, 1, total)) ** 2)
    if level == "ordinal":
        upto = np.cumsum(n)
        middle = upto - n / 2
        return np.asarray(np.subtract.outer(middle, middle) ** 2)
    raise OutOfRange(f'Level must be "nominal", "ordinal", "interval" or "ratio"; got {level!r}.')


@dataclass(frozen=True)
class Matched:
    """Events of two observers put together by time: pairs of places, and what only one of them has."""

    pairs: tuple[tuple[int, int], ...]
    only_first: tuple[int, ...]
    only_second: tuple[int, ...]

    @property
    def f1(self) -> float | None:
        """Twice the matched over all events; None without events.

        Source: STATS-REF 2.1 (45 matched of 50 and 48: 45/49).
        """
        total = 2 * len(self.pairs) + len(self.only_first) + len(self.only_second)
        return 2 * len(self.pairs) / total if total else None


def match_times(first_s: ArrayLike, second_s: ArrayLike, within_s: float = 0.5) -> Matched:
    """Put events of two observers together one to one, so that the times lie as close as they can.

    Parameters
    ----------
    first_s, second_s : array_like of float
        Times, s.
    within_s : float
        Events further apart than this are different events.

    Returns
    -------
    Matched

    Examples
    --------
    >>> match_times([1.0, 5.0], [1.2, 9.0]).pairs
    ((0, 0),)
    """
    array, two = np.asarray(first_s, dtype=float), np.asarray(second_s, dtype=float)
    gap = np.abs(array[:, None] - two[None, :])
    near = gap <= within_s  # false for NaN: an event without a time matches none
    # a pair too far apart costs more than any set of near pairs, so matches come first, then closeness
    cost = np.where(near, gap, (within_s + 1.0) * (min(array.size, two.size) + 1))
    rows, columns = linear_sum_assignment(cost) if cost.size else (np.zeros(0, int), np.zeros(0, int))
    pairs = tuple((int(i), int(j)) for i, j in zip(rows, columns, strict=True) if near[i, j])
    return Matched(
        pairs,
        tuple(i for i in range(array.size) if i not in {p[0] for p in pairs}),
        tuple(j for j in range(two.size) if j not in {p[1] for p in pairs}),
    )
