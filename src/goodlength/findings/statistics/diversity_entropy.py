"""Diversity of a mix: entropy in bits, and the effective number of kinds."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, digamma

from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
DRAWS = 4000  # of the posterior; its ends are then good to about 0.03 kinds


def _checked(counts: ArrayLike) -> Floats:
    n = np.asarray(counts, dtype=float)
    if n.ndim != 1 or not n.size or (n < 0).any() or not np.isfinite(n).all():
        raise OutOfRange(
            f"Counts must be a list of numbers, zero or more, one for each kind; got {counts!r}. "
            "Give the number of serves of each kind."
        )
    return n


def plug_in(counts: ArrayLike) -> float:
    """Return the entropy of the shares seen, bits; too low for few serves. 0 for none.

    Examples
    --------
    >>> round(plug_in([5, 3, 2]), 6)
    1.485475
    """
    n = _checked(counts)
    n = n[n > 0]
    if not n.size:
        return 0.0
    p = n / n.sum()
    return float(-(p * np.log2(p)).sum()) + 0.0


def miller_madow(counts: ArrayLike, clipped: bool = True) -> float:
    """Return entropy with Miller and Madow's correction, bits; `clipped` to that of equal shares.

    Source
    ------
    STATS-REF 3.1; the clip at log2 of the number of kinds is advised there.

    Examples
    --------
    >>> round(miller_madow([9, 4, 1, 0]), 6)
    1.301167
    """
    n = _checked(counts)
    seen, total = int((n > 0).sum()), n.sum()
    if not total:
        return 0.0
    bits = plug_in(n) + (seen - 1) / (2 * total * np.log(2))
    return float(min(bits, np.log2(n.size)) if clipped else bits)


def dirichlet(counts: ArrayLike, alpha: float = 0.5) -> float:
    """Return mean entropy of the posterior with `alpha` added to each count, bits.

    Source
    ------
    STATS-REF 3.1: [psi(A+1) - sum a/A psi(a+1)] / ln 2.

    Examples
    --------
    >>> round(dirichlet([9, 4, 1, 0]), 6)
    1.321401
    """
    a = _checked(counts) + alpha
    total = a.sum()
    return float((digamma(total + 1) - (a / total * digamma(a + 1)).sum()) / np.log(2))


def seeded(*parts: object) -> np.random.Generator:
    """Return a generator whose draws follow from the data named: the same record gives the same figures."""
    digest = hashlib.sha256(repr(parts).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


def effective_kinds(
    counts: Sequence[int],
    rng: np.random.Generator | None = None,
    level: float = 0.95,
    independent: float = 1.0,
) -> tuple[float, float, float]:
    """Return the effective number of kinds in use, with its range; never to be shown without the number of
    serves.

    Parameters
    ----------
    counts : sequence of int, shape (k,)
        Serves of each kind that was open to the player, zeros included.
    rng : numpy Generator, optional
        Draws the posterior; by default seeded from the counts themselves.
    level : float
        How often the range should hold the true number.
    independent : float
        The part of the serves that counts for the range, where they come in runs.

    Returns
    -------
    kinds, low, high : float
        2 to the power of the entropy, 1 to k: corrected for few serves, and a range. `high` is k wherever
        an even mix could have given these counts.

    Source
    ------
    STATS-REF 3.1: Miller and Madow's correction; quantiles of the Dirichlet(1/2) posterior, moved by what
    the posterior mean differs from it. By itself that posterior never reaches an even mix, so a range of
    it never held one; an even mix stays in while its likelihood ratio passes at this level (our choice).

    Examples
    --------
    >>> [round(x, 1) for x in effective_kinds([17, 12, 4, 2, 2])]
    [3.8, 2.9, 4.6]
    >>> [round(x, 1) for x in effective_kinds([4, 5, 4, 4, 3])]
    [5.0, 3.9, 5.0]
    """
    n = _checked(counts)
    rng = seeded("effective kinds", tuple(int(x) for x in n)) if rng is None else rng
    middle, most = miller_madow(n), float(np.log2(n.size))
    n = n * independent
    draws = rng.standard_gamma(n + 0.5, size=(DRAWS, n.size))
    p = draws / draws.sum(axis=1, keepdims=True)
    bits = -np.where(p > 0, p * np.log2(np.where(p > 0, p, 1.0)), 0.0).sum(axis=1)
    low, high = np.quantile(bits, [(1 - level) / 2, (1 + level) / 2])
    moved = middle - dirichlet(n)
    ratio = 2 * n.sum() * np.log(2) * (most - plug_in(n))
    even = n.size == 1 or ratio <= chdtri(n.size - 1, 1 - level)
    low = max(0.0, min(low + min(moved, 0.0), middle))
    high = most if even else min(most, max(high, high + moved))
    return 2.0**middle, float(2.0**low), float(2.0**high)
