"""Scatter of a player's serves: across and up on the front wall, and in speed.

From measured places where there are some (then with the fat tails of few balls), else a preset by level,
which is a guess and is called one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from goodlength.ball.model.input_validation import Floats, one_of, within

# One standard deviation each: across and up on the front wall in m, speed in m/s. Our own guesses: ASSUMED
LEVEL_WORDS = {"new": "beginner", "club": "club", "county": "advanced"}  # as commands and page say them
ASSUMED_BY_LEVEL = {"new": (0.40, 0.45, 1.6), "club": (0.22, 0.25, 1.0), "county": (0.13, 0.15, 0.7)}

ASSUMED_LEAST_LEFT = 0.2  # of a seen spread, however large the error of measuring is said to be


@dataclass(frozen=True)
class AimScatter:
    """One standard deviation across, up and in speed.

    `balls` is the number of measured balls the places come from, None for a preset; `speed_measured` is
    whether the speed comes from them too; `assumed` says in words where it comes from and what of it is a
    guess.
    """

    across_m: float
    up_m: float
    speed_m_s: float
    balls: int | None = None
    assumed: str = ""
    speed_measured: bool = False

    def __post_init__(self) -> None:
        within("scatter across the front wall", self.across_m, 0.005, 1.5, "m")
        within("scatter up the front wall", self.up_m, 0.005, 1.5, "m")
        within("scatter of the speed", self.speed_m_s, 0.0, 8.0, "m/s")
        if self.balls is not None:
            within("number of balls the scatter comes from", self.balls, 4, 1e6, "")

    @classmethod
    def of_level(cls, level: str) -> AimScatter:
        """Return the preset of a level.

        Examples
        --------
        >>> AimScatter.of_level("club").up_m
        0.25
        """
        one_of("level", level, list(ASSUMED_BY_LEVEL))
        across, up, speed = ASSUMED_BY_LEVEL[level]
        words = f"scatter by level ({LEVEL_WORDS[level]}), a guess until serves are measured"
        return cls(across, up, speed, None, words)

    def times(self, factor: float) -> AimScatter:
        """Return the same, wider or tighter by a factor."""
        return replace(
            self, across_m=self.across_m * factor, up_m=self.up_m * factor, speed_m_s=self.speed_m_s * factor
        )

    def misses(self, count: int, rng: np.random.Generator) -> Floats:
        """Return misses (across, up, speed), shape (count, 3), spread evenly over their distribution.

        From measured balls the places (and a measured speed) follow the next-ball distribution (t with
        n - 2 degrees of freedom, widened for the unknown middle): source STAT-NOTE 5.5. A preset follows the
        normal curve.
        """
        from scipy.special import gammaincinv, ndtri

        even = evenly(count, 4, rng)
        offsets = ndtri(even[:, :3]) * np.array([self.across_m, self.up_m, self.speed_m_s])
        if self.balls is not None:
            n = self.balls
            freedom = n - 2
            chi2 = 2.0 * gammaincinv(freedom / 2.0, even[:, 3])
            measured = 3 if self.speed_measured else 2
            offsets[:, :measured] *= np.sqrt((n + 1) * (n - 1) / (n * freedom) / (chi2 / freedom))[:, None]
        found: Floats = offsets
        return found


def spread_of(groups: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float, int]:
    """Return one standard deviation across and up, pooled over groups that each have a middle of their own.

    Parameters
    ----------
    groups : sequence of sequences of (across, up)
        Places in metres; a group of one says nothing of the spread and is left out.

    Returns
    -------
    tuple of (float, float, int)
        Across, up, and the balls of a single group that would say as much: one more than the degrees of
        freedom. Each middle worked out costs one ball; without that, small sets look too tight.

    Examples
    --------
    >>> spread_of([[(0.0, 0.0), (0.2, 0.4)], [(1.0, 1.0), (1.2, 1.4)]])[2]
    3
    """
    squares, freedom = np.zeros(2), 0
    for group in groups:
        if len(group) >= 2:
            places = np.asarray(group, dtype=float)
            squares += ((places - places.mean(axis=0)) ** 2).sum(axis=0)
            freedom += len(places) - 1
    across, up = np.sqrt(squares / max(freedom, 1))
    return float(across), float(up), freedom + 1


def true_spread(
    groups: Sequence[Sequence[tuple[float, float, float]]],
    errors: Sequence[Sequence[tuple[float, float, float]]],
) -> tuple[tuple[float, float, float], int]:
    """Return one standard deviation across, up and in speed, pooled over groups, less the error of measuring.

    Parameters
    ----------
    groups : sequence of sequences of (across, up, speed)
        Metres and m/s; a group of one says nothing of the spread and is left out.
    errors : the same shape
        One standard deviation each of how far a measurement may be off.

    Returns
    -------
    tuple of ((float, float, float), int)
        The spreads, and the balls of a single group that would say as much.

    Limits
    ------
    The error's square is taken off; what is left is held at a fifth of the seen spread or more, since the
    error itself is only known roughly. ASSUMED.

    Examples
    --------
    >>> true_spread([[(0.0, 0.0, 20.0), (0.2, 0.4, 22.0)]], [[(0.0, 0.0, 0.0), (0.0, 0.0, 0.0)]])[1]
    2
    """
    squares, taken, freedom, count = np.zeros(3), np.zeros(3), 0, 0
    for group, off in zip(groups, errors, strict=True):
        if len(group) >= 2:
            places = np.asarray(group, dtype=float)
            squares += ((places - places.mean(axis=0)) ** 2).sum(axis=0)
            taken += (np.asarray(off, dtype=float) ** 2).sum(axis=0)
            freedom += len(places) - 1
            count += len(places)
    seen = squares / max(freedom, 1)
    left = np.maximum(seen - taken / max(count, 1), (ASSUMED_LEAST_LEFT**2) * seen)
    across, up, speed = np.sqrt(left)
    return (float(across), float(up), float(speed)), freedom + 1


def evenly(count: int, ways: int, rng: np.random.Generator) -> Floats:
    """Return points that fill the unit cube evenly, shape (count, ways), 0 < u < 1, moved as a whole by
    chance.

    Multiples of powers of the root of x^(ways+1) = x + 1, without the whole part: any first few are even.
    """
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (ways + 1))
    steps = root ** -np.arange(1.0, ways + 1.0)
    places = (rng.random(ways) + np.arange(1, count + 1)[:, None] * steps) % 1.0
    found: Floats = np.clip(places, 1e-9, 1.0 - 1e-9)
    return found
