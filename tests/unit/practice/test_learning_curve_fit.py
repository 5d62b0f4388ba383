"""The fit of a learning curve against a search that uses no derivative, and its derivatives by differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import approx_fprime, minimize

from goodlength.practice.statistics.learning_curve_model_comparison import (
    BEGIN,
    RIDGE,
    SHAPES,
    fit_shape,
    loss_of_rates,
)

Sessions = tuple[np.ndarray, np.ndarray, np.ndarray]


def invented(seed: int) -> Sessions:
    """Sessions that rise, fall or stand still, soon or late; some of a single attempt, some of hundreds."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(rng.integers(4, 14)), dtype=float)
    attempts = rng.choice([1.0, 5.0, 15.0, 45.0, 300.0], t.size)
    change = rng.choice([-1.0, -0.5, 0.0, 0.2, 1.0]) * (1 - np.exp(-t / rng.choice([0.3, 2.0, 8.0])))
    return (
        t,
        rng.binomial(attempts.astype(int), np.clip(rng.uniform() + change, 0, 1)).astype(float),
        attempts,
    )


@pytest.mark.parametrize("name", SHAPES)
def test_no_search_without_derivatives_finds_a_likelier_fit(name: str) -> None:
    for seed in range(10):
        t, made, attempts = invented(seed)

        def cost(p: np.ndarray, t=t, made=made, attempts=attempts) -> float:
            return loss_of_rates(SHAPES[name](p, t)[0], made, attempts) + RIDGE * float(p @ p)

        rates, found = fit_shape(SHAPES[name], t, made, attempts)
        searched = min(minimize(cost, np.asarray(p), method="Nelder-Mead").fun for p in BEGIN[name])
        assert cost(found) <= searched + 1e-3, seed
        assert rates == pytest.approx(SHAPES[name](found, t)[0])


@pytest.mark.parametrize("name", SHAPES)
def test_derivatives_are_those_of_the_rates(name: str) -> None:
    shape, t = SHAPES[name], np.arange(6.0)
    for p in np.random.default_rng(3).normal(size=(5, len(BEGIN[name][0]))):
        by_differences = approx_fprime(p, lambda q: shape(q, t)[0], 1e-7).reshape(len(t), -1).T
        assert shape(p, t)[1] == pytest.approx(by_differences, abs=1e-5)
