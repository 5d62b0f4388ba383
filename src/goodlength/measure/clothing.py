"""Two players told apart by their clothes: learnt from all rallies of a match, then asked of each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.following import Clothing, Paths

Floats = NDArray[np.float64]

LEAST_SPREAD = 6.0  # of 255: light over the court differs by about so much
ALIKE = 4.0  # spreads apart under which clothes do not tell two players from each other
SURE = 3.0  # log odds from which a rally's players count as told apart


def clothing_of(rallies: Sequence[Paths]) -> Clothing | None:
    """The clothes of both players, learnt from paths whose players are in no order.

    Each rally has one of each; which is which is guessed, the colours worked out, and guessed again.

    Returns
    -------
    Clothing or None
        None where no rally shows the clothes of both.

    Examples
    --------
    >>> clothing_of([]) is None
    True
    """
    usable = [one for one in rallies if np.isfinite(one.colours).all()]
    if not usable:
        return None
    pairs = np.array([one.colours for one in usable])
    varied = np.maximum(LEAST_SPREAD, np.median([one.varied for one in usable], axis=0))
    best: tuple[float, Floats] | None = None
    # Begun from the rallies in which the two differ most; the best end is taken.
    apart = np.linalg.norm((pairs[:, 0] - pairs[:, 1]) / varied, axis=1)
    for start in np.argsort(-apart)[:5]:
        middle = pairs[start]
        for _ in range(20):
            turned = ordered(pairs, middle, varied)
            fresh = np.median(turned, axis=0)
            if np.allclose(fresh, middle):
                break
            middle = fresh
        cost = float(np.abs((ordered(pairs, middle, varied) - middle) / varied).sum())
        if best is None or cost < best[0]:
            best = (cost, middle)
    assert best is not None
    return Clothing(best[1], varied)


def ordered(pairs: Floats, middle: Floats, spread: Floats) -> Floats:
    """Pairs of colours (n, 2, 12), each the way round that fits the two middles better."""
    straight = (((pairs - middle) / spread) ** 2).sum(axis=(1, 2))
    crossed = (((pairs[:, ::-1] - middle) / spread) ** 2).sum(axis=(1, 2))
    return np.where((crossed < straight)[:, None, None], pairs[:, ::-1], pairs)


def told_apart(paths: Paths, clothing: Clothing) -> float:
    """Log odds that path 0 is player 0, by the clothes: positive for yes, 0 for no telling.

    Limits
    ------
    Of a path that mixes both players it says only which of them there is more of.
    """
    known = np.isfinite(paths.colours).all(axis=0)
    if not known.any() or clothing.apart < ALIKE:
        return 0.0
    colours, middle, spread = paths.colours[:, known], clothing.middle[:, known], clothing.spread[known]
    straight = (((colours - middle) / spread) ** 2).sum()
    crossed = (((colours[::-1] - middle) / spread) ** 2).sum()
    return float(np.clip((crossed - straight) / 2.0, -20.0, 20.0))
