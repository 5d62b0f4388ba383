"""Probability that a decoded span is one whole rally, from its features.

A sum of weighted features, fitted on families that the network in question had not learnt from: the choosing
family, and each learning family heard by a network taught without it. Most count
beside the median of all spans of the recording: in a hall it never heard the network's log-odds are off
together, but still tell one span from another. Names and shapes (gaps, what follows) count as they are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts

Numbers = NDArray[np.float64]
Span = tuple[float, float]

CAP = 6.0  # of log-odds
MOST_ODDS = 9.0  # of a span
FAR_S = 30.0
ROUND_S = 0.4
RACKET, WALL, HITTING = SURFACES.index("racket"), SURFACES.index("front wall"), STATES.index("hitting")
SHAPE = (
    "strikes", "time before", "time after", "unevenness", "one strike", "longest gap", "longest gap by usual",
    "two strikes", "many strikes", "walls a strike", "found generously", "mean wall", "least wall",
    "strikes unadapted", "span unadapted", "racket before", "racket after", "recording unadapted",
    "recording walls",
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
TYPICAL = ("first", "last", "mean strike", "mean state")  # how sure the network is in a whole recording
# What a recording's median is drawn towards, as if so many spans more had been found: of the choosing family
USUAL_SPANS = 3
USUAL: tuple[float, ...] = (
    3.337, 2.637, 4.146, 2.621, 3.516, 1.919, 0.041, 0.038, 0.035, 0.024, -0.481, 0.001, -2.741,
    0.959, 0.909, -4.52, -4.703, 0.885, 4.739, 5.039, -0.385,
)  # fmt: skip
WEIGHTS: tuple[float, ...] = (
    -0.029, 0.776, 0.401, 1.249, -0.466, -0.392, 0.469, -0.180, -0.313, -0.663, 0.393, 1.411,
    -0.232, -0.705, 0.675, -0.034, -0.017, 2.298, 0.029, 0.246, -5.441, -0.074, -0.111, 2.027,
    -0.039, 0.122, -0.588, -0.150, 0.081, -0.216, 0.127, 0.187, 0.183, 0.049, 0.123, 0.017, -1.359,
    -1.038, 0.030, 0.228, 0.284, 0.716, 0.016, 0.084, -1.223, 0.071, -0.005, 0.419, 0.079, 0.063,
    -0.052,
)  # fmt: skip
OFFSET = -3.360


UNHEARD_WALL = -0.5  # log-odds lost, of a span without two strikes
NEAR_S, NO_RACKET = 4.5, -4.0


@dataclass(frozen=True)
class SpanEvidence:
    """What else speaks for the spans of a recording.

    Parameters
    ----------
    generous : list of (float, float)
        What a more generous search found.
    walls : list of ndarray
        For each span, the log-odds lost between two strikes where no front wall is heard.
    unadapted_s : ndarray
        Strikes found before the names were adapted to the recording.
    unadapted : list of (float, float)
        The spans of those.
    """

    generous: list[Span]
    walls: list[Numbers]
    unadapted_s: Numbers
    unadapted: list[Span]


def share_of_spans(a: Span, b: Span) -> float:
    """Return the common part of two spans over what they cover together, 0.4 s round."""
    common = min(a[1], b[1]) - max(a[0], b[0]) + 2 * ROUND_S
    return max(0.0, common) / (max(a[1], b[1]) - min(a[0], b[0]) + 2 * ROUND_S)


def features_of(found: Impacts, state: Numbers, paths: list[list[int]], evidence: SpanEvidence) -> Numbers:
    """Return a row of `FEATURES` for each span.

    Parameters
    ----------
    found : Impacts
        Possible strikes.
    state : ndarray, shape (n,)
        Log-odds of a rally at each.
    paths : list of list of int
        The strikes of each span, as places in `found`.
    evidence : SpanEvidence
    """
    if not paths:
        return np.zeros((0, len(FEATURES)))
    rows = [
        {**_row(found, state, paths, k), **_other_searches(found, paths[k], evidence, evidence.walls[k])}
        for k in range(len(paths))
    ]
    for name, of in (("recording unadapted", "strikes unadapted"), ("recording walls", "mean wall")):
        mean = float(np.mean([row[of] for row in rows]))
        rows = [{**row, name: mean} for row in rows]
    plain = np.array([[row[name] for name in (*SHAPE, *NAMES)] for row in rows])
    own = np.array([[row[name] for name in RELATIVE] for row in rows])
    return np.concatenate([plain, own - medians(own)], axis=1)


def typical_odds(found: Impacts, state: Numbers, paths: list[list[int]]) -> Numbers:
    """Return the recording's medians of `TYPICAL`; parameters as in `features_of`."""
    rows = [{**_odds(found, state, path), **_names(found, path)} for path in paths]
    own = np.array([[row[name] for name in RELATIVE] for row in rows])
    return medians(own)[[RELATIVE.index(name) for name in TYPICAL]]


def medians(own: Numbers) -> Numbers:
    """Return the recording's medians of `RELATIVE` features, drawn towards usual ones where spans are few."""
    if not len(own):
        return np.array(USUAL)
    shrunk = len(own) * np.median(own, axis=0) + USUAL_SPANS * np.array(USUAL)
    return np.asarray(shrunk / (len(own) + USUAL_SPANS), np.float64)


def span_odds(features: Numbers) -> Numbers:
    """Return the log-odds of each row of features."""
    return np.asarray(np.clip(features @ np.array(WEIGHTS) + OFFSET, -MOST_ODDS, MOST_ODDS))


def _row(found: Impacts, state: Numbers, paths: list[list[int]], k: int) -> dict[str, float]:
    path, at = paths[k], found.time_s.astype(np.float64)
    span = float(at[path[0]]), float(at[path[-1]])
    before = span[0] - at[paths[k - 1][-1]] if k else FAR_S
    after = at[paths[k + 1][0]] - span[1] if k + 1 < len(paths) else FAR_S
    return {
        "time before": float(np.log(min(before, FAR_S))),
        "time after": float(np.log(min(after, FAR_S))),
        "racket before": _loudest_racket(found, span[0] - NEAR_S, span[0]),
        "racket after": _loudest_racket(found, span[1], span[1] + NEAR_S),
        **_odds(found, state, path),
        **_names(found, path),
        **_shape(found, path),
    }


def _loudest_racket(found: Impacts, begin_s: float, end_s: float) -> float:
    """Return the highest log-odds of a strike strictly between two moments."""
    inside = (found.time_s > begin_s + 1e-3) & (found.time_s < end_s - 1e-3)
    odds = found.strike[inside]
    return float(np.clip(odds.max(), NO_RACKET, CAP)) if len(odds) else NO_RACKET


def _other_searches(
    found: Impacts, path: list[int], evidence: SpanEvidence, walls: Numbers
) -> dict[str, float]:
    """Return how far other searches agree with a span, and how well its front walls are heard."""
    at = found.time_s[path].astype(np.float64)
    span, early = (float(at[0]), float(at[-1])), evidence.unadapted_s
    same = [bool(len(early)) and float(np.abs(early - t).min()) < 0.002 for t in at.tolist()]
    return {
        "found generously": max((share_of_spans(span, pair) for pair in evidence.generous), default=0.0),
        "span unadapted": max((share_of_spans(span, pair) for pair in evidence.unadapted), default=0.0),
        "strikes unadapted": float(np.mean(same)),
        "mean wall": float(walls.mean()) if len(walls) else UNHEARD_WALL,
        "least wall": float(walls.min()) if len(walls) else UNHEARD_WALL,
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
