"""Candidates for the ball in each frame: their type, and the choice of few from many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_CANDIDATES = 8
APART_PX = 6.0  # two candidates nearer than this are the same
SURE_SCORE = 0.8  # from this score of the network on, it counts as the ball; chosen on the choosing family


@dataclass(frozen=True, eq=False)
class BallCandidates:
    """Candidates in n frames, the best first; NaN where there are fewer than `MOST_CANDIDATES`.

    Parameters
    ----------
    times_us : ndarray, shape (n,)
        Media time of the frames, microseconds.
    uv : ndarray, shape (n, 8, 2)
        Middle of the blur in the upright frame of the video, px.
    score : ndarray, shape (n, 8)
        0 to 1. No probability: scores of two methods are not comparable.
    searched : ndarray of bool, shape (n,)
        False where a frame has no neighbours to compare it with: at the ends, and where frames are missing.
    method : str
        "network" or "differencing".
    """

    times_us: Indices
    uv: Floats
    score: Floats
    searched: NDArray[np.bool_]
    method: str

    def __len__(self) -> int:
        return len(self.times_us)

    def part(self, rows: Indices) -> BallCandidates:
        """Return some of the frames."""
        return BallCandidates(
            self.times_us[rows], self.uv[rows], self.score[rows], self.searched[rows], self.method
        )


def best_candidates(uv: Floats, score: Floats, most: int = MOST_CANDIDATES) -> tuple[Floats, Floats]:
    """Return the best of the places of one frame, no two of them the same.

    Parameters
    ----------
    uv : ndarray, shape (n, 2)
    score : ndarray, shape (n,)
    most : int

    Returns
    -------
    uv : ndarray, shape (most, 2)
    score : ndarray, shape (most,)
        NaN where there are fewer.

    Examples
    --------
    >>> places = np.array([[5.0, 5.0], [6.0, 5.0], [40.0, 5.0]])
    >>> best_candidates(places, np.array([0.5, 0.9, 0.2]), 2)[0].tolist()
    [[6.0, 5.0], [40.0, 5.0]]
    """
    places, scores = np.full((most, 2), np.nan), np.full(most, np.nan)
    count = 0
    for k in np.argsort(-score, kind="stable").tolist():
        apart = np.hypot(*(places[:count] - uv[k]).T)
        if (apart < APART_PX).any():
            continue
        places[count], scores[count] = uv[k], score[k]
        count += 1
        if count == most:
            break
    return places, scores
