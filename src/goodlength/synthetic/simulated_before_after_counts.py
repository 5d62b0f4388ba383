"""Simulated seasons with good and bad days: counts of the five measures before and after a practice block."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from goodlength.findings.statistics.between_day_overdispersion import Counts

# Usual share, which way form moves it, and about how many rallies a match holds.
MEASURES = ((0.5, 1, 38), (0.5, 1, 38), (0.4, 1, 36), (0.4, -1, 36), (0.3, -1, 60))
APART = 0.05  # between one opponent and the next

Pairs = list[tuple[list[Counts], list[Counts]]]  # an opponent each: matches before, matches after


def season(
    rng: np.random.Generator, form: float, before: int, after: int, opponents: int, change: float = 0.0
) -> Iterator[tuple[Pairs, float]]:
    """Return the five measures of one season with the true change of each.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    form : float
        Standard deviation of a match's form; one form moves all five measures of a match.
    before, after, opponents : int
        Matches on each side of the block, and how many opponents they are against in turn.
    change : float
        What the player gains after the block, as a share.
    """
    forms = rng.normal(0.0, form, before + after)
    for usual, way, rallies in MEASURES:
        pairs: Pairs = [([], []) for _ in range(opponents)]
        for match, of_match in enumerate(forms):
            opponent, late = match % opponents, match >= before
            share = usual + APART * opponent + way * (of_match + (change if late else 0.0))
            of = int(rng.integers(rallies - 8, rallies + 8))
            pairs[opponent][late].append((int(rng.binomial(of, np.clip(share, 0.01, 0.99))), of))
        yield [pair for pair in pairs if pair[0] and pair[1]], way * change
