"""One game of server and receiver by linear programming, and what a mix gives away in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

from goodlength.errors import OutOfRange


@dataclass(frozen=True)
class GameSolution:
    """Best mix of the rows, a best mix of the columns, and what the rows then earn."""

    rows: NDArray[np.float64]
    columns: NDArray[np.float64]
    value: float


def payoffs(payoff: ArrayLike) -> NDArray[np.float64]:
    """The payoffs as a table, or a refusal."""
    a = np.asarray(payoff, dtype=float)
    if a.ndim != 2 or not a.size or not np.isfinite(a).all():
        raise OutOfRange(f"payoffs must be a table of numbers; got shape {a.shape}.")
    return a


def solve_game(payoff: ArrayLike) -> GameSolution:
    """Return the mix that earns most against the best answer to it.

    Source: STATS-REF 4.1, maximin by linear programming.
    """
    a = payoffs(payoff)
    kinds, answers = a.shape
    found = linprog(
        np.r_[np.zeros(kinds), -1.0],
        A_ub=np.c_[-a.T, np.ones(answers)],
        b_ub=np.zeros(answers),
        A_eq=np.r_[np.ones(kinds), 0.0][None, :],
        b_eq=[1.0],
        bounds=[(0, None)] * kinds + [(None, None)],
        method="highs",
    )
    rows = np.clip(found.x[:kinds], 0.0, None)
    columns = np.clip(-found.ineqlin.marginals, 0.0, None)
    return GameSolution(rows / rows.sum(), columns / columns.sum(), -float(found.fun))


def exploitability(payoff: ArrayLike, mix: ArrayLike) -> float:
    """How much less than the best a mix earns, once the receiver has found its weakest side."""
    a, x = payoffs(payoff), np.asarray(mix, dtype=float)
    if x.shape != (a.shape[0],) or (x < 0).any() or abs(x.sum() - 1) > 1e-6:
        raise OutOfRange(f"a mix needs one share for each of {a.shape[0]} kinds; got {mix!r}.")
    return float(solve_game(a).value - (x @ a).min())
