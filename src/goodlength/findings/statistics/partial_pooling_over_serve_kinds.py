"""Partial pooling of proportions: what few serves of a kind say, given what the other kinds did.

The default estimate beside raw counts. After one match the honest share of a kind is close to the share
of all kinds together, and the best-looking kind is the wrong one in about one match of three.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, betaln

from goodlength.errors import OutOfRange
from goodlength.findings.result_types import PooledShare

Floats = NDArray[np.float64]
MU = np.linspace(0.005, 0.995, 199)
KAPPA = np.exp(np.linspace(0.0, np.log(400.0), 160))
QUICK_MU = np.linspace(0.0125, 0.9875, 40)  # shares within 0.004 of the full grid, in a tenth of the time
QUICK_KAPPA = np.exp(np.linspace(0.0, np.log(400.0), 20))
FEW = 8  # kinds or matches from which on factors are shared


def _pairs(count: ArrayLike, of: ArrayLike) -> tuple[Floats, Floats]:
    y, n = np.asarray(count, dtype=float), np.asarray(of, dtype=float)
    if y.shape != n.shape or y.ndim != 1 or not ((y >= 0) & (y <= n)).all():
        raise OutOfRange(
            f"Shares need one count and one total for each kind, 0 <= count <= total; got {count!r} of "
            f"{of!r}. Leave out kinds that were not recorded."
        )
    return y, n


def log_marginal(count: ArrayLike, of: ArrayLike, mu: ArrayLike, kappa: ArrayLike) -> Floats:
    """Log chance of the counts when true shares are spread as Beta(mu kappa, (1 - mu) kappa).

    Binomial coefficients are left out: they are the same for every mu and kappa.

    Parameters
    ----------
    count, of : array_like, shape (k,)
        One entry a kind.
    mu, kappa : array_like, broadcast together
        Centre, 0 to 1, and weight, above 0.
    """
    y, n = _pairs(count, of)
    a = np.asarray(mu, dtype=float) * np.asarray(kappa, dtype=float)
    b = np.asarray(kappa, dtype=float) - a
    if y.size > FEW and not (y % 1).any() and not (n % 1).any():
        return np.asarray(_rising(y, a) + _rising(n - y, b) - _rising(n, a + b))
    out = np.zeros(a.shape)
    for item, total in zip(y, n, strict=True):
        out = out + betaln(a + item, b + total - item) - betaln(a, b)
    return np.asarray(out)


def _rising(counts: Floats, start: Floats) -> Floats:
    """Sum over the counts of log(start (start + 1) ... (start + count - 1)).

    The same as differences of log gamma, for whole counts; many matches share their first factors, so that
    the time goes with the largest count and not with their number.
    """
    out = np.zeros(start.shape)
    for step in range(int(counts.max(initial=0.0))):
        out += (counts > step).sum() * np.log(start + step)
    return out


@dataclass(frozen=True)
class PooledPosterior:
    """Posterior of several shares at once: a grid of (mu, kappa) with its weights."""

    count: Floats
    of: Floats
    mu: Floats  # (m,)
    kappa: Floats  # (m,)
    weight: Floats  # (m,), sums to 1

    def mean(self) -> Floats:
        """Return mean share of each kind, shape (k,)."""
        top = self.kappa * self.mu + self.count[:, None]
        return np.asarray((top / (self.kappa + self.of[:, None])) @ self.weight)

    def centre(self) -> float:
        """Return mean share of a kind not seen yet."""
        return float(self.mu @ self.weight)

    def spread(self) -> float:
        """Return mean spread (sd) between the true shares of kinds."""
        return float(np.sqrt(self.mu * (1 - self.mu) / (self.kappa + 1)) @ self.weight)

    def quantile(self, at: float, steps: int = 20) -> Floats:
        """Return quantiles of the share of each kind, shape (k,); within 2 to the power of -(steps + 1)."""
        order = np.argsort(-self.weight)
        some = order[: int(np.searchsorted(np.cumsum(self.weight[order]), 0.999)) + 1]
        w = self.weight[some] / self.weight[some].sum()
        a = (self.kappa * self.mu)[some] + self.count[:, None]
        b = (self.kappa * (1 - self.mu))[some] + (self.of - self.count)[:, None]
        low, high = np.zeros(self.count.size), np.ones(self.count.size)
        for _ in range(steps):
            middle = (low + high) / 2
            below = (betainc(a, b, middle[:, None]) @ w) < at
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray((low + high) / 2)

    def draw(self, draws: int, rng: np.random.Generator) -> Floats:
        """Return samples of the true shares, shape (draws, k)."""
        at = rng.choice(self.weight.size, size=draws, p=self.weight)
        a, b = self.kappa[at] * self.mu[at], self.kappa[at] * (1 - self.mu[at])
        return rng.beta(a[:, None] + self.count, b[:, None] + self.of - self.count)


def pooled_posterior(
    count: ArrayLike,
    of: ArrayLike,
    log_prior: Callable[[Floats, Floats], Floats] | None = None,
    kappa: ArrayLike | None = None,
    quick: bool = False,
) -> PooledPosterior:
    """Return the posterior of the shares of several kinds, each shrunk by as much as all together suggest.

    Parameters
    ----------
    count, of : array_like, shape (k,)
        Successes and tries of each kind; kinds with no tries get the centre.
    log_prior : callable (mu, kappa), optional
        Log of the prior on the grid (uniform in mu, and in log kappa over 1 to 400, without it).
    kappa : array_like, optional
        Grid of weights, evenly spaced in the logarithm.
    quick : bool
        A coarser grid, for pages.

    Returns
    -------
    Drawn

    Source
    ------
    STATS-REF 2.4: never a point estimate of (mu, kappa) with few kinds.

    Examples
    --------
    >>> pooled_posterior([9, 4, 6, 1, 3], [14, 10, 8, 4, 9]).mean().round(4).tolist()
    [0.5515, 0.4754, 0.5666, 0.4623, 0.4591]
    """
    y, n = _pairs(count, of)
    usual = QUICK_KAPPA if quick else KAPPA
    grid = usual if kappa is None else np.asarray(kappa, dtype=float)
    mu, weight = (x.ravel() for x in np.meshgrid(QUICK_MU if quick else MU, grid, indexing="ij"))
    log = log_marginal(y, n, mu, weight)
    if log_prior is not None:
        log = log + log_prior(mu, weight)
    p = np.exp(log - log.max())
    return PooledPosterior(y, n, mu, weight, p / p.sum())


def pooled_shares(count: Sequence[int], of: Sequence[int]) -> tuple[PooledShare, ...]:
    """Return share of each kind drawn in towards the others, with its range (95 in 100).

    Examples
    --------
    >>> [round(one.mean, 2) for one in pooled_shares([11, 1], [17, 12])]
    [0.58, 0.18]
    """
    if not len(of):
        return ()
    posterior = pooled_posterior(count, of, quick=True)
    columns = zip(posterior.mean(), posterior.quantile(0.025, 10), posterior.quantile(0.975, 10), strict=True)
    return tuple(PooledShare(float(m), float(low), float(high)) for m, low, high in columns)
