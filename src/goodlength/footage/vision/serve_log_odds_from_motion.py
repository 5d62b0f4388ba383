"""Log-odds that a strike is a serve, by how the motion changes about it.

Before a serve both players stand still, and right after it both run; before any other strike of a rally
both run already. Nothing of the court need be known, only how much moves beside the likely rallies.

```
 amount of motion, beside that of play ──> means before, at and after each strike ──> a serve?
```
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.footage.vision.motion_profile import EVERY_S, MotionProfile
from goodlength.footage.vision.span_motion_features_for_rally_detection import (
    SeenMotion,
    StruckSpan,
    motion_relative_to_play,
)

Numbers = NDArray[np.float64]

WINDOWS_S = ((-4.0, -1.5), (-1.5, -0.25), (-0.25, 0.3), (0.3, 1.4), (1.4, 3.0), (3.0, 5.0))
CALM_BEFORE_S, CALM_AFTER_S = 3.0, 4.0
NEAR_S = 1.0  # a strike without a picture so near has no odds
LOWEST, HIGHEST = -1.3, 0.8  # features are kept within these
# Of `stillness_features`: a first strike among all those of rallies (`scripts` fit_rally_span_movement)
WEIGHTS = (-2.082, -7.705, -1.373, 2.425, -0.728, -0.1, 1.316, 1.228)
OFFSET = -1.777
MOST = 3.0  # log-odds


def stillness_features(seen: SeenMotion, at_s: Numbers) -> Numbers:
    """Return means of the motion about moments, shape (n, 8): `WINDOWS_S`, the calmest before and after."""
    sums = np.concatenate([[0.0], np.cumsum(seen.level)])
    count = len(seen.level)
    out = []
    for low_s, high_s in WINDOWS_S:
        low = np.minimum(np.searchsorted(seen.at, at_s + low_s), count - 1)
        high = np.minimum(np.maximum(np.searchsorted(seen.at, at_s + high_s), low + 1), count)
        out.append((sums[high] - sums[low]) / (high - low))
    before, after = round(CALM_BEFORE_S / EVERY_S), round(CALM_AFTER_S / EVERY_S)
    place = np.clip(np.searchsorted(seen.at, at_s), 0, count - 1)
    out.append(ndimage.minimum_filter1d(seen.smooth, before, origin=(before - 1) // 2)[place])
    out.append(ndimage.minimum_filter1d(seen.smooth, after, origin=-(after // 2))[place])
    return np.asarray(np.clip(np.stack(out, axis=1), LOWEST, HIGHEST), np.float64)


def serve_odds(films: Sequence[MotionProfile], spans: Sequence[StruckSpan], at_s: Numbers) -> Numbers:
    """Return the log-odds that strikes at given moments are serves, 0 where nothing was seen, shape (n,).

    Parameters
    ----------
    films : sequence of MotionProfile
        In the moments' time; each moment counts by the first film that shows it.
    spans : sequence of StruckSpan
        All that the sound takes for rallies.
    at_s : ndarray, shape (n,)
        In seconds, in order.
    """
    odds, done = np.zeros(len(at_s)), np.zeros(len(at_s), bool)
    for film in films:
        seen = motion_relative_to_play(film, spans)
        if seen is None:
            continue
        near = np.searchsorted(seen.at, at_s - NEAR_S) < np.searchsorted(seen.at, at_s + NEAR_S)
        new = near & ~done
        odds[new] = np.clip(stillness_features(seen, at_s[new]) @ np.array(WEIGHTS) + OFFSET, -MOST, MOST)
        done |= new
    return odds
