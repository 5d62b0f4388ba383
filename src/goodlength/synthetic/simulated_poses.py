"""Simulated poses of two kinds of serve, with or without a known moment at which they part.

Movements are smooth noise over a swing alike for all serves; the kind bends one arm and the trunk a little
from the onset on. Matches have habits of their own, and the kinds are not served alike often in each.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


TIMES_S = np.round(np.arange(-0.8, 0.1001, 0.02), 3)


TRUNK_PX = 60.0


NOISE_PX, STYLE_PX, HABIT_PX = 2.5, 5.0, 3.0


ONSET_S, SHIFT_PX = -0.30, 12.0


BODY = np.array(
    [
        (0, -110),
        (-4, -114),
        (4, -114),
        (-8, -112),
        (8, -112),
        (-20, -90),
        (20, -90),
        (-28, -62),
        (30, -66),
        (-30, -40),
        (38, -52),
        (-12, -30),
        (12, -30),
        (-14, 0),
        (14, 0),
        (-15, 30),
        (15, 30),
    ],
    float,
)


ARM = (8, 10, 6)  # right elbow, wrist, shoulder


def serves(
    rng: np.random.Generator, count: int, onset_s: float | None
) -> tuple[Floats, NDArray[np.bool_], Ints, Ints, Floats]:
    """Return joints (2 count, T, 17, 2), labels, matches, boxes, places (2 count, 2) of simulated serves."""
    n = 2 * count
    labels = rng.permutation(np.arange(n) < count)
    match = np.sort(rng.integers(0, 4, n))
    box = rng.integers(0, 2, n)
    noise = gaussian_filter1d(rng.normal(size=(n, len(TIMES_S), 17, 2)), 2.0, axis=1) * NOISE_PX * 2.6
    style = gaussian_filter1d(rng.normal(size=(n, len(TIMES_S), 17, 2)), 12.0, axis=1) * STYLE_PX * 6.0
    habit = rng.normal(size=(4, 1, 17, 2))[match] * HABIT_PX
    swing = np.zeros((1, len(TIMES_S), 17, 2))
    swing[0, :, 10] = np.stack([30 * np.sin(6 * TIMES_S), -25 * np.cos(5 * TIMES_S)], axis=1)
    places = np.column_stack([1.0 + 4.4 * box + rng.normal(size=n) * 0.15, 6.0 + rng.normal(size=n) * 0.2])
    joints = BODY + swing + noise + style + habit
    if onset_s is not None:
        grown = np.clip((TIMES_S - onset_s) / 0.12, 0.0, 1.0)[None, :, None, None] * SHIFT_PX
        joints[:, :, ARM] += np.where(labels[:, None, None, None], grown, 0.0) * np.array([1.0, -0.6])
    joints += 300.0 + 40.0 * places[:, None, None, :]
    return joints * TRUNK_PX / 60.0, labels, match, box, places
