"""Coverage of 90% ranges of shares in which proposed answers may be wrong, before and after they are widened.

Made-up worlds: two kinds of serve, rallies won at some rate with each; all answers but a checked sample of
ten stand as proposed. A wrong winner swaps won and lost, a wrong kind puts a rally among the other kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from goodlength.files.json_types import Json
from goodlength.findings.statistics.misclassified_proportions import UncheckedCounts, unchecked_range
from goodlength.findings.statistics.proportion_intervals import jeffreys
from goodlength.measure.draft.proposal_error_rates import error_posterior

SEED = 20261130
LEVEL = 0.9
SAMPLE = 10
STATED = 0.03  # the error that the chances of the proposals state, whatever it is


@dataclass(frozen=True)
class UncheckedWorld:
    """How often winners and kinds are proposed wrongly, and rallies won with the other kind less often."""

    name: str
    wrong_winner: float
    wrong_kind: float
    gap: float = 0.0


WORLDS = (
    UncheckedWorld("none wrong", 0.0, 0.0),
    UncheckedWorld("3% wrong, as stated", 0.03, 0.03),
    UncheckedWorld("6% wrong", 0.06, 0.06),
    UncheckedWorld("10% wrong", 0.1, 0.1),
    UncheckedWorld("20% wrong", 0.2, 0.2),
    UncheckedWorld("6% wrong, kinds 40 points apart", 0.06, 0.06, 0.4),
    UncheckedWorld("20% wrong, kinds 40 points apart", 0.2, 0.2, 0.4),
)


def unchecked_coverage(matches: int = 1000, rallies: int = 40, seed: int = SEED) -> dict[str, Json]:
    """Return by world how often the ranges of a kind's share of rallies won hold the true one.

    Only matches count in which the sample of ten was all right: else nothing is taken unwatched.
    """
    rng = np.random.default_rng(seed)
    return {world.name: _coverage(rng, world, matches, rallies) for world in WORLDS}


def _coverage(rng: np.random.Generator, world: UncheckedWorld, matches: int, rallies: int) -> dict[str, Json]:
    inside = np.zeros((matches, 2), dtype=bool)
    widths = np.zeros((matches, 2))
    for n in range(matches):
        share, count, of = _match(rng, world, rallies)
        for at, (low, high) in enumerate(_ranges(count, of)):
            inside[n, at] = low <= share <= high
            widths[n, at] = high - low
    covered = inside.mean(axis=0)
    return {
        "n": matches,
        "before": round(float(covered[0]), 3),
        "after": round(float(covered[1]), 3),
        "standard_error": round(float(np.sqrt(covered * (1 - covered) / matches).max()), 3),
        "width_before": round(float(widths[:, 0].mean()), 3),
        "width_after": round(float(widths[:, 1].mean()), 3),
    }


def _match(rng: np.random.Generator, world: UncheckedWorld, rallies: int) -> tuple[float, int, int]:
    """Return the true share won with the first kind, and its counts as they stand, of one match."""
    while True:
        first = rng.uniform(0.3 + world.gap / 2, 0.7 + world.gap / 2)
        shares = np.array([first, first - world.gap])
        kind, won = _serves(rng, shares, rallies)
        seen = (rng.random(rallies) < world.wrong_kind) ^ kind
        called: NDArray[np.bool_] = (rng.random(rallies) < world.wrong_winner) ^ won
        sample_right = not ((called ^ won)[:SAMPLE].any())
        among = ~seen
        if sample_right and among.sum() >= 5:
            return float(first), int((called & among).sum()), int(among.sum())


def _serves(
    rng: np.random.Generator, shares: NDArray[np.float64], rallies: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    kind = rng.random(rallies) < 0.5
    return kind, rng.random(rallies) < shares[kind.astype(int)]


@lru_cache(maxsize=4096)
def _ranges(count: int, of: int) -> tuple[tuple[float, float], tuple[float, float]]:
    winner = error_posterior(STATED, 0, SAMPLE)
    kind = error_posterior(STATED, 0, 0)
    low, high = (float(end) for end in jeffreys(count, of, LEVEL))
    counts = UncheckedCounts(count, of - count, of, winner, kind)
    return (low, high), unchecked_range(count, of, counts, LEVEL)
