"""How exactly a coach clicks the ball, as far as the marks of a match's serves can tell.

One serve has hardly more marks than its flight has unknowns, and tells next to nothing; what it tells is
kept as the logarithm of how likely its marks are under each of a few click errors, and added up over the
serves that one coach measured on one screen.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

# One standard error each way at 1080 lines, alike likely before any serve is measured: a still mark is
# clicked to 2 px, a ball is a streak of ten or more. ASSUMED
ASSUMED_CLICK_ERRORS_PX = (2.0, 2.8, 4.0, 5.6)
MOST_TOLD = 2.0  # by one serve, in natural logarithms: a wrong mark must not speak for all others

ClickEvidence = tuple[tuple[float, float], ...]  # click error, px at 1080 lines; log of the likelihood


def evidence_of(likelihoods: NDArray[np.float64]) -> ClickEvidence:
    """Return what one serve tells, from the logarithm of its likelihood under each click error.

    Examples
    --------
    >>> evidence_of(np.array([-1.0, -1.5, -3.0, -9.0]))
    ((2.0, 0.0), (2.8, -0.5), (4.0, -2.0), (5.6, -2.0))
    """
    told = np.maximum(likelihoods - likelihoods.max(), -MOST_TOLD)
    return tuple(
        (px, round(float(value), 4)) for px, value in zip(ASSUMED_CLICK_ERRORS_PX, told, strict=True)
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
    for told in serves:
        if tuple(px for px, _ in told) == ASSUMED_CLICK_ERRORS_PX:
            total += [value for _, value in told]
    return total
