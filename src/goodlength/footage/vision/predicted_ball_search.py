"""Search for the ball in frames where a predicted path says it should be: small, moving, darker or
lighter.

It is help between clicks, not a tracker: it looks only within a radius round the expected place, and gives
nothing where nothing stands out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.frame_presentation_time_table import FrameTable

NEAR = (1, 2, 3, 4)  # pictures before and after from which the still background is taken
LEAST_CONTRAST = 10.0  # levels of 255 by which the ball differs from what is behind it; ASSUMED
TIMES_NOISE = 6.0  # ... and at least so many times the usual difference there; ASSUMED
MOST_TIMES_SIZE = 6.0  # longer than so many of its own widths: a limb or a racket; ASSUMED
FAR_COST = 2.0  # what is this many radii away counts half


@dataclass(frozen=True)
class SearchWindow:
    """Where the ball is expected: the picture's moment, place, how far off it may be, its width, px."""

    us: int
    u: float
    v: float
    radius_px: float
    size_px: float


@dataclass(frozen=True)
class BallDetection:
    """The ball found in a picture: moment, middle of its blur, px, and how much it stands out, in noises."""

    us: int
    u: float
    v: float
    contrast: float


def search_ball(
    path: str | Path, wanted: Sequence[SearchWindow], *, table: FrameTable | None = None
) -> list[BallDetection]:
    """Look for the ball at each expected place.

    Parameters
    ----------
    wanted : sequence of Wanted
        In order of time, within a few seconds; moments are those of pictures.

    Raises
    ------
    FootageError
        As reading a film.

    Limits
    ------
    A still camera. Measured on rendered film only; see docs/reasons/measured-serve.md.
    """
    if not wanted:
        return []
    margin = 200_000
    first, last = wanted[0].us - margin, wanted[-1].us + margin
    frames = [(us, _grey(picture)) for us, picture in frames_in(path, max(0, first), last, table=table)]
    times = np.array([us for us, _ in frames])
    found = []
    for window in wanted:
        at = int(np.argmin(np.abs(times - window.us))) if len(times) else -1
        if at < 0 or abs(int(times[at]) - window.us) > 2_000:
            continue
        around = [frames[at + k][1] for n in NEAR for k in (-n, n) if 0 <= at + k < len(frames)]
        if len(around) >= 4 and (seen := _in_picture(frames[at][1], around, window)) is not None:
            found.append(seen)
    return found


def _grey(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), np.uint8)


def _in_picture(
    picture: NDArray[np.uint8], around: list[NDArray[np.uint8]], window: SearchWindow
) -> BallDetection | None:
    """Return the spot that stands out most for its distance from where the ball is expected."""
    high, wide = picture.shape
    reach = int(np.ceil(window.radius_px + 2.0 * window.size_px + 4.0))
    x0, x1 = max(0, int(window.u) - reach), min(wide, int(window.u) + reach + 1)
    y0, y1 = max(0, int(window.v) - reach), min(high, int(window.v) + reach + 1)
    if x1 - x0 < 8 or y1 - y0 < 8:
        return None
    now = picture[y0:y1, x0:x1].astype(np.float32)
    still = np.median(np.stack([each[y0:y1, x0:x1] for each in around]), axis=0).astype(np.float32)
    away = cv2.GaussianBlur(np.abs(now - still), (0, 0), max(0.6, 0.35 * window.size_px))
    noise = float(np.median(away)) + 0.5
    high_enough = away > max(LEAST_CONTRAST, TIMES_NOISE * noise) * 0.5
    count, labels, stats, _ = cv2.connectedComponentsWithStats(high_enough.astype(np.uint8), connectivity=8)
    best: tuple[float, BallDetection] | None = None
    for n in range(1, count):
        long = max(int(stats[n, cv2.CC_STAT_WIDTH]), int(stats[n, cv2.CC_STAT_HEIGHT]))
        inside = labels == n
        peak = float(away[inside].max())
        if peak < max(LEAST_CONTRAST, TIMES_NOISE * noise) or long > MOST_TIMES_SIZE * max(
            window.size_px, 3.0
        ):
            continue
        weight = np.where(inside, away, 0.0)
        ys, xs = np.mgrid[y0:y1, x0:x1]
        # a click counts from the picture's edge, so the middle of a pixel is half one further
        u = float((weight * xs).sum() / weight.sum()) + 0.5
        v = float((weight * ys).sum() / weight.sum()) + 0.5
        far = np.hypot(u - window.u, v - window.v) / max(window.radius_px, 1.0)
        if far > 1.0:
            continue
        score = peak / noise * 0.5 ** (FAR_COST * far)
        if best is None or score > best[0]:
            best = (score, BallDetection(window.us, u, v, peak / noise))
    return None if best is None else best[1]
