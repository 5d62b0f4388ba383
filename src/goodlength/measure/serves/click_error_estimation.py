"""Estimate the click error of a coach from the marks of a match's serves.

One serve has hardly more marks than its flight has unknowns, and tells next to nothing; what it tells is
kept as the logarithm of how likely its marks are under each of a few click errors, and added up over the
serves that one coach measured on one screen. Marks of one serve clicked a second time tell far more: the two
clicks differ by the click error alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark

# One standard error each way at 1080 lines, alike likely before any serve is measured: a still mark is
# clicked to 2 px, a ball is a streak of ten or more. ASSUMED
ASSUMED_CLICK_ERRORS_PX = (2.0, 2.8, 4.0, 5.6)
MOST_EVIDENCE = 2.0  # by one serve, in natural logarithms: a wrong mark must not speak for all others
OTHER_THING_PX = 25.0  # two clicks further apart than this, at 1080 lines, were not at the same thing

ClickEvidence = tuple[tuple[float, float], ...]  # click error, px at 1080 lines; log of the likelihood


def evidence_of(likelihoods: NDArray[np.float64]) -> ClickEvidence:
    """Return what one serve tells, from the logarithm of its likelihood under each click error.

    Examples
    --------
    >>> evidence_of(np.array([-1.0, -1.5, -3.0, -9.0]))
    ((2.0, 0.0), (2.8, -0.5), (4.0, -2.0), (5.6, -2.0))
    """
    relative = np.maximum(likelihoods - likelihoods.max(), -MOST_EVIDENCE)
    return tuple(
        (px, round(float(value), 4)) for px, value in zip(ASSUMED_CLICK_ERRORS_PX, relative, strict=True)
    )


def pooled_evidence(serves: Iterable[ClickEvidence]) -> NDArray[np.float64]:
    """Return what serves tell together, for each click error; of other click errors than these, nothing.

    Examples
    --------
    >>> one = ((2.0, 0.0), (2.8, -0.5), (4.0, -1.0), (5.6, -2.0))
    >>> pooled_evidence([one, one, ((3.0, 0.0),)]).tolist()
    [0.0, -1.0, -2.0, -4.0]
    """
    total = np.zeros(len(ASSUMED_CLICK_ERRORS_PX))
    for evidence in serves:
        if tuple(px for px, _ in evidence) == ASSUMED_CLICK_ERRORS_PX:
            total += [value for _, value in evidence]
    return total


def repeated_click_evidence(marks: Sequence[ServeMark], scale: float) -> ClickEvidence | None:
    """Return what marks clicked twice tell of the click error, None where none was clicked twice.

    Each difference of two clicks, across and down, is normal with twice the variance of one click. Feet are
    not the ball, and are left out; so is a second click so far off that it was at something else.

    Parameters
    ----------
    marks : sequence of ServeMark
        Those with `again` count.
    scale : float
        Lines of the picture by 1080.

    Examples
    --------
    >>> near = [ServeMark(MarkKind.FRONT, 1.0, 100.0, 50.0, again=(102.0, 49.0))]
    >>> [round(value, 1) for _, value in repeated_click_evidence(near, 1.0)]
    [0.0, -0.5, -1.2, -1.8]
    """
    differences = [
        (mark.again[k] - (mark.u, mark.v)[k]) / scale
        for mark in marks
        if mark.again is not None and mark.what is not MarkKind.FEET and not mark.about and not mark.found
        for k in range(2)
        if math.hypot(mark.again[0] - mark.u, mark.again[1] - mark.v) <= OTHER_THING_PX * scale
    ]
    if not differences:
        return None
    squares = sum(value**2 for value in differences)
    logs = [-squares / (4.0 * px**2) - len(differences) * math.log(px) for px in ASSUMED_CLICK_ERRORS_PX]
    return tuple(
        (px, round(value - max(logs), 4)) for px, value in zip(ASSUMED_CLICK_ERRORS_PX, logs, strict=True)
    )


def joined_evidence(first: ClickEvidence, second: ClickEvidence | None) -> ClickEvidence:
    """Return what two sources on the same click errors tell together.

    Examples
    --------
    >>> joined_evidence(((2.0, 0.0), (2.8, -1.0)), ((2.0, -3.0), (2.8, 0.0)))
    ((2.0, -2.0), (2.8, 0.0))
    """
    if second is None:
        return first
    both = [(px, value + other) for (px, value), (_, other) in zip(first, second, strict=True)]
    best = max(value for _, value in both)
    return tuple((px, round(value - best, 4)) for px, value in both)
