"""The model of many matches against an independent sampler, statsmodels, and known truth."""

from __future__ import annotations

import time

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.special import expit

from goodlength.errors import OutOfRange
from goodlength.findings.statistics.mixed_model import CENTRE_SPREAD, PRIOR_SPREAD, fit_mixed_model


def invented(rng, n, kinds=5, opponents=6):
    kind, opponent = rng.integers(0, kinds, n), rng.integers(0, opponents, n)
    of_kind, of_opponent = rng.normal(0, 0.3, kinds), rng.normal(0, 0.5, opponents)
    won = rng.random(n) < expit(0.1 + of_kind[kind] + of_opponent[opponent])
    return won, kind, opponent, of_kind, of_opponent


def sampled(won, kind, opponent, rng, draws=6000):
    """The same posterior by Hamiltonian steps, spreads on the log scale: nothing shared with the fit."""
    k, o = kind.max() + 1, opponent.max() + 1
    x = np.zeros((won.size, 1 + k + o))
    x[:, 0] = 1
    x[np.arange(won.size), 1 + kind] = 1
    x[np.arange(won.size), 1 + k + opponent] = 1
    group = np.r_[np.full(k, 0), np.full(o, 1)]
    wins = won.astype(float)

    def log_and_slope(q):
        z, log_s = q[:-2], q[-2:]
        s = np.exp(log_s)
        beta = np.r_[z[0], z[1:] * s[group]]  # effects as multiples of their spread
        eta = x @ beta
        log = wins @ eta - np.logaddexp(0, eta).sum() - 0.5 * (z[0] / CENTRE_SPREAD) ** 2
        log += -0.5 * (z[1:] ** 2).sum() - 0.5 * ((s / PRIOR_SPREAD) ** 2).sum() + log_s.sum()
        g = x.T @ (wins - expit(eta))
        slope = np.empty_like(q)
        slope[0] = g[0] - z[0] / CENTRE_SPREAD**2
        slope[1:-2] = g[1:] * s[group] - z[1:]
        for j in (0, 1):
            slope[-2 + j] = (g[1:] * z[1:] * s[group])[group == j].sum() - (s[j] / PRIOR_SPREAD) ** 2 + 1
        return log, slope

    q = np.r_[np.zeros(1 + k + o), np.log([0.3, 0.3])]
    kept, step = [], 0.12
    log, slope = log_and_slope(q)
    for i in range(draws):
        p = rng.normal(size=q.size)
        new, new_log, new_slope, r = q, log, slope, p
        eps = step * rng.uniform(0.7, 1.3)
        for _ in range(12):
            r = r + 0.5 * eps * new_slope
            new = new + eps * r
            new_log, new_slope = log_and_slope(new)
            r = r + 0.5 * eps * new_slope
        if np.log(rng.random()) < new_log - log + 0.5 * (p @ p - r @ r):
            q, log, slope = new, new_log, new_slope
        if i >= draws // 6:
            kept.append(np.r_[q[0], q[1:-2] * np.exp(q[-2:])[group]])
    return np.array(kept)


@pytest.mark.slow
def test_the_fast_fit_agrees_with_a_full_sampler():
    """250 rallies, 5 kinds, 6 opponents: chances within 2.5 points, ends of ranges within 5."""
    rng = np.random.default_rng(21)
    won, kind, opponent, _, _ = invented(rng, 250)
    fitted = fit_mixed_model(
        won.tolist(), {"kind": [f"k{i}" for i in kind], "opponent": [f"o{i}" for i in opponent]}
    )
    draws = sampled(won, kind, opponent, rng)
    for i in range(11):
        factor, name = ("kind", f"k{i}") if i < 5 else ("opponent", f"o{i - 5}")
        chance = expit(draws[:, 0] + draws[:, 1 + i])
        level = fitted.level(factor, name)
        assert level.chance == pytest.approx(np.median(chance), abs=0.025)
        assert (level.low, level.high) == pytest.approx(np.quantile(chance, [0.025, 0.975]), abs=0.05)


def test_two_thousand_rallies_in_under_a_second_and_near_the_truth():
    rng = np.random.default_rng(3)
    won, kind, opponent, _, of_opponent = invented(rng, 2000)
    factors = {
        "kind": [f"k{i}" for i in kind],
        "opponent": [f"o{i}" for i in opponent],
        "box": [("right", "left")[i] for i in rng.integers(0, 2, 2000)],
    }
    began = time.process_time()
    fitted = fit_mixed_model(won.tolist(), factors)
    assert time.process_time() - began < 3.0  # about 0.15 s alone; the margin is for a busy machine
    for i, true in enumerate(of_opponent):
        level = fitted.level("opponent", f"o{i}")
        assert level.effect == pytest.approx(true - of_opponent.mean(), abs=0.45)
        assert level.of == int((opponent == i).sum())
    assert abs(fitted.level("box", "right").effect) < 0.15
    assert fitted.spread["opponent"] > fitted.spread["box"]


def test_five_factors_and_the_short_grid():
    """More than three factors: the short grid gives what the full one gives for the factors they share."""
    rng = np.random.default_rng(8)
    won, kind, opponent, _, _ = invented(rng, 2000)
    two = {"kind": [f"k{i}" for i in kind], "opponent": [f"o{i}" for i in opponent]}
    noise = {name: [str(i) for i in rng.integers(0, 3, 2000)] for name in ("box", "score", "player")}
    began = time.process_time()
    five = fit_mixed_model(won.tolist(), {**two, **noise})
    assert time.process_time() - began < 5.0  # about 0.5 s alone
    full = fit_mixed_model(won.tolist(), two)
    for level in full.levels:
        other = five.level(level.factor, level.level)
        assert other.effect == pytest.approx(level.effect, abs=0.08)
        assert other.error == pytest.approx(level.error, rel=0.35)


def test_with_no_factor_it_is_the_share_itself():
    """statsmodels' logistic model with a constant only, apart from the all but flat prior."""
    won = [True] * 130 + [False] * 70
    theirs = sm.Logit(np.array(won, float), np.ones(200)).fit(disp=0).params[0]
    assert fit_mixed_model(won, {}).chance == pytest.approx(expit(theirs), abs=0.002)


def test_few_serves_are_drawn_in_far_and_many_little():
    won = [True] * 3 + [True] * 40 + [False] * 60 + [True] * 50 + [False] * 50
    kinds = ["rare"] * 3 + ["lob"] * 100 + ["hard"] * 100
    fitted = fit_mixed_model(won, {"kind": kinds})
    assert fitted.level("kind", "rare").chance < 0.62
    assert fitted.level("kind", "lob").chance == pytest.approx(0.40, abs=0.04)
    assert (fitted.level("kind", "rare").count, fitted.level("kind", "rare").of) == (3, 3)


def test_all_won_gives_finite_figures():
    level = fit_mixed_model([True] * 12, {"kind": ["lob"] * 12}).level("kind", "lob")
    assert 0.7 < level.chance < 1
    assert level.low < level.chance < level.high


@pytest.mark.parametrize(
    ("won", "factors"),
    [([], {}), ([True], {"kind": []}), ([True], {str(i): ["x"] for i in range(6)})],
)
def test_what_cannot_be_fitted_is_refused(won, factors):
    with pytest.raises(OutOfRange):
        fit_mixed_model(won, factors)
