"""How the players move about a span moves the chance that the sound gives it.

By how much moves within it (`rally_motion_log_odds`), and by where and when it moves beside the recording's
other spans (`span_motion_features_for_rally_detection`). Weights were fitted on ways of playing heard by a
network that had not learnt from them, drawn with ways of moving of their own
(docs/sources/hearing-network.md, `scripts/fit_rally_span_movement.py`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.vision.motion_profile import MotionProfile
from goodlength.footage.vision.rally_motion_log_odds import GRID_S, SPAN_WEIGHT, odds_at
from goodlength.footage.vision.span_motion_features_for_rally_detection import FEATURES as PATTERNS
from goodlength.footage.vision.span_motion_features_for_rally_detection import StruckSpan, pattern_features

Numbers = NDArray[np.float64]

LAST_S = 2.5
FEATURES = (*PATTERNS, "moves to the end")
# Features are kept within these, two and a half spreads about their mean in what the weights were fitted on
LOWEST = (-0.262, -0.802, -0.792, -1.327, -1.242, -3.533)
HIGHEST = (0.299, 0.852, 0.968, 0.154, 0.594, 4.009)
WEIGHTS = (1.422, 1.008, 0.943, -1.036, -0.853, 0.095)
OFFSET = -1.026


def movement_odds(films: Sequence[MotionProfile], spans: Sequence[StruckSpan], how_much: Numbers) -> Numbers:
    """Return the log-odds of each span by sound and picture, shape (n,).

    Where no film shows enough of a span, how much moves in it counts alone.

    Parameters
    ----------
    films : sequence of MotionProfile
        In the spans' time; a span counts by the first film that shows it.
    spans : sequence of StruckSpan
        All of the recording, in order of time.
    how_much : ndarray
        Log-odds of play each tenth of a second, by how much moves.
    """
    chance = np.array([span.chance for span in spans], np.float64)
    inside = np.array([_mean(how_much, span.start_s, span.end_s + GRID_S) for span in spans])
    rows = movement_features(films, spans, how_much)
    more = np.clip(rows, LOWEST, HIGHEST) @ np.array(WEIGHTS) + OFFSET
    return np.log(chance / (1 - chance)) + SPAN_WEIGHT * inside + np.where(np.isfinite(more), more, 0.0)


def movement_features(
    films: Sequence[MotionProfile], spans: Sequence[StruckSpan], how_much: Numbers
) -> Numbers:
    """Return a row of `FEATURES` for each span; not a number where no film shows it.

    Parameters as in `movement_odds`.
    """
    rows = np.full((len(spans), len(FEATURES)), np.nan)
    for film in films:
        found = pattern_features(film, spans)
        if found is not None:
            new = np.isnan(rows[:, 0]) & np.isfinite(found).all(axis=1)
            rows[new, :-1] = found[new]
    rows[:, -1] = [_mean(how_much, max(s.start_s, s.end_s - LAST_S), s.end_s + GRID_S) for s in spans]
    return rows


def _mean(odds: Numbers, low_s: float, high_s: float) -> float:
    return float(odds_at(odds, np.arange(low_s, high_s, GRID_S)).mean())
