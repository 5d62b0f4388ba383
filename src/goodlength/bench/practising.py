"""Practice on simulated players: false "better" when nothing changed, and what is found when it did."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from goodlength.practice.evidence import ENOUGH

RATES = (0.2, 0.3, 0.5, 0.7, 0.85)
FIRST = 45  # attempts of the first session: three sets of fifteen
LATER = 225  # five more sessions, looked at after every ball


@dataclass(frozen=True)
class PracticeFigures:
    """What `bench practice` prints. Shares of simulated players, by true rate where it says so."""

    players: int
    looks: int
    false_better_by_rate: dict[str, float]
    false_better_most: float
    found_half_to_seven_tenths: float
    found_three_to_six_tenths: float


def measure(seed: int = 20261125, players: int = 2000) -> PracticeFigures:
    """Simulate players who did not change, and players who did.

    Parameters
    ----------
    seed : int
        State of the draws.
    players : int
        Players for each true rate.
    """
    rng = np.random.default_rng(seed)
    false = {f"{rate:g}": better_share(rng, players, rate, rate) for rate in RATES}
    return PracticeFigures(
        players,
        LATER,
        false,
        max(false.values()),
        better_share(rng, players, 0.5, 0.7),
        better_share(rng, players, 0.3, 0.6),
    )


def better_share(rng: np.random.Generator, players: int, first_rate: float, later_rate: float) -> float:
    """Share of players ever told "better" while somebody looks after every ball of the later sessions."""
    first = rng.binomial(FIRST, first_rate, size=players)[:, None]
    later = np.cumsum(rng.random((players, LATER)) < later_rate, axis=1, dtype=np.int64)
    n = np.arange(1, LATER + 1)
    evidence = _log_evidence(first, later, n)
    better = (evidence >= np.log(ENOUGH)) & (later / n > first / FIRST)
    return float(better.any(axis=1).mean())


def _log_evidence(
    first: NDArray[np.int64], later: NDArray[np.int64], n: NDArray[np.int64]
) -> NDArray[np.float64]:
    apart = betaln(first + 1, FIRST - first + 1) + betaln(later + 1, n - later + 1)
    return np.asarray(apart - betaln(first + later + 1, FIRST + n - first - later + 1))
