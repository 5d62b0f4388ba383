"""Permutation test of a share between two groups of rallies, where tries within a rally hang together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Counts = NDArray[np.float64]
ORDERS = 4000
_SEED = 20261130  # always the same orders: the same match gives the same answer


def cluster_permutation_p(
    hits: Sequence[int], tries: Sequence[int], first: Sequence[bool], strata: Sequence[int] | None = None
) -> float:
    """Return the two-sided p of a difference in share, if whole clusters had been dealt out by chance.

    Use it where tries of one rally are alike; for single independent tries use `exact_tests`.

    Parameters
    ----------
    hits, tries : sequence of int, shape (n,)
        Of each cluster (a rally); clusters without a try say nothing.
    first : sequence of bool, shape (n,)
        Whether the cluster belongs to the first group.
    strata : sequence of int, shape (n,), optional
        Clusters change places within their stratum (a match) only.

    Returns
    -------
    float
        Twice the smaller tail, ties counted whole, with the order seen among the orders: at least
        2 / (`ORDERS` + 1). 1 where a group is empty.

    Source
    ------
    STATS-REF 3.4: permutation within strata; clusters in place of single tries.

    Examples
    --------
    >>> cluster_permutation_p([3] * 8 + [0] * 8, [3] * 16, [True] * 8 + [False] * 8) < 0.01
    True
    >>> cluster_permutation_p([1, 1], [2, 2], [True, True])
    1.0
    """
    won, of, member = np.asarray(hits, float), np.asarray(tries, float), np.asarray(first, bool)
    groups = np.zeros(len(won), dtype=np.int64) if strata is None else np.asarray(strata, dtype=np.int64)
    rng = np.random.default_rng(_SEED)
    seen, by_chance = 0.0, np.zeros(ORDERS)
    compared = False
    for group in np.unique(groups):
        here = (groups == group) & (of > 0)
        chosen = int(member[here].sum())
        if not 0 < chosen < int(here.sum()):
            continue
        compared = True
        excess: Counts = won[here] - of[here] * (won[here].sum() / of[here].sum())
        seen += float(excess[member[here]].sum())
        by_chance += rng.permuted(np.tile(excess, (ORDERS, 1)), axis=1)[:, :chosen].sum(axis=1)
    if not compared:
        return 1.0
    above = (1 + int((by_chance >= seen - 1e-9).sum())) / (ORDERS + 1)
    below = (1 + int((by_chance <= seen + 1e-9).sum())) / (ORDERS + 1)
    return min(1.0, 2.0 * min(above, below))
