"""Mixed model over many matches: effects of player, opponent, kind, box and score on winning a rally.

A logistic model with a normal effect for every level of every factor, drawn in by how far the levels of
that factor spread. Solved by Newton steps on the joint mode, with the spreads integrated over a grid.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SPREADS = (0.05, 0.15, 0.35, 0.75)  # of effects in log odds; the grid over which they are integrated
PRIOR_SPREAD = 0.5  # half-normal prior of each spread; source: STATS-REF 2.4
CENTRE_SPREAD = 1.5  # normal prior of the overall log odds, all but flat


@dataclass(frozen=True)
class FactorLevel:
    """One level of one factor: its effect in log odds, and the chance it gives with all else at the mean."""

    factor: str
    level: str
    count: int
    of: int
    effect: float
    error: float
    chance: float
    low: float
    high: float


@dataclass(frozen=True)
class MixedModelFit:
    """The model after fitting. `spread` is the mean spread of each factor, in log odds."""

    rallies: int
    chance: float  # of a rally with every factor at its mean
    levels: tuple[FactorLevel, ...]
    spread: Mapping[str, float]

    def level(self, factor: str, name: str) -> FactorLevel:
        """Return one level by name."""
        return next(level for level in self.levels if (level.factor, level.level) == (factor, name))


@dataclass(frozen=True)
class _Cells:
    """Rallies put together where every factor is the same: wins, tries, and which columns are 1."""

    wins: Floats
    tries: Floats
    x: Floats  # (cells, 1 + levels)
    factor: Ints  # (1 + levels,), -1 for the centre


def fit_mixed_model(won: Sequence[bool], factors: Mapping[str, Sequence[str]]) -> MixedModelFit:
    """Fit the model to rallies of many matches.

    Parameters
    ----------
    won : sequence of bool, shape (n,)
        Whether the player looked at won the rally.
    factors : mapping of str to sequence of str, each of shape (n,)
        Level of each factor for each rally, for instance "player", "opponent", "kind", "box", "score";
        at most five factors. An interaction is a factor whose levels name both ("lob v Petra").

    Returns
    -------
    Fitted
        Every level with its raw count and its drawn-in chance (range 95 in 100).

    Raises
    ------
    OutOfRange
        Without a rally, with factors of another length, or with more than five of them.

    Source
    ------
    STATS-REF 2.4: logit p = centre + sum of effects, effects normal, spreads half-normal(.5), by Laplace.
    Up to three factors the spreads are integrated over a full grid; beyond, over the best spreads and those
    with one factor changed at a time.

    Limits
    ------
    Factors are held to add up on the log-odds scale. Ranges are normal approximations: checked against a
    sampler in the tests, within a few points for 100 rallies and more.
    """
    names = tuple(factors)
    if not len(won):
        raise OutOfRange("A model of rallies needs at least one rally; got none. Record a match first.")
    if len(names) > 5 or any(len(factors[name]) != len(won) for name in names):
        raise OutOfRange(
            f"A model takes up to five factors, each with one level a rally; got {len(names)} factors for "
            f"{len(won)} rallies."
        )
    labels, cells = _cells(np.asarray(won, dtype=float), [factors[name] for name in names])
    solved: dict[tuple[float, ...], tuple[Floats, Floats, float]] = {}

    def solve(scale: tuple[float, ...]) -> float:
        if scale not in solved:
            start = next(reversed(solved.values()))[0] if solved else np.zeros(cells.x.shape[1])
            solved[scale] = _mode(cells, np.array(scale), start)
        prior = sum((s / PRIOR_SPREAD) ** 2 / 2 - np.log(s) for s in scale)  # log s: even steps of log s
        return float(solved[scale][2] - prior)

    grid = list(product(SPREADS, repeat=len(names))) if len(names) <= 3 else _star(len(names), solve)
    weights = np.array([solve(scale) for scale in grid])
    modes = np.array([solved[scale][0] for scale in grid])
    covariances = [solved[scale][1] for scale in grid]
    return _read(names, labels, cells, modes, covariances, weights, np.array(grid))


def _star(factors: int, solve: Callable[[tuple[float, ...]], float]) -> list[tuple[float, ...]]:
    """Spreads to integrate over where a full grid is too large: the best found, and one changed at a time."""
    best = (SPREADS[2],) * factors
    for k in range(factors):
        best = max((_with(best, k, s) for s in SPREADS), key=solve)
    return list(dict.fromkeys([best, *(_with(best, k, s) for k in range(factors) for s in SPREADS)]))


def _with(scale: tuple[float, ...], place: int, value: float) -> tuple[float, ...]:
    return (*scale[:place], value, *scale[place + 1 :])


def _cells(won: Floats, columns: Sequence[Sequence[str]]) -> tuple[list[tuple[int, str]], _Cells]:
    labels: list[tuple[int, str]] = []
    codes = []
    for number, column in enumerate(columns):
        levels, code = np.unique(np.asarray(column, dtype=str), return_inverse=True)
        codes.append(code.reshape(-1) + len(labels))
        labels += [(number, str(level)) for level in levels]
    rows = np.array(codes, dtype=np.int64).reshape(len(columns), won.size).T
    cells, where = np.unique(rows, axis=0, return_inverse=True)
    where = where.reshape(-1)
    x = np.zeros((len(cells), 1 + len(labels)))
    x[:, 0] = 1
    for k in range(cells.shape[1]):
        x[np.arange(len(cells)), 1 + cells[:, k]] = 1
    wins = np.bincount(where, weights=won, minlength=len(cells)).astype(np.float64)
    tries = np.bincount(where, minlength=len(cells)).astype(np.float64)
    factor = np.array([-1, *(number for number, _ in labels)], dtype=np.int64)
    return labels, _Cells(wins, tries, x, factor)


def _mode(cells: _Cells, scale: Floats, start: Floats) -> tuple[Floats, Floats, float]:
    """Joint mode at given spreads, covariance there, and the log evidence of the spreads."""
    sd = np.where(cells.factor < 0, CENTRE_SPREAD, scale[cells.factor] if scale.size else CENTRE_SPREAD)
    precision = 1 / sd**2
    beta = start
    for _ in range(50):
        p = expit(cells.x @ beta)
        slope = cells.x.T @ (cells.wins - cells.tries * p) - precision * beta
        hessian = (cells.x.T * (cells.tries * p * (1 - p))) @ cells.x + np.diag(precision)
        step = np.linalg.solve(hessian, slope)
        size = float(np.abs(step).max())
        beta = beta + step * min(1.0, 2.0 / size) if size > 0 else beta
        if size < 1e-8:
            break
    eta = cells.x @ beta
    log = float(cells.wins @ eta - cells.tries @ np.logaddexp(0, eta))
    log -= float(0.5 * (precision * beta**2).sum() + np.log(sd).sum())
    _, size_of = np.linalg.slogdet(hessian)
    return beta, np.asarray(np.linalg.inv(hessian), dtype=np.float64), log - 0.5 * float(size_of)


def _read(
    names: tuple[str, ...],
    labels: list[tuple[int, str]],
    cells: _Cells,
    modes: Floats,
    covariances: list[Floats],
    log_weight: Floats,
    spreads: Floats,
) -> MixedModelFit:
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    mean = weight @ modes
    levels = []
    for i, (number, level) in enumerate(labels):
        array = np.zeros(mean.size)
        array[[0, 1 + i]] = 1
        at, error = _moments(array, modes, covariances, weight)
        effect = np.zeros(mean.size)
        effect[1 + i] = 1
        size, size_error = _moments(effect, modes, covariances, weight)
        here = cells.x[:, 1 + i] > 0
        levels.append(
            FactorLevel(
                names[number],
                level,
                int(cells.wins[here].sum()),
                int(cells.tries[here].sum()),
                size,
                size_error,
                float(expit(at)),
                float(expit(at - 1.959964 * error)),
                float(expit(at + 1.959964 * error)),
            )
        )
    wide = {name: float(weight @ spreads[:, k]) for k, name in enumerate(names)}
    return MixedModelFit(int(cells.tries.sum()), float(expit(mean[0])), tuple(levels), wide)


def _moments(array: Floats, modes: Floats, covariances: list[Floats], weight: Floats) -> tuple[float, float]:
    """Return mean and sd of one linear combination, over the grid of spreads."""
    at = modes @ array
    within = np.array([array @ covariance @ array for covariance in covariances])
    mean = float(weight @ at)
    return mean, float(np.sqrt(weight @ (within + (at - mean) ** 2)))
