"""Chance that a rally is missing between two rallies of a sheet, from pauses, servers and the score.

The pauses of the match say how likely a longer one hides a rally; who stood in which box at the serves, and
the winners on the sheet, say where the score has no legal way without another point. Both go through the one
model of the match (`score_draft_from_servers`): each pause gives the expected number of rallies lost in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import RulesError
from goodlength.measure.score.score_draft_from_servers import CoachAnswer, DraftRefused, draft_scores
from goodlength.measure.score.score_lattice import Scores
from goodlength.measure.score.server_and_box_likelihoods import Observation
from goodlength.scoring import Format, Start

Numbers = NDArray[np.float64]

ASSUMED_MISSING = 0.01  # rallies missing in a pause of which nothing is known
ASSUMED_LEAST_SPREAD = 0.25  # of the logarithm of pauses: those of a match are never all alike
# Pauses that are long for another reason: a ball fetched, a towel, a broken string
ASSUMED_ODD_SHARE, ASSUMED_ODD_LENGTH, ASSUMED_ODD_SPREAD = 0.05, 3.0, 0.8
ASSUMED_LEAST_PAUSES = 8  # of a match, below which their usual length is not known
ASSUMED_MOST_RATIO = 30.0  # no pause says more than this by its length alone
SETTLED = 1e-4  # what is expected in a pause that a person has looked at


def missing_by_pause(pauses_s: Numbers, rally_s: float) -> Numbers:
    """Return how many rallies are expected to be missing in each pause, by its length beside the others.

    Parameters
    ----------
    pauses_s : ndarray, shape (n,)
        Seconds from the end of a rally to the start of the next; not a number where that is not known, or
        where a game ended.
    rally_s : float
        Usual length of a rally, s.

    Returns
    -------
    expected : ndarray, shape (n,)
        Rallies, 0 to 1.

    Limits
    ------
    Lengths are taken as log-normal about the match's median; the share of odd long pauses is assumed.

    Examples
    --------
    >>> usual = [9.0, 10, 11, 12, 10, 9, 13, 10, 11]
    >>> [round(float(share), 2) for share in missing_by_pause(np.array([*usual, 27.0]), 6.0)[-2:]]
    [0.0, 0.23]
    """
    expected = np.full(len(pauses_s), ASSUMED_MISSING)
    known = np.isfinite(pauses_s) & (pauses_s > 0)
    if known.sum() < ASSUMED_LEAST_PAUSES:
        return expected
    log = np.log(pauses_s[known])
    middle = float(np.median(log))
    spread = max(ASSUMED_LEAST_SPREAD, 1.4826 * float(np.median(np.abs(log - middle))))
    usual = (1 - ASSUMED_ODD_SHARE) * _density(log, middle, spread)
    odd = ASSUMED_ODD_SHARE * _density(log, middle + np.log(ASSUMED_ODD_LENGTH), ASSUMED_ODD_SPREAD)
    two = _density(log, float(np.log(2 * np.exp(middle) + rally_s)), spread)
    ratio = np.clip((two + odd) / (usual + odd), 1 / ASSUMED_MOST_RATIO, ASSUMED_MOST_RATIO)
    odds = ASSUMED_MISSING / (1 - ASSUMED_MISSING) * ratio
    expected[known] = odds / (1 + odds)
    return expected


def _density(log: Numbers, middle: float, spread: float) -> Numbers:
    return np.asarray(np.exp(-0.5 * ((log - middle) / spread) ** 2) / spread, np.float64)


def missing_chances(
    fmt: Format,
    start: Start,
    seen: Sequence[Observation],
    answers: Sequence[CoachAnswer],
    missing_after: float,
    *,
    is_over: bool,
) -> Numbers:
    """Return the chance that at least one rally is missing before each rally of a sheet, and after the last.

    Parameters
    ----------
    fmt, start : Format, Start
    seen : sequence of Observation
        Who stood where at each serve; `missed_before` is what the pause says.
    answers : sequence of CoachAnswer
        The winners on the sheet.
    missing_after : float
        Rallies expected after the last.
    is_over : bool
        Whether the match was played to its end in the video.

    Returns
    -------
    chance : ndarray, shape (n + 1,)
        By the pauses alone where no legal match goes through what is on the sheet, or the format is hand-out
        scoring.
    """
    alone: Numbers = 1 - np.exp(-np.array([*(each.missed_before for each in seen), missing_after]))
    if not seen:
        return alone
    observed = [replace(each, no_rally=None) for each in seen]
    try:
        draft = draft_scores(
            fmt,
            start,
            observed,
            Scores(over=True) if is_over else Scores(),
            answers,
            missed_after=missing_after,
        )
    except RulesError:
        return alone
    if isinstance(draft, DraftRefused):
        return alone
    return np.array(draft.missed)
