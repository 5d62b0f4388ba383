"""Spans with a steady view of the court: light on, camera still, nobody in front.

Places on the floor are only as good as that. Fixed points of the empty court are looked for in each picture:
where they all moved together the camera did, where many are gone something stands before it.

```
 pictures  o o o o o o x x o o o o o o       x  light off, or somebody in front
 camera    ──────────┐     ┌──────────       points lie elsewhere from here on: another part
 parts     [ first    ]     [ second  ]
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POINTS = 200
QUALITY, APART_PX = 0.002, 9.0
LEAST_POINTS = 8  # fewer cannot tell anything
NEAR_LEVEL, FAR_LEVEL = 0, 3  # how often the picture is halved: shifts of some 10 px, of some 80
ENOUGH_POINTS = 0.6  # share of the fixed points that agree, from which nothing is looked for further away
NEAR_PX = 2.0  # a fixed point so near to where the others say it is counts as found
# Chosen on invented films (bench.people), see docs/reasons/players.md
SHIFT_PX = 1.6  # of a picture 540 high: about 3 px of one 1080 high, some 5 to 15 cm on the floor
DARK = 0.62  # light beside that of the span's usual picture
DARKEST = 0.45  # and beside the empty court's: for a span that is dark for the most part
LOST_MORE = 0.22  # share of fixed points gone beyond those that are gone anyway
LEAST_FILLED = 0.08  # share of the picture that may differ from the empty court; more where players are large
PLAYERS_FILL = 2.2  # times the largest player
AROUND = 2  # pictures left out beside a bad one
SETTLED = 5  # pictures in a row that agree on another place of the camera
GAP_S = 1.0  # longer than this without a picture: who is who is not carried over

DARK_WORDS = "the light was off during it"
COVERED_WORDS = "something stood before the camera during it"
MOVED_WORDS = "the camera was moved during it"


@dataclass(frozen=True, eq=False)
class View:
    """How one picture sees the court.

    `light` beside the empty court, 1 for the same; `corners` (4, 2) how far the corners of the picture lie
    from those of the empty court's, px of a picture 540 high, NaN where it cannot be told; `lost` share of
    the fixed points not found; `filled` share of the picture that differs.
    """

    light: float
    corners: Floats
    lost: float
    filled: float


@dataclass(frozen=True)
class Steady:
    """The parts of a span in which the view holds, longest first, each the numbers of its pictures.

    `words` says what interrupts them, empty where nothing does; `places` is how many places the camera had.
    """

    parts: tuple[Ints, ...]
    words: str
    places: int


class Fixed:
    """The fixed points of an empty court, to be looked for in pictures of the same size."""

    def __init__(self, empty: Picture) -> None:
        self._grey = _grey(empty)
        high, wide = self._grey.shape
        self._unit = min(high, wide) / 540.0
        found = cv2.goodFeaturesToTrack(self._grey, POINTS, QUALITY, max(4.0, APART_PX * self._unit))
        self._points = np.empty((0, 1, 2), np.float32) if found is None else found
        self._corners = np.array([[0, 0], [wide, 0], [0, high], [wide, high]], dtype=float)
        self._empty = empty

    def view(self, picture: Picture, moving: Picture) -> View:
        """Return how a picture sees the court; `moving` is 1 where it differs from the empty court."""
        few, usual = picture[::8, ::8].astype(float), self._empty[::8, ::8].astype(float)
        light = float(np.median((few + 8.0) / (usual + 8.0)))
        corners, lost = self._moved(_grey(picture), light)
        return View(light, corners, lost, cv2.countNonZero(moving) / moving.size)

    def _moved(self, grey: Picture, light: float) -> tuple[Floats, float]:
        unknown = np.full((4, 2), np.nan)
        if len(self._points) < LEAST_POINTS:
            return unknown, 0.0
        levels = np.clip(np.arange(256.0) / max(light, 0.05), 0, 255).astype(np.uint8)
        evened = np.asarray(cv2.LUT(grey, levels), dtype=np.uint8)
        near = self._seen_from(evened, NEAR_LEVEL)
        # Most pictures are taken from where the empty court was: only the others are searched further away.
        far = near if near.found >= ENOUGH_POINTS * len(self._points) else self._seen_from(evened, FAR_LEVEL)
        best = near if near.found > far.found else far
        lost = 1.0 - best.found / len(self._points)
        if best.turn is None or best.found < LEAST_POINTS:
            return unknown, lost
        ends = self._corners @ best.turn[:, :2].T + best.turn[:, 2]
        return (ends - self._corners) / self._unit, lost

    def _seen_from(self, evened: Picture, level: int) -> _Seen:
        """Look for the fixed points with the picture halved so often."""
        after, good, _ = cv2.calcOpticalFlowPyrLK(
            self._grey, evened, self._points, self._points.copy(), winSize=(21, 21), maxLevel=level
        )
        here = good.ravel() > 0
        old, new = self._points[here, 0], after[here, 0]
        if len(old) < LEAST_POINTS:
            return _Seen(None, 0)
        turn, near = cv2.estimateAffinePartial2D(
            old, new, method=cv2.RANSAC, ransacReprojThreshold=NEAR_PX * self._unit, maxIters=300
        )
        return _Seen(None, 0) if turn is None else _Seen(turn, int(np.count_nonzero(near)))


@dataclass(frozen=True, eq=False)
class _Seen:
    """How the view lies against the empty court's, (2, 3), and how many fixed points agree with that."""

    turn: Floats | None
    found: int


