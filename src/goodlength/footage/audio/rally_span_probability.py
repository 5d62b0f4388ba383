"""Probability that a decoded span is one whole rally, from its features.

A sum of weighted features, fitted on families that the network in question had not learnt from: the choosing
family, and each learning family heard by a network taught without it. Most count
beside the median of all spans of the recording: in a hall it never heard the network's log-odds are off
together, but still tell one span from another. Names and shapes (gaps, what follows) count as they are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts

Numbers = NDArray[np.float64]
Span = tuple[float, float]

CAP = 6.0  # of log-odds
FAR_S = 30.0
ROUND_S = 0.4
RACKET, WALL, HITTING = SURFACES.index("racket"), SURFACES.index("front wall"), STATES.index("hitting")
SHAPE = (
    "strikes", "time before", "time after", "unevenness", "one strike", "longest gap", "longest gap by usual",
    "two strikes", "many strikes", "walls a strike", "found generously",
)  # fmt: skip
NAMES = (
    "level", "other court", "rackets left out", "racket by name", "clear names", "inner last", "inner first",
    "least racket", "mean racket odds", "spread of levels", "level of the serve",
)  # fmt: skip
ODDS = (
    "first", "last", "mean strike", "least strike", "mean state", "least state", "hitting",
    "hitting at the end", "hitting at the beginning", "first if alone",
)  # fmt: skip
RELATIVE = (*ODDS, *NAMES)
FEATURES = (*SHAPE, *NAMES, *(f"{name}, relative" for name in RELATIVE))
# What a recording's median is drawn towards, as if so many spans more had been found: of the choosing family
USUAL_SPANS = 3
USUAL: tuple[float, ...] = (
    3.337, 2.637, 4.146, 2.621, 3.516, 1.919, 0.041, 0.038, 0.035, 0.024, -0.481, 0.001, -2.741,
    0.959, 0.909, -4.52, -4.703, 0.885, 4.739, 5.039, -0.385,
)  # fmt: skip
WEIGHTS: tuple[float, ...] = (
    0.101, 0.498, 0.253, -0.035, -0.532, -0.318, 0.212, -0.313, 0.197, 0.674, 0.61, 0.443, -13.661,
    -0.029, 1.071, 0.429, -0.031, -0.056, 0.281, 0.175, 0.102, 0.017, 0.114, 0.205, 0.245, 0.04,
    0.188, -0.001, -0.885, -1.044, -0.458, 0.167, 0.199, 4.994, 0.124, -3.591, -1.69, 0.016, 0.031,
    -0.46, -0.08, -0.008, -0.281,
)  # fmt: skip
OFFSET = -3.140


def share_of_spans(a: Span, b: Span) -> float:
    """Return the common part of two spans over what they cover together, 0.4 s round."""
    common = min(a[1], b[1]) - max(a[0], b[0]) + 2 * ROUND_S
    return max(0.0, common) / (max(a[1], b[1]) - min(a[0], b[0]) + 2 * ROUND_S)


def features_of(found: Impacts, state: Numbers, paths: list[list[int]], generous: list[Span]) -> Numbers:
    """Return a row of `FEATURES` for each span.

    Parameters
    ----------
    found : Impacts
        Possible strikes.
    state : ndarray, shape (n,)
        Log-odds of a rally at each.
    paths : list of list of int
        The strikes of each span, as places in `found`.
    generous : list of (float, float)
        What a more generous search found.
    """
    if not paths:
        return np.zeros((0, len(FEATURES)))
    rows = [_row(found, state, paths, k, generous) for k in range(len(paths))]
    plain = np.array([[row[name] for name in (*SHAPE, *NAMES)] for row in rows])
    own = np.array([[row[name] for name in RELATIVE] for row in rows])
    return np.concatenate([plain, own - medians(own)], axis=1)


def medians(own: Numbers) -> Numbers:
    """Return the recording's medians of `RELATIVE` features, drawn towards usual ones where spans are few."""
    if not len(own):
        return np.array(USUAL)
    shrunk = len(own) * np.median(own, axis=0) + USUAL_SPANS * np.array(USUAL)
    return np.asarray(shrunk / (len(own) + USUAL_SPANS), np.float64)


