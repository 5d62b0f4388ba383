"""Detect rallies from the players' motion, less accurately, for videos without usable sound.

The picture is made small; how much it changes from moment to moment is smoothed and parted in calm and busy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.footage.audio.hit_and_rally_segmentation import otsu_threshold
from goodlength.footage.vision.motion_profile import EVERY_S, MotionProfile
from goodlength.media_time import MICROSECONDS

SMOOTH_S = 1.6
LEAST_RALLY_S, LEAST_PAUSE_S = 2.0, 1.5
LEAST_RATIO = 1.3


def rallies_in_profile(profile: MotionProfile) -> list[tuple[int, int]]:
    """Return the busy stretches of a film that was measured, as (start, end) in microseconds.

    Limits
    ------
    Tried on one rendered film only. A camera that moves, or people behind the glass, make it useless.
    """
    return busy_spans(profile.time_s, profile.amount)


def busy_spans(times: NDArray[np.float64], changes: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Return stretches of more change than usual; none when calm and busy do not differ."""
    if len(times) < 10:
        return []
    smooth = ndimage.gaussian_filter1d(np.sqrt(changes), SMOOTH_S / EVERY_S / 2)
    edge = otsu_threshold(smooth)
    busy = smooth > edge
    if not busy.any() or busy.all():
        return []
    if smooth[busy].mean() < LEAST_RATIO * smooth[~busy].mean():
        return []
    spans: list[list[float]] = []
    for i in np.flatnonzero(busy).tolist():
        at = float(times[i])
        if spans and at - spans[-1][1] < LEAST_PAUSE_S:
            spans[-1][1] = at
        else:
            spans.append([at, at])
    return [(round(a * MICROSECONDS), round(b * MICROSECONDS)) for a, b in spans if b - a >= LEAST_RALLY_S]
