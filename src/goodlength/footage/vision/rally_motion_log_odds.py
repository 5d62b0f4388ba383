"""Log-odds of a rally each tenth of a second, from the players' motion profile.

In a rally two players move fast and hardly stand still; between rallies they walk, stand and wait. How much
that is in numbers depends on the camera, and how much of a film is play on the match, so the measure is
learnt anew in each film: from the spans the sound takes for rallies, each by its chance, and the rest beside
them. Where the two do not differ as they do in play, the picture says nothing.

```
 amount of motion ──> score ──┬── in the spans of the sound: mean, spread ──┐
                              └── outside: mean ────────────────────────────┴─> log-odds at each moment
```

What makes up the score was fitted on plain pictures of the learning worlds; how far the picture counts was
chosen on those of the choosing worlds (`scripts/fit_rally_motion_log_odds.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.footage.vision.motion_profile import MotionProfile

Numbers = NDArray[np.float64]

GRID_S = 0.1
SHORT_S, LONG_S, STILL_S = 0.7, 3.0, 3.0
LEAST_S = 30.0  # of film below which its usual amount is not known
LEAST_SPREAD = 0.35  # in log amount between calm and busy: less says nothing
LEAST_SPAN_S = 8.0  # of play, each span by its chance, and of anything else
LARGEST = 3.0  # log-odds
# Of the features in `motion_features`
WEIGHTS = (0.772, 2.139, 2.414)
# How far the picture counts beside the sound: along the path over strikes, and in the chance of a span
PATH_WEIGHT, SPAN_WEIGHT = 0.25, 0.5


@dataclass(frozen=True)
class LikelySpan:
    """A span that the sound takes for a rally, with the chance that it is one."""

    start_s: float
    end_s: float
    chance: float


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


def motion_odds(profile: MotionProfile, length_s: float, spans: Sequence[LikelySpan]) -> Numbers | None:
    """Return the log-odds of a rally each tenth of a second, 0 where nothing was seen; None where it is of
    no use.

    Parameters
    ----------
    profile : MotionProfile
        Its times count from the same zero as the sound's.
    length_s : float
        Of what is to be covered.
    spans : sequence of LikelySpan
        What the sound takes for rallies.
    """
    features = motion_features(profile, length_s)
    if features is None:
        return None
    grid = _grid(len(features))
    seen = covered(profile, grid)
    play = np.zeros(len(grid))
    for span in spans:
        inside = (grid >= span.start_s) & (grid <= span.end_s)
        play[inside] = np.maximum(play[inside], span.chance)
    return _odds_by_spans(features @ np.array(WEIGHTS), play * seen, (1 - play) * seen)


def _odds_by_spans(score: Numbers, play: Numbers, rest: Numbers) -> Numbers | None:
    """Return log-odds of play by a score whose mean in play and outside is known by weights."""
    if min(play.sum(), rest.sum()) * GRID_S < LEAST_SPAN_S:
        return None
    inside, outside = float(np.average(score, weights=play)), float(np.average(score, weights=rest))
    apart = inside - outside
    if apart <= 0:
        return None
    spread = float(
        np.average((score - inside) ** 2, weights=play) + np.average((score - outside) ** 2, weights=rest)
    )
    odds = (score - (inside + outside) / 2) * apart / (spread / 2 + 1e-9)
    return np.where(play + rest > 0, np.clip(odds, -LARGEST, LARGEST), 0.0)


def odds_of_films(
    profiles: Sequence[MotionProfile], length_s: float, spans: Sequence[LikelySpan]
) -> Numbers | None:
    """Return the log-odds of several films on one time line, each measured by itself; None without any."""
    found = [odds for profile in profiles if (odds := motion_odds(profile, length_s, spans)) is not None]
    return np.sum(found, axis=0) if found else None


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
