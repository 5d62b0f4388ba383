"""Support of a candidate by its neighbours in time: a ball goes on, a shoe or a glint seldom does.

A candidate is supported where candidates of two other frames lie in a line with it at the speed between them:
one before and one after, or two on one side (at a bounce only one side fits).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.footage.ball_detection.ball_candidates import BallCandidates

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

OFF_PX, OFF_SHARE = 6.0, 0.3  # how far off the line: px, and share of the step
STEP_PX = (1.0, 400.0)  # from frame to frame; what stands still is no ball in play
ONE_SIDED = 0.9  # what support from one side counts beside that from both
SUPPORT_WEIGHT, SUPPORT_MIDDLE = 2.0, 0.3  # log-odds for each unit of support, and where it counts nothing
LONGEST_GAP_US = 150_000
NEIGHBOURS = np.array([[-1, 1], [-2, -1], [1, 2]])


def with_support(found: BallCandidates) -> BallCandidates:
    """Return the candidates with scores that count their support, the best first.

    Scores of `found` are those of single frames. Weights were chosen on the choosing family.
    """
    if not len(found):
        return found
    support = supports(found.times_us.astype(np.float64), found.uv, np.nan_to_num(found.score))
    single = found.score.clip(1e-6, 1 - 1e-6)
    odds = np.log(single / (1 - single)) + SUPPORT_WEIGHT * (support - SUPPORT_MIDDLE)
    score = 1 / (1 + np.exp(-odds))
    order = np.argsort(np.where(np.isnan(score), np.inf, -score), axis=1, kind="stable")
    return BallCandidates(
        found.times_us,
        np.take_along_axis(found.uv, order[:, :, None], axis=1),
        np.take_along_axis(score, order, axis=1),
        found.searched,
        found.method,
    )


@njit(cache=True)
def supports(times_us: Floats, uv: Floats, score: Floats) -> Floats:
    """Return the support of each candidate, 0 to 1, shape (n, k); `score` is 0 where there is none."""
    frames, most = score.shape
    out = np.zeros((frames, most))
    for at in range(frames):
        for pair in range(3):
            i, j = at + NEIGHBOURS[pair, 0], at + NEIGHBOURS[pair, 1]
            if i < 0 or j >= frames:
                continue
            if max(times_us[at], times_us[j]) - min(times_us[at], times_us[i]) > 2 * LONGEST_GAP_US:
                continue
            share = (times_us[at] - times_us[i]) / (times_us[j] - times_us[i])
            count = abs(NEIGHBOURS[pair, 1] - NEIGHBOURS[pair, 0])
            weight = 1.0 if count == 2 else ONE_SIDED
            for a in range(most):
                for b in range(most):
                    least = weight * min(score[i, a], score[j, b])
                    if least <= 0.0:
                        continue
                    across, down = uv[j, b, 0] - uv[i, a, 0], uv[j, b, 1] - uv[i, a, 1]
                    step = (across**2 + down**2) ** 0.5 / count
                    if step < STEP_PX[0] or step > STEP_PX[1]:
                        continue
                    allowed = OFF_PX + OFF_SHARE * step
                    u, v = uv[i, a, 0] + share * across, uv[i, a, 1] + share * down
                    for c in range(most):
                        off = ((uv[at, c, 0] - u) ** 2 + (uv[at, c, 1] - v) ** 2) ** 0.5
                        if off < allowed:
                            value = least * np.exp(-0.5 * (off / allowed) ** 2)
                            out[at, c] = max(out[at, c], value)
    return out