def chances(features: Numbers) -> Numbers:
    """Return the chance of each row of features."""
    odds = np.clip(features @ np.array(WEIGHTS) + OFFSET, -9, 9)
    return np.asarray(1 / (1 + np.exp(-odds)))


def _row(
    found: Impacts, state: Numbers, paths: list[list[int]], k: int, generous: list[Span]
) -> dict[str, float]:
    path, at = paths[k], found.time_s.astype(np.float64)
    span = float(at[path[0]]), float(at[path[-1]])
    before = span[0] - at[paths[k - 1][-1]] if k else FAR_S
    after = at[paths[k + 1][0]] - span[1] if k + 1 < len(paths) else FAR_S
    return {
        "time before": float(np.log(min(before, FAR_S))),
        "time after": float(np.log(min(after, FAR_S))),
        "found generously": max((share_of_spans(span, pair) for pair in generous), default=0.0),
        **_odds(found, state, path),
        **_names(found, path),
        **_shape(found, path),
    }


def _odds(found: Impacts, state: Numbers, path: list[int]) -> dict[str, float]:
    """Return what the network says of rally, first, last strike and hitting."""
    own = found.strike[path].astype(np.float64)
    hitting, third = found.state[path, HITTING], max(1, len(path) // 3)
    first = float(np.clip(found.first[path[0]], -CAP, CAP))
    return {
        "first": first,
        "last": float(np.clip(found.last[path[-1]], -CAP, CAP)),
        "mean strike": float(np.clip(own, -CAP, CAP).mean()),
        "least strike": max(-CAP, float(own.min())),
        "mean state": float(np.clip(state[path[0] : path[-1] + 1], -CAP, CAP).mean()),
        "least state": max(-CAP, float(state[path].min())),
        "hitting": float(hitting.mean()),
        "hitting at the end": float(hitting[-third:].mean()),
        "hitting at the beginning": float(hitting[:third].mean()),
        "first if alone": first if len(path) == 1 else 0.0,
    }


def _names(found: Impacts, path: list[int]) -> dict[str, float]:
    """Return how clearly impacts are named, and how loud they are."""
    inside = slice(path[0], path[-1] + 1)
    left_out = sorted(set(range(path[0], path[-1] + 1)) - set(path))
    racket = np.clip(found.surface[path, RACKET].astype(np.float64), 1e-3, 1 - 1e-3)
    alone = len(path) == 1
    return {
        "level": float(found.level_db[path].mean()) / 10,
        "other court": float(found.surface[path, SURFACES.index("other court")].mean()),
        "rackets left out": max((float(found.strike[i]) for i in left_out), default=-4.0),
        "racket by name": float(racket.mean()),
        "clear names": float(found.surface[inside].max(axis=1).mean()),
        "inner last": -CAP if alone else float(np.clip(found.last[path[:-1]], -CAP, CAP).max()),
        "inner first": -CAP if alone else float(np.clip(found.first[path[1:]], -CAP, CAP).max()),
        "least racket": float(racket.min()),
        "mean racket odds": float(np.log(racket / (1 - racket)).mean()),
        "spread of levels": float(found.level_db[path].std()),
        "level of the serve": float(found.level_db[path[0]]) / 10,
    }


def _shape(found: Impacts, path: list[int]) -> dict[str, float]:
    """Return strikes and gaps."""
    gaps = np.diff(found.time_s[path].astype(np.float64)) if len(path) > 1 else np.array([1.3])
    inside = found.surface[path[0] : path[-1] + 1]
    return {
        "strikes": float(np.log(len(path))),
        "unevenness": float(np.log(gaps).std()) if len(path) > 2 else 0.0,
        "one strike": float(len(path) == 1),
        "longest gap": float(gaps.max()),
        "longest gap by usual": float(np.log(gaps.max() / np.median(gaps))),
        "two strikes": float(len(path) == 2),
        "many strikes": float(len(path) > 12),
        "walls a strike": min(2.0, float(inside[:, WALL].sum()) / len(path)),
    }
