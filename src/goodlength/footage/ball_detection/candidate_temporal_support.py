"""Support of a candidate by its neighbours in time: a ball goes on, a shoe or a glint seldom does.

A straight path runs through two candidates of other frames. What else lies along it within 80 ms speaks for
it; the best path through a candidate is its support. Where a path passes and nothing was found, its place is
a candidate too: nobody saw the ball there, so it never counts as sure.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.footage.ball_detection.ball_candidate_selection import APART_PX, BallCandidates

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

# All chosen on the choosing family: docs/sources/ball-network.md
REACH_US = 80_000.0  # how far before and after a frame a path is followed
OFF_PX, OFF_SHARE = (
    4.0,
    0.12,
)  # how far off the path: px, and share of the way to the nearer of its two candidates
STEP_US, STEP_PX = 33_000.0, (1.0, 250.0)  # way of the ball in so long; what stands still is no ball in play
LEAST_ODDS = -2.0  # log-odds of a candidate from which it speaks for a path
SUPPORT_WEIGHT, SUPPORT_MIDDLE, MOST_SUPPORT = (
    0.5,
    3.8,
    16.0,
)  # log-odds a unit, where it counts nothing, and most
UNSEEN_ODDS, MOST_UNSEEN = -2.9, 1.0  # log-odds of a place at which only a path passes, and most of it
PLACES = 4  # of paths in a frame
LONGEST_GAP_US, LONGEST_STEP_PX = 150_000, 400.0  # from frame to frame, for places to be joined in a trail


def with_support(found: BallCandidates) -> BallCandidates:
    """Return the candidates with scores that count their support, and places of paths, the best first.

    Scores of `found` are those of single frames.
    """
    if not len(found):
        return found
    single = found.score.clip(1e-6, 1 - 1e-6)
    odds = np.log(single / (1 - single))
    support, places, strength = path_support(found.times_us.astype(np.float64), found.uv, odds)
    odds = odds + SUPPORT_WEIGHT * (np.minimum(support, MOST_SUPPORT) - SUPPORT_MIDDLE)
    passing = UNSEEN_ODDS + SUPPORT_WEIGHT * (np.minimum(strength, MOST_SUPPORT) - SUPPORT_MIDDLE)
    away = np.linalg.norm(places[:, :, None] - found.uv[:, None], axis=3)
    known = (np.nan_to_num(away, nan=np.inf) < APART_PX).any(axis=2)
    passing = np.where(known | ~found.searched[:, None], np.nan, np.minimum(passing, MOST_UNSEEN))
    uv, odds = np.concatenate([found.uv, places], axis=1), np.concatenate([odds, passing], axis=1)
    most = found.score.shape[1]
    order = np.argsort(np.where(np.isnan(odds), np.inf, -odds), axis=1, kind="stable")[:, :most]
    odds = np.take_along_axis(odds, order, axis=1)
    uv = np.where(np.isnan(odds)[:, :, None], np.nan, np.take_along_axis(uv, order[:, :, None], axis=1))
    return BallCandidates(found.times_us, uv, 1 / (1 + np.exp(-odds)), found.searched, found.method)


@njit(cache=True)
def path_support(times_us: Floats, uv: Floats, odds: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the support of each candidate (n, k), and places (n, 4, 2) of paths with their evidence (n, 4).

    `odds` fall along each row and are NaN where there is no candidate; so are places where no path passes.
    """
    frames, most = odds.shape
    support = np.zeros((frames, most))
    places, strength = np.full((frames, PLACES, 2), np.nan), np.full((frames, PLACES), np.nan)
    for at in range(frames):
        first, last = at, at
        while first > 0 and times_us[at] - times_us[first - 1] <= REACH_US:
            first -= 1
        while last < frames - 1 and times_us[last + 1] - times_us[at] <= REACH_US:
            last += 1
        for i in range(first, last + 1):
            for j in range(i + 1, last + 1):
                if at in (i, j):
                    continue
                for a in range(most):
                    for b in range(most):
                        if not odds[i, a] + odds[j, b] >= 2 * LEAST_ODDS:
                            break
                        gap = times_us[j] - times_us[i]
                        speed_u, speed_v = (
                            (uv[j, b, 0] - uv[i, a, 0]) / gap,
                            (uv[j, b, 1] - uv[i, a, 1]) / gap,
                        )
                        step = math.hypot(speed_u, speed_v) * STEP_US
                        if step < STEP_PX[0] or step > STEP_PX[1]:
                            continue
                        path = (uv[i, a, 0], uv[i, a, 1], speed_u, speed_v, times_us[i], times_us[j])
                        evidence = 0.0
                        for k in range(first, last + 1):
                            if k != at:
                                evidence += _evidence(path, times_us[k], uv[k], odds[k])
                        _count(path, times_us[at], evidence, uv[at], odds[at], support[at])
                        _remember(path, times_us[at], evidence, places[at], strength[at])
    return support, places, strength


@njit(cache=True)
def _where(path: tuple[float, float, float, float, float, float], us: float) -> tuple[float, float, float]:
    """Return where a path is at a time, and how far from there a candidate may lie."""
    u, v, speed_u, speed_v, begin, end = path
    far = min(abs(us - begin), abs(us - end))
    allowed = OFF_PX + OFF_SHARE * math.hypot(speed_u, speed_v) * far
    return u + speed_u * (us - begin), v + speed_v * (us - begin), allowed


@njit(cache=True)
def _evidence(
    path: tuple[float, float, float, float, float, float], us: float, uv: Floats, odds: Floats
) -> float:
    """Return what the candidates of a frame add to a path."""
    u, v, allowed = _where(path, us)
    best = 0.0
    for c in range(len(odds)):
        value = odds[c] - LEAST_ODDS
        if not value > best:
            break
        off = math.hypot(uv[c, 0] - u, uv[c, 1] - v)
        if off < allowed:
            best = max(best, value * math.exp(-0.5 * (off / allowed) ** 2))
    return best


@njit(cache=True)
def _count(
    path: tuple[float, float, float, float, float, float],
    us: float,
    evidence: float,
    uv: Floats,
    odds: Floats,
    support: Floats,
) -> None:
    """Raise the support of the candidates that lie on a path."""
    u, v, allowed = _where(path, us)
    for c in range(len(odds)):
        if np.isnan(odds[c]):
            break
        off = math.hypot(uv[c, 0] - u, uv[c, 1] - v)
        if off < allowed:
            support[c] = max(support[c], evidence * math.exp(-0.5 * (off / allowed) ** 2))


@njit(cache=True)
def _remember(
    path: tuple[float, float, float, float, float, float],
    us: float,
    evidence: float,
    places: Floats,
    strength: Floats,
) -> None:
    """Keep the place of a path among the best of its frame, no two of them the same."""
    u, v, _ = _where(path, us)
    weakest = 0
    for q in range(len(strength)):
        if np.isnan(strength[q]):
            weakest = q
            break
        if math.hypot(places[q, 0] - u, places[q, 1] - v) < APART_PX:
            weakest = q
            break
        if strength[q] < strength[weakest]:
            weakest = q
    if not strength[weakest] >= evidence:
        places[weakest, 0], places[weakest, 1], strength[weakest] = u, v, evidence
