"""Occupancy of the floor: upright person-sized boxes scored over a grid of the whole court.

For each place of a grid on the floor the solved camera says which part of the picture a person standing
there fills: trunk and head densely, the legs thinly. How likely what moves is with somebody there, against
nobody (a log of odds), says how well that place explains the picture.

```
 moving pixels ──> score of each place ──> best places, to be looked at more closely
```
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.vision.person_detection import shared

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int32]
Box = NDArray[np.int64]

PLACES = 6  # candidates kept of each picture
GRID_M = 0.12
OUTSIDE_M = 0.25  # so far outside the court a place is still tried
# A person as two boxes over each other: legs, trunk with head. ASSUMED heights and widths of a grown-up or
# tall junior; the shares filled are about those of drawn figures and cut-out walkers.
ASSUMED_TALL_M = 1.68
PARTS = ((0.0, 0.80, 0.70, 0.33), (0.80, 1.68, 0.48, 0.70))  # from m, to m, width m, share filled
STRAY = 0.02  # share of pixels that move where nobody is
SAME = 0.55  # candidates whose boxes share more than this are one
LEAST_SCORE = 0.25  # of what a whole person would score
BANDS = ((0.0, 0.12), (0.18, 0.42), (0.46, 0.62), (0.70, 0.92))  # of the height: hair, shirt, shorts, legs
COLOURS = 3 * len(BANDS)  # lightness and two colours each


class FloorGrid:
    """The grid of places on the floor as one camera sees it in pictures of one size."""

    def __init__(self, lens: CameraModel, wide: int, high: int) -> None:
        self.wide, self.high = wide, high
        self.to_small = np.array([wide / lens.width, high / lens.height])
        xs = np.arange(-OUTSIDE_M, WIDTH_M + OUTSIDE_M + 1e-9, GRID_M)
        ys = np.arange(0.0, LENGTH_M + OUTSIDE_M + 1e-9, GRID_M)
        x, y = (a.ravel() for a in np.meshgrid(xs, ys))
        foot, seen = lens.project(np.column_stack([x, y, np.zeros_like(x)]))
        top, above = lens.project(np.column_stack([x, y, np.full_like(x, ASSUMED_TALL_M)]))
        tall = np.linalg.norm((foot - top) * self.to_small, axis=1)
        # In the picture, and large enough to be told from noise.
        foot, top = foot * self.to_small, top * self.to_small
        with np.errstate(invalid="ignore"):
            good = seen & above & (tall > 12.0) & (foot[:, 0] > 0) & (foot[:, 0] < wide)
            good &= (top[:, 1] < high * 0.97) & (foot[:, 1] > 0)
        self.xy = np.column_stack([x, y])[good]
        self.foot, self.tall = foot[good], tall[good]
        foot, top = foot[good], top[good]
        size = (wide, high, wide, high)
        self.parts: list[Box] = []
        self.expected = np.zeros(len(self.xy))
        shown, area = np.zeros(len(self.xy)), np.zeros(len(self.xy))
        for low, tip, width, filled in PARTS:
            lower = foot + (top - foot) * (low / ASSUMED_TALL_M)
            upper = foot + (top - foot) * (tip / ASSUMED_TALL_M)
            half = self.tall * (width / ASSUMED_TALL_M / 2.0)
            middle = (lower[:, 0] + upper[:, 0]) / 2.0
            box = np.column_stack([middle - half, upper[:, 1], middle + half, lower[:, 1]])
            cut = np.clip(np.round(box), 0, size).astype(np.int64)
            inside = (cut[:, 2] - cut[:, 0]) * (cut[:, 3] - cut[:, 1])
            gain, cost = _odds(filled)
            self.expected += inside * (filled * gain + (1.0 - filled) * cost)
            self.parts.append(cut)
            shown += inside
            area += (box[:, 2] - box[:, 0]) * (box[:, 3] - box[:, 1])
        keep = shown > 0.4 * area  # less than that in the picture: cannot be told
        self.parts = [cut[keep] for cut in self.parts]
        self.xy, self.foot, self.tall = self.xy[keep], self.foot[keep], self.tall[keep]
        self.expected = self.expected[keep]
        legs, trunk = self.parts
        self.body = np.column_stack([trunk[:, 0], trunk[:, 1], trunk[:, 2], legs[:, 3]])

    @property
    def largest(self) -> float:
        """Share of the picture that somebody fills where he stands nearest to the camera."""
        if not len(self.body):
            return 0.0
        x0, y0, x1, y1 = self.body.T
        return float(((x1 - x0) * (y1 - y0)).max()) / (self.wide * self.high)

    def places(self, mask: Picture) -> list[int]:
        """Return numbers of grid places: best of all, best of what that leaves over, and other peaks."""
        chosen: list[int] = []
        left, free = mask.copy(), np.ones_like(mask)
        whole = self._all(_summed(left), _summed(free))
        for _ in range(3):
            scores = self._all(_summed(left), _summed(free)) if chosen else whole
            best = int(np.argmax(scores))
            if scores[best] < LEAST_SCORE * self.expected[best]:
                break
            if self._far(best, chosen):
                chosen.append(best)
            for part in self.parts:
                x0, y0, x1, y1 = part[best]
                left[y0:y1, x0:x1] = 0
                free[y0:y1, x0:x1] = 0
        for n in np.argsort(-whole)[:600].tolist():
            if len(chosen) >= PLACES or whole[n] < LEAST_SCORE * self.expected[n]:
                break
            if self._far(n, chosen):
                chosen.append(n)
        return chosen[:PLACES]

    def filled(self, mask: Picture, xy: Floats) -> Floats:
        """Return how much of a whole person moves at places of the floor, about 0 to 1, shape (n,).

        Places are taken to the nearest of the grid.
        """
        if not len(self.xy) or not len(xy):
            return np.zeros(len(xy))
        nearest = np.argmin(((xy[:, None] - self.xy[None]) ** 2).sum(axis=2), axis=1)
        scores = self._all(_summed(mask), _summed(np.ones_like(mask)))
        return np.asarray(scores[nearest] / self.expected[nearest], dtype=float)

    def _far(self, n: int, chosen: list[int]) -> bool:
        if not chosen:
            return True
        body = self.body.astype(float)
        return bool((shared(body[n], body[chosen]) < SAME).all())

    def _all(self, pixels: Ints, free: Ints) -> Floats:
        """Log odds of somebody at each place of the grid; pixels that are not free say nothing."""
        total = np.zeros(len(self.xy))
        for (_, _, _, filled), part in zip(PARTS, self.parts, strict=True):
            gain, cost = _odds(filled)
            moving = _sums(pixels, part)
            total += gain * moving + cost * (_sums(free, part) - moving)
        return total


def _summed(mask: Picture) -> Ints:
    """Sums from the top left corner on, one row and column more."""
    return np.asarray(cv2.integral(mask), dtype=np.int32)


def _odds(filled: float) -> tuple[float, float]:
    """Log odds for somebody, against nobody, of a pixel that moves and of one that does not."""
    return math.log(filled / STRAY), math.log((1.0 - filled) / (1.0 - STRAY))


def _sums(integral: Ints, boxes: Box) -> Box:
    """Sums over boxes (n, 4) of left, top, right, bottom."""
    x0, y0, x1, y1 = boxes.T
    return np.asarray(
        integral[y1, x1] - integral[y0, x1] - integral[y1, x0] + integral[y0, x0], dtype=np.int64
    )


def clothes_at(picture: Picture, mask: Picture, box: Box, others: list[Box]) -> Floats:
    """Return middle colours of a body from head to foot, (12,): lightness, green to red, blue to yellow.

    NaN where a part is hidden by the boxes of others or does not move.
    """
    x0, y0, x1, y1 = (int(value) for value in box)
    high = y1 - y0
    own = mask[y0:y1, x0:x1].copy()
    for other in others:
        a, b = np.clip(other[[0, 2]] - x0, 0, own.shape[1])
        c, d = np.clip(other[[1, 3]] - y0, 0, own.shape[0])
        own[c:d, a:b] = 0
    found = np.full(COLOURS, np.nan)
    for k, (top, bottom) in enumerate(BANDS):
        band = slice(int(top * high), max(int(top * high) + 1, int(bottom * high)))
        moving = own[band] > 0
        if moving.sum() < max(6, 0.12 * moving.size):
            continue
        pixels = picture[y0:y1, x0:x1][band][moving][None]
        lab = cv2.cvtColor(pixels, cv2.COLOR_BGR2LAB)[0]
        found[3 * k : 3 * k + 3] = np.median(lab, axis=0)
    return found
