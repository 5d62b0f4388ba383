"""Permutation tests that stay valid where serves come in runs or follow the box.

`luck` takes every order of a game's serves as equally likely. Here an order keeps what could explain the
result without the habit that is asked about: runs of one kind (a drift), or the kinds of each box (repeats).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from goodlength.findings.statistics.diversity_entropy import seeded
from goodlength.findings.statistics.exact_tests import both_tails

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
QUICK, CAREFUL = 1000, 8000  # orders drawn: at first, and where the first look may give a grade
REFINE_BELOW = 0.1
MANY, FOR_MANY = 400, 160  # from so many serves on so few orders do: their spread is all that is read off


# How much a serve may repeat the last whatever the mix says: every chance from none to this one is taken as
# equally likely beforehand. A guess: no measurement of squash is known to us.
ASSUMED_REPEAT_MOST = 0.6
_REPEATS = np.linspace(0.0, ASSUMED_REPEAT_MOST, 13)
# For ranges: one server in three does not repeat at all. Also a guess.
ASSUMED_REPEAT_CHANCES = np.array([6.0, *[1.0] * 12]) / 18.0


@lru_cache(maxsize=256)
def _orders(n: int) -> Floats:
    """Orders of k ones and n - k others in r runs, [begins with a one, k, r]."""
    out = np.zeros((2, n + 1, n + 2))
    for k in range(n + 1):
        for r in range(1, n + 1):
            half = (r + 1) // 2
            for begins, (ones, others) in ((1, (half, r - half)), (0, (r - half, half))):
                if (ones == 0) == (k == 0) and (others == 0) == (k == n):
                    ways = math.comb(k - 1, ones - 1) if ones else 1
                    out[begins, k, r] = ways * (math.comb(n - k - 1, others - 1) if others else 1)
    out.setflags(write=False)
    return out


def change_weight(repeats: ArrayLike, share: float) -> Floats:
    """Return what each further run counts in the chance of an order, for a server who repeats that much.

    Source
    ------
    A chain of two states that repeats the last with chance `repeats` and else draws afresh: the square root
    of (change from one times change to one) over (stay in one times stay in the others).

    Examples
    --------
    >>> change_weight([0.0, 0.5], 0.5).round(3).tolist()
    [1.0, 0.333]
    """
    r = np.asarray(repeats, dtype=float)
    change = (1 - r) ** 2 * share * (1 - share)
    return np.asarray(np.sqrt(change / ((r + (1 - r) * share) * (r + (1 - r) * (1 - share)))))


def early_chances(early: int, late: int, ones: int, weight: float) -> tuple[int, Floats]:
    """Return chances of each number of ones in the first part, every further run counting `weight`.

    Parameters
    ----------
    early, late : int
        Lengths of the two parts.
    ones : int
        Of both parts together.
    weight : float
        See `change_weight`; with 1 every order is equally likely.

    Returns
    -------
    low : int
        The number the first chance is of.
    chances : ndarray, shape (n,)

    Examples
    --------
    >>> low, chances = early_chances(2, 2, 2, 1.0)  # as drawing two of four: 1, 4 and 1 of 6
    >>> low, chances.round(4).tolist()
    (0, [0.1667, 0.6667, 0.1667])
    """
    low, high = max(0, ones - late), min(ones, early)
    k = np.arange(low, high + 1)
    first, second = _orders(early), _orders(late)
    runs = np.arange(early + 2)
    weighed = first[:, k, :] * weight**runs
    odd = runs % 2 == 1
    ends_in_one = weighed[1][:, odd].sum(axis=1) + weighed[0][:, ~odd].sum(axis=1)
    ends_in_other = weighed[0][:, odd].sum(axis=1) + weighed[1][:, ~odd].sum(axis=1)
    rest = second[:, ones - k, :] @ weight ** np.arange(late + 2)
    # a second part that goes on in the same kind has one run less
    joined = ends_in_one * (rest[1] / weight + rest[0]) + ends_in_other * (rest[0] / weight + rest[1])
    return low, joined / joined.sum()


def _likelihood(part: Sequence[bool], weights: Floats) -> Floats:
    """Return chance of as many runs in a part, given its ones, for each weight."""
    orders = _orders(len(part))[:, sum(part), :].sum(axis=0)
    powers = weights[:, None] ** np.arange(orders.size)
    return np.asarray(powers[:, _runs(part)] / (powers @ orders))


def _runs(part: Sequence[bool]) -> int:
    return 1 + sum(a != b for a, b in itertools.pairwise(part))


def drift_p(early: Sequence[bool], late: Sequence[bool]) -> float:
    """Return the mid p of a kind served more in one part than in the other, for a server who may repeat the
    last.

    How much the server repeats is read off the runs inside each part, where a drift does not lengthen
    them, and p is averaged over what it could be.

    Parameters
    ----------
    early, late : sequence of bool
        Whether each serve was of the kind, in order.

    Returns
    -------
    float
        1 where nothing can differ.

    Source
    ------
    Posterior predictive p over the weight of a run; counted by compositions, and checked against every
    order written out. The prior is `ASSUMED_REPEAT_MOST`.

    Examples
    --------
    >>> mixed, other = [True, False, True, True] * 4, [False, False, True, False] * 4
    >>> sticky, lone = [True] * 12 + [False] * 4, [False] * 12 + [True] * 4
    >>> drift_p(mixed, other) < drift_p(sticky, lone)
    True
    """
    n, ones = len(early) + len(late), sum(early) + sum(late)
    if not early or not late or ones in (0, n):
        return 1.0
    weights = change_weight(_REPEATS, ones / n)
    likely = _likelihood(early, weights) * _likelihood(late, weights)
    p = []
    for weight in weights:
        low, chances = early_chances(len(early), len(late), ones, float(weight))
        p.append(both_tails(low, chances, sum(early)).mid_p)
    return min(1.0, float(np.asarray(p) @ likely / likely.sum()))


def independent_part(stretches: Sequence[Sequence[int]]) -> float:
    """Return what part of the serves counts as independent, given the order of their kinds in each game.

    All kinds are read together: a server who repeats does so whatever the kind, and the order of one kind
    alone says too little of it.

    Parameters
    ----------
    stretches : sequence of sequences of int
        Kinds in order, one stretch a game.

    Returns
    -------
    float
        Above 0, at most 1: a range of the share of a kind holds with so many times the serves.

    Source
    ------
    A chain that repeats with chance r and else draws from the mix multiplies the variance of a share by
    (1 + r) / (1 - r); averaged over what r could be (`ASSUMED_REPEAT_CHANCES`), the mix as counted.

    Examples
    --------
    >>> mixed, sticky = [[0, 1, 0, 1, 1, 0]] * 5, [[0] * 4 + [1] * 4] * 4
    >>> independent_part(mixed) > 0.8 > 0.5 > independent_part(sticky)
    True
    """
    codes, kinds = np.unique([k for stretch in stretches for k in stretch], return_inverse=True)
    if codes.size < 2:
        return 1.0
    mix = (np.bincount(kinds) + 0.5) / (kinds.size + 0.5 * codes.size)
    begins = np.cumsum([0, *(len(stretch) for stretch in stretches)])[:-1]
    follows = ~np.isin(np.arange(kinds.size), begins)
    same = (kinds == np.roll(kinds, 1))[follows]
    chance = _REPEATS[:, None] * same + (1 - _REPEATS[:, None]) * mix[kinds[follows]]
    log = np.log(chance).sum(axis=1) + np.log(ASSUMED_REPEAT_CHANCES)
    likely = np.exp(log - log.max())
    return float(likely.sum() / (likely @ ((1 + _REPEATS) / (1 - _REPEATS))))


@dataclass(frozen=True)
class Ordered:
    """Repeats in the serves as they came (row 0) and in drawn orders, by kind.

    `again[i, k]` of `followed[i, k]` serves of kind k were followed by the same.
    """

    again: Ints
    followed: Ints
    many: bool  # serves: p is then read off the spread of the drawn ones

    def p_repeats(self) -> float:
        """Return the p of the repeats of any kind."""
        return self._p(self.repeats)

    def p_after(self, kind: int) -> float:
        """Return the p of the share of serves of a kind followed by the same; 1 where none was followed."""
        some = self.followed[:, kind] > 0
        if not some[0]:
            return 1.0
        return self._p(self.again[some, kind] / self.followed[some, kind])

    def luck_of_repeats(self, pairs: int) -> tuple[float, float, float]:
        """Return mean, low and high share of repeats in the drawn orders, among so many pairs."""
        return _mean_and_band(self.repeats[1:] / pairs)

    def luck_after(self, kind: int) -> tuple[float, float, float]:
        """Return mean, low and high share of serves of a kind that drawn orders follow by the same."""
        some = self.followed[1:, kind] > 0
        if not some.any():
            return 0.0, 0.0, 1.0
        return _mean_and_band(self.again[1:, kind][some] / self.followed[1:, kind][some])

    def _p(self, values: Floats | Ints) -> float:
        if not self.many:
            return mid_p(float(values[0]), values[1:])
        spread = float(values[1:].std())
        return 1.0 if spread == 0 else float(2 * ndtr(-abs(values[0] - values[1:].mean()) / spread))

    @property
    def repeats(self) -> Ints:
        """Repeats of any kind, shape (1 + orders,)."""
        return np.asarray(self.again.sum(axis=1))


def _mean_and_band(permuted: Floats) -> tuple[float, float, float]:
    """Return mean and middle 95 in 100 of drawn shares."""
    low, high = np.quantile(permuted, [0.025, 0.975], method="inverted_cdf")
    return float(permuted.mean()), float(low), float(high)


def reordered(kinds: Sequence[int], boxes: Sequence[int], orders: int, rng: np.random.Generator) -> Ints:
    """Return serves of one game in other orders, changed about only within each box; shape (1 + orders, n).

    The first row is the order as it came.
    """
    permuted = np.tile(np.asarray(kinds, dtype=np.int64), (1 + orders, 1))
    where = np.asarray(boxes)
    for box in dict.fromkeys(boxes):  # by first sight: a match seen in a mirror gives the same orders
        here = np.flatnonzero(where == box)
        if here.size > 1:
            by = np.argsort(rng.random((orders, here.size)), axis=1)
            permuted[1:, here] = permuted[0, here][by]
    return permuted


def expected_repeats_within(stretches: Sequence[Sequence[int]], boxes: Sequence[Sequence[int]]) -> float:
    """Return the mean of the repeats over every order that keeps the kinds of each box, exactly.

    `repeats_within` draws some of these orders; where only their mean matters, this takes no draws.

    Examples
    --------
    >>> round(expected_repeats_within([[0, 0, 1]], [[0, 0, 0]]), 4)  # LLS, LSL, SLL: 1, 0, 1
    0.6667
    >>> expected_repeats_within([[0, 1, 0, 1]], [[0, 1, 0, 1]])
    0.0
    """
    total = 0.0
    for kinds, box in zip(stretches, boxes, strict=True):
        mixes: dict[int, Counter[int]] = {}
        for kind, here in zip(kinds, box, strict=True):
            mixes.setdefault(here, Counter())[kind] += 1
        for pair, times in Counter(itertools.pairwise(box)).items():
            first, second = mixes[pair[0]], mixes[pair[1]]
            same = int(pair[0] == pair[1])
            ways = sum(count * (second[kind] - same) for kind, count in first.items())
            total += times * ways / (first.total() * (second.total() - same))
    return total


def number_of_orders(stretches: Sequence[Sequence[int]], orders: int = QUICK) -> int:
    """Return how many orders `repeats_within` draws."""
    serves = sum(len(stretch) for stretch in stretches if len(stretch) > 1)
    return min(orders, FOR_MANY) if serves >= MANY else orders


def repeats_within(
    stretches: Sequence[Sequence[int]],
    boxes: Sequence[Sequence[int]],
    orders: int = QUICK,
    rng: np.random.Generator | None = None,
) -> Ordered:
    """Count repeats in the serves as they came and in orders that keep the kinds of each box.

    Parameters
    ----------
    stretches, boxes : sequence of sequences of int
        Kinds served in order, and the box of each (-1 not known), one stretch a game.
    orders : int
        How many orders are drawn.
    rng : numpy Generator, optional
        Seeded from the serves by default, so that the same record gives the same figures.

    Examples
    --------
    >>> found = repeats_within([[0, 1, 0, 1]], [[0, 1, 0, 1]])  # each box has its kind: nothing to change
    >>> int(found.repeats.max())
    0
    """
    rng = seeded("repeats", [*map(tuple, stretches)]) if rng is None else rng
    used = [(k, b) for k, b in zip(stretches, boxes, strict=True) if len(k) > 1]
    orders = number_of_orders([kinds for kinds, _ in used], orders)
    many = sum(len(kinds) for kinds, _ in used) >= MANY
    size = 1 + max((k for kinds, _ in used for k in kinds), default=0)
    again = np.zeros((1 + orders, size), dtype=np.int64)
    followed = np.zeros((1 + orders, size), dtype=np.int64)
    rows = size * np.arange(1 + orders)[:, None]
    for kinds, box in used:
        permuted = reordered(kinds, box, orders, rng)
        cell = permuted[:, :-1] + rows
        same = permuted[:, :-1] == permuted[:, 1:]
        followed += np.bincount(cell.ravel(), minlength=followed.size).reshape(followed.shape)
        again += np.bincount(cell[same], minlength=again.size).reshape(again.shape)
    return Ordered(again, followed, many)


def mid_p(seen: float, permuted: Floats | Ints) -> float:
    """Return two-sided mid p of a value among drawn ones: twice the smaller tail, half of the ties counted.

    The value seen counts among the drawn, so that it is never 0.

    Examples
    --------
    >>> mid_p(9.0, np.arange(9.0))
    0.1
    """
    n = permuted.size + 1
    ties = float((np.abs(permuted - seen) < 1e-12).sum() + 1) / 2
    below, above = float((permuted < seen - 1e-12).sum()), float((permuted > seen + 1e-12).sum())
    return min(1.0, 2 * (min(below, above) + ties) / n)
