"""The four evidence grades, and p-values adjusted over all questions asked.

The thresholds are a choice of this project (they come from no paper); `bench.findings.false_alarm_rate` shows
what they let through when nothing is different.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from goodlength.errors import OutOfRange
from goodlength.findings.result_types import Grade

CLEAR_Q, CLEAR_SIDE, CLEAR_DIRECTION = 0.05, 10, 0.975
LEANING_Q, LEANING_SIDE, LEANING_DIRECTION = 0.20, 5, 0.90
MATTERS = 0.05  # a smaller difference in a share is not worth acting on
SAME_SIGN = 0.75  # of the matches that show a gap, those that must show it the same way round to be Clear
MOST_MORE = 400  # tries of each sort, beyond which nothing is said of settling
MOST_LISTED = 12  # headline questions a match
# Of the chances of a false alarm, ten parts in eleven go to the list and one to all that is looked at
# beside it: together they keep what the levels above promise, over all questions of both players.
LISTED_FACTOR, OUTSIDE_FACTOR = 1.1, 11.0
# Questions that only places give are a family of their own, none of them on the list: never Clear from one
# match, and of chance alone one of them is Leaning in at most a sixth of `LEANING_Q`. `bench findings` shows
# what all questions of a match give together.
PLACES_FACTOR = 6.0


@dataclass(frozen=True)
class GradeEvidence:
    """What a grade is given for. `within` is the range of the difference, 90 in 100, if there is one.

    `checked_p` is the p of the same question asked within boxes: a gap that goes away there has another
    cause. `reliable` is false for a variable that failed its reliability check.
    """

    q: float | None
    smaller_side: int
    direction: float  # chance that the true difference has the sign seen, 0.5 to 1
    listed: bool
    within: tuple[float, float] | None = None
    checked_p: float = 0.0
    same_sign_share: float = 1.0  # of matches, for findings over several
    matches: int = 1
    reliable: bool = True


def grade(evidence: GradeEvidence) -> Grade:
    """Return the grade for this evidence; see `CLEAR_Q` and its neighbours for the thresholds.

    Examples
    --------
    >>> grade(GradeEvidence(q=0.03, smaller_side=12, direction=0.99, listed=True)).words
    'Clear'
    >>> grade(GradeEvidence(q=0.03, smaller_side=12, direction=0.99, listed=False)).words
    'Possible'
    """
    if not evidence.reliable:
        return Grade.TOO_FEW
    if evidence.within and evidence.within[0] > -MATTERS and evidence.within[1] < MATTERS:
        return Grade.NO_DIFFERENCE
    if evidence.q is None:
        return Grade.TOO_FEW
    agrees = evidence.matches == 1 or evidence.same_sign_share >= SAME_SIGN
    if (
        evidence.listed
        and agrees
        and evidence.q <= CLEAR_Q
        and evidence.smaller_side >= CLEAR_SIDE
        and evidence.direction >= CLEAR_DIRECTION
        and evidence.checked_p <= CLEAR_Q
    ):
        return Grade.CLEAR
    if (
        evidence.q <= LEANING_Q
        and evidence.smaller_side >= LEANING_SIDE
        and evidence.direction >= LEANING_DIRECTION
        and evidence.checked_p <= LEANING_Q
    ):
        return Grade.LEANING
    return Grade.TOO_FEW


def _p_values(p: ArrayLike) -> NDArray[np.float64]:
    values = np.asarray(p, dtype=float)
    bad = values[~((values >= 0) & (values <= 1))]
    if bad.size:
        raise OutOfRange(f"P must lie between 0 and 1; got {bad.flat[0]:g}. Leave out what was not asked.")
    return values


def holm(p: ArrayLike) -> NDArray[np.float64]:
    """Return Holm's adjusted p: below a level, at most that share of null lists show anything at all.

    Parameters
    ----------
    p : array_like, shape (n,)
        One p for each question asked, 0 to 1.

    Returns
    -------
    ndarray, shape (n,)
        In the order given.

    Source
    ------
    STATS-REF 2.5 (Holm 1979).

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).round(4).tolist()
    [0.03, 0.06, 0.06]
    """
    values = _p_values(p)
    order = np.argsort(values, kind="stable")
    factor = values.size - np.arange(values.size)
    raised = np.minimum(1.0, np.maximum.accumulate(values[order] * factor))
    out = np.empty_like(values)
    out[order] = raised
    return out


def tries_each(p1: float, p2: float, level: float = CLEAR_Q, power: float = 0.8) -> float:
    """Return tries of each sort that would show a difference this big, four times in five.

    Parameters
    ----------
    p1, p2 : float
        The two true shares; not equal.
    level : float
        Two-sided p asked for.
    power : float
        How often it should show.

    Returns
    -------
    float
        Tries of each; infinite where the shares are equal.

    Source
    ------
    STATS-REF 5.2: the normal formula without correction.

    Examples
    --------
    >>> round(tries_each(0.5, 0.7), 2)
    93.0
    """
    if p1 == p2:
        return math.inf
    middle = (p1 + p2) / 2
    z_level, z_power = float(ndtri(1 - level / 2)), float(ndtri(power))
    pooled = z_level * math.sqrt(2 * middle * (1 - middle))
    return ((pooled + z_power * math.sqrt(p1 * (1 - p1) + p2 * (1 - p2))) / (p1 - p2)) ** 2


def more_needed(
    wins_1: int, size_1: int, wins_2: int, size_2: int, asked: int, most: int = MOST_MORE
) -> int | None:
    """Return about how many more tries of each sort would settle it, if the gap is as wide as it looks.

    Shares are drawn in a little (one win and one loss added to each), because a gap just seen is more
    often too wide than too narrow. None where it would take more than `most`.

    Examples
    --------
    >>> more_needed(5, 9, 3, 10, asked=10)
    136
    """
    p1, p2 = (wins_1 + 1) / (size_1 + 2), (wins_2 + 1) / (size_2 + 2)
    each = max(float(CLEAR_SIDE), tries_each(p1, p2, CLEAR_Q / max(asked, 1)))
    if each > most:
        return None
    return max(1, math.ceil(each) - min(size_1, size_2))


def joint(p: Sequence[float], listed: Sequence[bool]) -> NDArray[np.float64]:
    """Return the adjusted p of every question of one match: the declared list by itself, the rest more
    strictly.

    Parameters
    ----------
    p : sequence of float, shape (n,)
        One p a question.
    listed : sequence of bool, shape (n,)
        Whether the question is on the declared list.

    Examples
    --------
    >>> joint([0.01, 0.02, 0.001], [True, True, False]).round(4).tolist()
    [0.022, 0.022, 0.011]
    """
    values, on = np.asarray(p, dtype=float), np.asarray(listed, dtype=bool)
    out = np.ones_like(values)
    if on.any():
        out[on] = np.minimum(1.0, LISTED_FACTOR * holm(values[on]))
    if (~on).any():
        out[~on] = np.minimum(1.0, OUTSIDE_FACTOR * holm(values[~on]))
    return out


def of_places(p: Sequence[float]) -> NDArray[np.float64]:
    """Return the adjusted p of the questions that places give, of both players of a match.

    Examples
    --------
    >>> of_places([0.001, 0.5]).round(3).tolist()
    [0.012, 1.0]
    """
    return np.minimum(1.0, PLACES_FACTOR * holm(p)) if len(p) else np.zeros(0)
