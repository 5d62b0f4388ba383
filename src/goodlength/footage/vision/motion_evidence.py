"""What the moving players say about play: log-odds of a rally each tenth of a second, from a motion profile.

In a rally two players move fast and hardly stand still; between rallies they walk, stand and wait. How much
moves is taken beside the film's own usual amount, since it depends on the camera. The weights were fitted on
plain pictures of the learning worlds, how far the picture counts was chosen on those of the choosing worlds
(`scripts/fit_motion_evidence.py`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.footage.vision.motion_profile import MotionProfile

Numbers = NDArray[np.float64]

GRID_S = 0.1  # as `recognise_rallies` takes it
SHORT_S, LONG_S, STILL_S = 0.7, 3.0, 3.0
LEAST_S = 30.0  # of film below which its usual amount is not known
LEAST_SPREAD = 0.35  # in log amount between calm and busy: less says nothing
LARGEST = 3.0  # log-odds
# Of the features in `motion_features`; what they start from leaves out how rare play is in general
WEIGHTS = (0.725, 2.204, 2.61)
OFFSET = 0.0
FEATURES = ("amount", "amount around", "least around")
# How far the picture counts beside the sound: along the path over strikes, and in the chance of a span
PATH_WEIGHT, SPAN_WEIGHT = 0.25, 0.5


def motion_features(profile: MotionProfile, length_s: float) -> Numbers | None:
    """Return what is read from a profile each tenth of a second, shape (n, 3); None where it says nothing.

    Each is a log amount beside the film's median, over its spread: at the moment, around it, and the least
    around it.
    """
    grid = _grid(int(np.ceil(length_s / GRID_S)) + 1)
    if len(profile.time_s) < LEAST_S / 0.5 or length_s < LEAST_S:
        return None
    floor = 0.05 * float(np.quantile(profile.amount, 0.9)) + 1e-6
    log = np.log(np.interp(grid, profile.time_s, profile.amount) + floor)
    short = ndimage.gaussian_filter1d(log, SHORT_S / GRID_S)
    seen = covered(profile, grid)
    calm, usual, busy = np.quantile(short[seen], [0.1, 0.5, 0.9]) if seen.any() else (0.0, 0.0, 0.0)
    if busy - calm < LEAST_SPREAD:
        return None
    around = ndimage.gaussian_filter1d(log, LONG_S / GRID_S)
    least = ndimage.minimum_filter1d(short, round(STILL_S / GRID_S))
    return np.stack([short, around, least], axis=1) / (busy - calm) - usual / (busy - calm)


def motion_odds(profile: MotionProfile, length_s: float) -> Numbers | None:
    """Return the log-odds of a rally each tenth of a second, 0 where nothing was seen; None where it is of
    no use.

    Parameters
    ----------
    profile : MotionProfile
        Its times count from the same zero as the sound's.
    length_s : float
        Of what is to be covered.
    """
    features = motion_features(profile, length_s)
    if features is None:
        return None
    odds = np.clip(features @ np.array(WEIGHTS) + OFFSET, -LARGEST, LARGEST)
    return np.where(covered(profile, _grid(len(odds))), odds, 0.0)


def _grid(count: int) -> Numbers:
    return np.asarray(np.arange(count) * GRID_S, np.float64)


def covered(profile: MotionProfile, grid: Numbers) -> NDArray[np.bool_]:
    """Return at which moments a picture was measured within a second."""
    at = np.clip(np.searchsorted(profile.time_s, grid), 1, max(1, len(profile.time_s) - 1))
    near = np.minimum(np.abs(profile.time_s[at] - grid), np.abs(profile.time_s[at - 1] - grid))
    return np.asarray(near <= 1.0)


def odds_at(odds: Numbers, time_s: NDArray[np.floating]) -> Numbers:
    """Return log-odds given each tenth of a second at other moments."""
    return np.asarray(np.interp(time_s, _grid(len(odds)), odds))
