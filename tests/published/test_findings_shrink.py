"""Shrunk shares against STATS-REF 2.4 and the rat tumour example."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import betaln
from scipy.stats import betabinom

from goodlength.findings.statistics.partial_pooling_over_serve_kinds import (
    log_marginal,
    pooled_posterior,
)

# Rat tumours: Tarone 1982, as in Gelman et al., BDA ch. 5 (70 groups and the 71st); the table is from
# memory, its total of 267 in 1739 is the one printed in STATS-REF.
RATS = (
    [(0, 20)] * 7
    + [(0, 19)] * 4
    + [(0, 18)] * 2
    + [(0, 17)]
    + [(1, 20)] * 4
    + [(1, 19)] * 2
    + [(1, 18)] * 2
    + [(2, 25), (2, 24), (2, 23)]
    + [(2, 20)] * 6
    + [(1, 10), (5, 49), (2, 19), (5, 46), (3, 27), (2, 17)]
    + [(7, 49), (7, 47), (3, 20), (3, 20), (2, 13), (9, 48), (10, 50)]
    + [(4, 20)] * 7
    + [(10, 48)]
    + [(4, 19)] * 3
    + [(5, 22), (11, 46), (12, 49), (5, 20), (5, 20), (6, 23), (5, 19), (6, 22)]
    + [(6, 20)] * 3
    + [(16, 52), (15, 47), (15, 46), (9, 24)]
)
KINDS = ([9, 4, 6, 1, 3], [14, 10, 8, 4, 9])


def test_the_table_is_the_one_meant():
    y, n = np.array(RATS).T
    assert len(RATS) == 70
    assert (y.sum() + 4, n.sum() + 14) == (267, 1739)
    shares = y / n
    assert (shares.mean(), shares.std(ddof=1)) == pytest.approx((0.1360, 0.1035), abs=5.1e-5)


def test_rat_tumours_maximum_likelihood():
    """STATS-REF 2.4, 71 groups: alpha 2.341614, beta 14.114801."""
    y, n = np.array([*RATS, (4, 14)]).T

    def cost(x):
        alpha, beta = np.exp(x)
        return -log_marginal(y, n, alpha / (alpha + beta), alpha + beta)

    best = np.exp(minimize(cost, [0.7, 2.5], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10}).x)
    assert best == pytest.approx((2.341614, 14.114801), rel=2e-6)


def test_rat_tumours_whole_posterior():
    """STATS-REF 2.4, prior (alpha+beta)^(-5/2): E alpha 2.4025, E beta 14.319, E theta_71 .21086 (book 2.4, 14.3).

    In (mu, log kappa) that prior is kappa^(-1/2).
    """
    y, n = np.array([*RATS, (4, 14)]).T
    kappa = np.exp(np.linspace(np.log(1.5), np.log(400), 300))
    drawn = pooled_posterior(y, n, lambda _mu, k: -0.5 * np.log(k), kappa)
    assert drawn.weight @ (drawn.kappa * drawn.mu) == pytest.approx(2.4025, rel=0.003)
    assert drawn.weight @ (drawn.kappa * (1 - drawn.mu)) == pytest.approx(14.319, rel=0.003)
    assert drawn.mean()[-1] == pytest.approx(0.21086, abs=2e-4)


def test_kinds_of_serve_over_the_grid():
    """STATS-REF 2.4: .6429 .4 .75 .25 .3333 -> .5515 .4754 .5666 .4623 .4591."""
    drawn = pooled_posterior(*KINDS)
    assert drawn.mean() == pytest.approx([0.5515, 0.4754, 0.5666, 0.4623, 0.4591], abs=5.1e-5)


def test_marginal_against_scipy():
    """The beta-binomial of scipy, its coefficients taken off."""
    y, n = (np.array(x) for x in KINDS)
    mu, kappa = 0.4, 25.0
    theirs = betabinom.logpmf(y, n, mu * kappa, (1 - mu) * kappa).sum()
    coefficients = (-np.log(n + 1) - betaln(y + 1, n - y + 1)).sum()
    assert log_marginal(y, n, mu, kappa) == pytest.approx(theirs - coefficients, rel=1e-10)


def test_quantiles_against_drawn_shares():
    """Quantiles by bisection against 200,000 draws of the same posterior."""
    drawn = pooled_posterior([11, 1, 1], [17, 12, 4])
    draws = drawn.draw(200_000, np.random.default_rng(2))
    for at in (0.025, 0.5, 0.975):
        assert drawn.quantile(at) == pytest.approx(np.quantile(draws, at, axis=0), abs=0.006)
    assert drawn.mean() == pytest.approx(draws.mean(axis=0), abs=0.003)


def test_shrinking_pays():
    """STATS-REF 2.4, simulated there: 45 serves, five kinds, true sd .06: error raw .212, shrunk .090."""
    rng = np.random.default_rng(12)
    n = np.array([18, 11, 7, 5, 4])
    raw, drawn = [], []
    for _ in range(300):
        mu = rng.uniform(0.4, 0.6)
        true = np.clip(rng.normal(mu, 0.06, 5), 0.05, 0.95)
        y = rng.binomial(n, true)
        raw.append((y / n - true) ** 2)
        drawn.append((pooled_posterior(y, n, quick=True).mean() - true) ** 2)
    raw_error, error = np.sqrt(np.mean(raw)), np.sqrt(np.mean(drawn))
    assert raw_error == pytest.approx(0.19, abs=0.03)
    assert error == pytest.approx(0.095, abs=0.02)


@pytest.mark.parametrize(
    ("y", "n"), [KINDS, ([11, 1, 1, 2, 1], [17, 12, 4, 2, 2]), ([0, 0], [10, 3]), ([1], [1])]
)
def test_the_quick_grid_stands_in_for_the_full_one(y, n):
    full, quick = pooled_posterior(y, n), pooled_posterior(y, n, quick=True)
    assert quick.mean() == pytest.approx(full.mean(), abs=0.005)
    for at in (0.025, 0.975):
        assert quick.quantile(at, 10) == pytest.approx(full.quantile(at), abs=0.012)


def test_many_matches_give_the_same_marginal_as_gamma_functions():
    """Shared factors against differences of log gamma, match by match; 1e-10 is far below any shown digit."""
    rng = np.random.default_rng(8)
    n = rng.integers(0, 60, 40)
    y = rng.binomial(n, 0.4)
    mu, kappa = np.array([0.01, 0.3, 0.5, 0.99]), np.array([1.0, 7.0, 60.0, 400.0])
    a, b = mu * kappa, (1 - mu) * kappa
    theirs = sum(betaln(a + item, b + total - item) - betaln(a, b) for item, total in zip(y, n, strict=True))
    assert log_marginal(y, n, mu, kappa) == pytest.approx(theirs, rel=1e-10)
