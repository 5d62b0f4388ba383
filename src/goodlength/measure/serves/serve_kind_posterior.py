"""Posterior probability of each serve kind, from sampled flights that fit the marks.

Bounds between kinds are common practice, no source, put into numbers by us (ASSUMED); a coach's own kinds are
not known here. It proposes; nothing is recorded by it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.ball import fly_summaries
from goodlength.ball.model import flight_array_indices as at
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.measure.serves.serve_measurement import MeasuredServe

Floats = NDArray[np.float64]

ASSUMED_LOB_M = 3.55  # front wall from here up: a lob
ASSUMED_HARD_M = 2.75  # below this, and fast: hard
ASSUMED_HARD_M_S = 24.0
ASSUMED_OFF_SIDE_M = 0.9  # a body serve first bounces farther than this from the side wall
ASSUMED_AT_BACK_M = 0.6  # ... and for the nick nearer than this to the back wall
LEAST_SURE = 60  # of 100, before a kind is proposed


def kind_votes(found: MeasuredServe) -> dict[str, int]:
    """Return, of 100 flights that fit the marks, how many look like each kind; those that none does are
    left out.
    """
    flown = fly_summaries(found.launches, found.rows, np.arange(len(found.rows)), threads=1).rows
    speed = np.linalg.norm(found.launches[:, 3:6], axis=1)
    names = kind_sentence(flown, speed)
    kinds, counts = np.unique(names, return_counts=True)
    return {str(k): round(100 * int(n) / len(names)) for k, n in zip(kinds, counts, strict=True)}


def proposed_kind(of_100: dict[str, int]) -> str | None:
    """Return the kind that is likely enough to be proposed, or None.

    Examples
    --------
    >>> proposed_kind({"lob": 90, "mid-height": 10}), proposed_kind({"lob": 55, "mid-height": 45})
    ('lob', None)
    """
    if not of_100:
        return None
    best = max(of_100, key=lambda kind: of_100[kind])
    return best if of_100[best] >= LEAST_SURE else None


def kind_sentence(summaries: Floats, speed_m_s: Floats) -> NDArray[np.str_]:
    """Return the kind of each flight.

    Parameters
    ----------
    summaries : ndarray, shape (n, SUMMARY_COLUMNS)
        As `ball.fly_summaries` gives them.
    speed_m_s : ndarray, shape (n,)
        Off the racket.

    Returns
    -------
    ndarray of str, shape (n,)
        "lob", "mid-height", "hard", "body-feet" or "body-nick".
    """
    up = summaries[:, at.FRONT_Z]
    bounce_x, bounce_y = summaries[:, at.ONE_X], summaries[:, at.ONE_Y]
    side_first = summaries[:, at.SIDE_T] < summaries[:, at.ONE_T]
    back_first = summaries[:, at.BACK_T] < summaries[:, at.ONE_T]
    off_side = np.minimum(bounce_x, WIDTH_M - bounce_x) > ASSUMED_OFF_SIDE_M
    straight = ~side_first & (up < ASSUMED_LOB_M)
    nick = straight & (back_first | (bounce_y > LENGTH_M - ASSUMED_AT_BACK_M))
    body = straight & off_side
    hard = (up < ASSUMED_HARD_M) & (speed_m_s >= ASSUMED_HARD_M_S)
    found = np.where(up >= ASSUMED_LOB_M, "lob", np.where(hard, "hard", "mid-height"))
    return np.where(nick, "body-nick", np.where(body, "body-feet", found))
