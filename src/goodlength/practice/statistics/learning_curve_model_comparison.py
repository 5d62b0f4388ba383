"""Compare flat, linear and curved learning models; a curve only where it beats both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import InputError

Floats = NDArray[np.float64]
FEWEST_SESSIONS = 5


@dataclass(frozen=True)
class LearningCurve:
    """Which shape describes the sessions: flat, straight or curved, and its rates at each session.

    `losses` are mean prediction losses per attempt with each session left out in turn (natural
    log); the least wins, but a straight or curved shape must beat the simpler ones.
    """

    shape: str
    rates: tuple[float, ...]
    losses: dict[str, float]
    levels_off_at: float | None


def learning_curve(hits: ArrayLike, attempts: ArrayLike) -> LearningCurve:
    """Choose flat, straight or curved: the simplest shape that predicts a left-out session best.

    Parameters
    ----------
    hits, attempts : array, shape (n,)
        Counts of each session in order; n at least 5.

    Raises
    ------
    InputError
        Fewer than five sessions, or more hits than attempts in one of them.

    Source
    ------
    HEATHCOTE-2000 for the exponential shape of single learners' curves; the rule of leaving
    sessions out is ours.

    Examples
    --------
    >>> learning_curve([10, 11, 9, 10, 10, 11], [20] * 6).shape
    'flat'
    """
    made, attempt_counts = np.asarray(hits, dtype=float), np.asarray(attempts, dtype=float)
    _refuse_bad(made, attempt_counts)
    session = np.arange(len(made), dtype=float)
    losses = {name: _left_out_loss(shape, session, made, attempt_counts) for name, shape in SHAPES.items()}
    best = "flat"
    for name in ("straight", "curved"):
        simpler = min(loss for other, loss in losses.items() if SIMPLER[other] < SIMPLER[name])
        if losses[name] < simpler - SAME_LOSS:
            best = name
    rates, parameters = fit_shape(SHAPES[best], session, made, attempt_counts)
    limit = _sigmoid(parameters[0]) if best == "curved" else None
    return LearningCurve(best, tuple(float(r) for r in rates), losses, limit)


def _refuse_bad(made: Floats, attempts: Floats) -> None:
    if made.shape != attempts.shape or made.ndim != 1:
        raise InputError("Hits and attempts need one number for each session, in the same order.")
    if len(made) < FEWEST_SESSIONS:
        raise InputError(
            f"{len(made)} sessions show no curve: at least {FEWEST_SESSIONS} are needed. Go on logging."
        )
    wrong = np.flatnonzero((made > attempts) | (made < 0) | (attempts < 1))
    if wrong.size:
        k = int(wrong[0])
        raise InputError(f"Session {k + 1}: {made[k]:g} hits of {attempts[k]:g} attempts cannot be.")


def _sigmoid(value: float) -> float:
    return float(1.0 / (1.0 + np.exp(-value)))


def _flat(p: Floats, t: Floats) -> tuple[Floats, Floats]:
    rate = 1.0 / (1.0 + np.exp(-p[0]))
    return np.full_like(t, rate), np.full((1, len(t)), rate * (1.0 - rate))


def _straight(p: Floats, t: Floats) -> tuple[Floats, Floats]:
    rates = np.asarray(1.0 / (1.0 + np.exp(-(p[0] + p[1] * t))))
    slope = rates * (1.0 - rates)
    return rates, np.stack([slope, slope * t])


def _curved(p: Floats, t: Floats) -> tuple[Floats, Floats]:
    limit, first = 1.0 / (1.0 + np.exp(-p[0])), 1.0 / (1.0 + np.exp(-p[1]))
    sessions = t / np.exp(p[2])
    left = np.exp(-sessions)
    rates = limit - (limit - first) * left
    by_limit, by_first = limit * (1.0 - limit) * (1.0 - left), first * (1.0 - first) * left
    return rates, np.stack([by_limit, by_first, -(limit - first) * left * sessions])


Shape = Callable[[Floats, Floats], tuple[Floats, Floats]]  # rates, and their derivatives by each parameter
SHAPES: dict[str, Shape] = {"flat": _flat, "straight": _straight, "curved": _curved}
SIMPLER = {"flat": 1, "straight": 2, "curved": 3}
# A curve may rise or fall, soon or late: a single start can come to rest at the wrong one
BEGIN = {
    "flat": ([0.0],),
    "straight": ([0.0, 0.0],),
    "curved": ([1.0, -1.0, 0.0], [1.0, -1.0, 1.5], [-1.0, 1.0, 0.5]),
}
MOST_STEPS = 100
SAME_LOSS = 1e-9  # equal sessions fit every shape alike: rounding, which differs by machine, may not choose
RIDGE = 0.01  # keeps a rate of none or all at a finite parameter


def _name(shape: Shape) -> str:
    return next(name for name, function in SHAPES.items() if function is shape)


def loss_of_rates(rates: Floats, made: Floats, attempts: Floats) -> float:
    p = np.clip(rates, 1e-6, 1.0 - 1e-6)
    return float(-(made * np.log(p) + (attempts - made) * np.log1p(-p)).sum())


def fit_shape(shape: Shape, t: Floats, made: Floats, attempts: Floats) -> tuple[Floats, Floats]:
    """Return the rates and parameters of the least penalised loss."""
    tries = [_descend(shape, np.asarray(begin), t, made, attempts) for begin in BEGIN[_name(shape)]]
    _, best = min(tries, key=lambda found: found[0])
    return shape(best, t)[0], best


def _descend(shape: Shape, p: Floats, t: Floats, made: Floats, attempts: Floats) -> tuple[float, Floats]:
    """Return the least penalised loss from a start, and its parameters: Fisher scoring with damping."""
    damping = 1e-2
    rates, derivatives = shape(p, t)
    cost = loss_of_rates(rates, made, attempts) + RIDGE * float(p @ p)
    for _ in range(MOST_STEPS):
        inside = np.clip(rates, 1e-6, 1.0 - 1e-6)
        weight = 1.0 / (inside * (1.0 - inside))
        slope = derivatives @ ((attempts * inside - made) * weight) + 2.0 * RIDGE * p
        information = (derivatives * (attempts * weight)) @ derivatives.T + 2.0 * RIDGE * np.eye(len(p))
        before = cost
        while damping < 1e9:
            step = np.linalg.solve(information + damping * np.diag(np.diag(information)), -slope)
            trial = p + np.clip(step, -4.0, 4.0)
            trial_rates, trial_derivatives = shape(trial, t)
            trial_cost = loss_of_rates(trial_rates, made, attempts) + RIDGE * float(trial @ trial)
            if trial_cost < cost:
                p, rates, derivatives, cost = trial, trial_rates, trial_derivatives, trial_cost
                damping *= 0.2
                break
            damping *= 5.0
        if before - cost < 1e-8 * (1.0 + cost):
            break
    return cost, p


def _left_out_loss(shape: Shape, t: Floats, made: Floats, attempts: Floats) -> float:
    total = 0.0
    for k in range(len(t)):
        rest = np.arange(len(t)) != k
        _, parameters = fit_shape(shape, t[rest], made[rest], attempts[rest])
        total += loss_of_rates(shape(parameters, t[k : k + 1])[0], made[k : k + 1], attempts[k : k + 1])
    return total / float(attempts.sum())