def _grey(picture: Picture) -> Picture:
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), dtype=np.uint8)


def steady_parts(
    times_s: Floats, views: Sequence[View], largest: float = 0.0, shift_px: float = SHIFT_PX
) -> Steady:
    """Return the parts of a span in which light and camera hold and nobody stands in front.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
    views : sequence of View
        One a picture.
    largest : float
        Share of the picture that the largest player fills, standing nearest to the camera.
    shift_px : float
        Shift of the picture's corners from which on the camera stands elsewhere, px of a picture 540 high.
    """
    n = len(views)
    if n == 0:
        return Steady((), "", 0)
    light = np.array([view.light for view in views])
    dark = light < max(DARK * float(np.median(light)), DARKEST)
    lost = np.array([view.lost for view in views])
    usual = float(np.quantile(lost, 0.25))
    most = max(LEAST_FILLED, PLAYERS_FILL * largest)
    gone = ((lost > usual + LOST_MORE) | (np.array([view.filled for view in views]) > most)) & ~dark
    corners = _smoothed(np.array([view.corners for view in views]), dark | gone)
    place = _places(corners, dark | gone, shift_px)
    bad = dark | gone | (place < 0)
    left_out = np.convolve(bad, np.ones(2 * AROUND + 1), "same")[:n] > 0 if n > 2 * AROUND else bad
    parts: list[list[int]] = []
    for k in np.flatnonzero(~left_out).tolist():
        before = parts[-1][-1] if parts else None
        if before is None or place[k] != place[before] or times_s[k] - times_s[before] > GAP_S:
            parts.append([])
        parts[-1].append(k)
    places = len(set(place[place >= 0].tolist()))
    sentences = [
        words
        for words, holds in (
            (MOVED_WORDS, places > 1 or bool(((place < 0) & ~dark & ~gone).any())),
            (DARK_WORDS, bool(dark.any())),
            (COVERED_WORDS, bool(gone.any())),
        )
        if holds
    ]
    ordered = sorted((np.array(part, dtype=np.int64) for part in parts), key=len, reverse=True)
    return Steady(tuple(ordered), "; ".join(sentences), places)


def _smoothed(corners: Floats, skip: NDArray[np.bool_]) -> Floats:
    """Return the corners of each picture as the median with its neighbours has them: a knock stays sharp."""
    out = corners.copy()
    known = np.flatnonzero(~skip & np.isfinite(corners).all(axis=(1, 2)))
    for n, k in enumerate(known.tolist()):
        around = known[max(0, n - AROUND) : n + AROUND + 1]
        out[k] = np.median(corners[around], axis=0)
    return out


def _places(corners: Floats, skip: NDArray[np.bool_], shift_px: float) -> Ints:
    """Return which place of the camera each picture is taken from, numbered from 0; -1 while it is on
    its way.

    Where a single picture cannot tell, the place before holds.
    """
    known: list[Floats] = []
    place = np.full(len(corners), -1, dtype=np.int64)
    now = -1
    for k in range(len(corners)):
        if skip[k] or not np.isfinite(corners[k]).all():
            place[k] = now if not skip[k] else max(now, 0)
            continue
        near = [m for m, array in enumerate(known) if _corner_shift_px(corners[k], array) <= shift_px]
        if near:
            now = near[0]
            place[k] = now
            continue
        ahead = [j for j in range(k, len(corners)) if not skip[j]][:SETTLED]
        if len(ahead) == SETTLED or not known:
            together = np.median(corners[ahead], axis=0)
            if all(_corner_shift_px(corners[j], together) <= shift_px for j in ahead):
                known.append(together)
                now = len(known) - 1
                place[k] = now
    untold = ~np.isfinite(corners).all(axis=(1, 2)) & ~skip & (place < 0)
    place[untold] = 0
    return place


def _corner_shift_px(array: Floats, other: Floats) -> float:
    """Return how far two places of the camera put the corners of the picture apart, px; the farthest
    counts.
    """
    return float(np.hypot(*(array - other).T).max())
