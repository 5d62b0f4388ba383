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
        if losses[name] < min(loss for other, loss in losses.items() if SIMPLER[other] < SIMPLER[name]):
            best = name
    rates, parameters = _fit(SHAPES[best], session, made, attempt_counts)
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


def _flat(p: Floats, t: Floats) -> Floats:
    return np.full_like(t, 1.0 / (1.0 + np.exp(-p[0])))


def _straight(p: Floats, t: Floats) -> Floats:
    return np.asarray(1.0 / (1.0 + np.exp(-(p[0] + p[1] * t))))


def _curved(p: Floats, t: Floats) -> Floats:
    limit, first = 1.0 / (1.0 + np.exp(-p[0])), 1.0 / (1.0 + np.exp(-p[1]))
    return np.asarray(limit - (limit - first) * np.exp(-t / np.exp(p[2])))


SHAPES: dict[str, Callable[[Floats, Floats], Floats]] = {
    "flat": _flat,
    "straight": _straight,
    "curved": _curved,
}
SIMPLER = {"flat": 1, "straight": 2, "curved": 3}
BEGIN = {"flat": ([0.0],), "straight": ([0.0, 0.0],), "curved": ([1.0, -1.0, 0.0], [1.0, -1.0, 1.5])}


def _name(shape: Callable[[Floats, Floats], Floats]) -> str:
    return next(name for name, function in SHAPES.items() if function is shape)


def _loss(rates: Floats, made: Floats, attempts: Floats) -> float:
    p = np.clip(rates, 1e-6, 1.0 - 1e-6)
    return float(-(made * np.log(p) + (attempts - made) * np.log1p(-p)).sum())


def _fit(
    shape: Callable[[Floats, Floats], Floats], t: Floats, made: Floats, attempts: Floats
) -> tuple[Floats, Floats]:
    from scipy.optimize import minimize  # slow to load, and only plans with sessions ask

    def cost(p: Floats) -> float:
        return _loss(shape(p, t), made, attempts) + 0.01 * float(p @ p)

    tries = [minimize(cost, np.asarray(begin), method="Nelder-Mead") for begin in BEGIN[_name(shape)]]
    best = min(tries, key=lambda found: float(found.fun))
    return shape(best.x, t), best.x


def _left_out_loss(
    shape: Callable[[Floats, Floats], Floats], t: Floats, made: Floats, attempts: Floats
) -> float:
    total = 0.0
    for k in range(len(t)):
        rest = np.arange(len(t)) != k
        _, parameters = _fit(shape, t[rest], made[rest], attempts[rest])
        total += _loss(shape(parameters, t[k : k + 1]), made[k : k + 1], attempts[k : k + 1])
    return total / float(attempts.sum())
