"""Occupancy of the floor: upright person-sized boxes scored over a grid of the whole court.

For each place of a grid on the floor the solved camera says which part of the picture a person standing
there fills: trunk and head densely, the legs thinly. How likely what moves is with somebody there, against
nobody (a log of odds), says how well that place explains the picture. Two people who cover each other are
tried as a pair: what they share is counted once.

```
 moving pixels ──> score of each place ──> best places ──> feet looked for at the lower end of each
                                             └──> score of each pair of places
```
"""

from __future__ import annotations

import math
from dataclasses import dataclass

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
FOOT_UP_M, FOOT_DOWN_M, FOOT_SIDE_M = 0.22, 0.13, 0.50  # feet are looked for so far round a place
STANCE_M = 0.95  # whoever stands in front may have the feet so far apart
BANDS = ((0.0, 0.12), (0.18, 0.42), (0.46, 0.62), (0.70, 0.92))  # of the height: hair, shirt, shorts, legs
COLOURS = 3 * len(BANDS)  # lightness and two colours each


@dataclass(frozen=True, eq=False)
class FloorCandidates:
    """Candidates of one picture, the best first; rows beyond those found are NaN.

    `uv` (K, 2) feet in px of the original; `score` (K,) 1 for a whole person; `pair` (K, K) how well two
    together explain the picture, 1 for the best pair, and on the diagonal one alone; `feet_seen` (K,) whether
    the feet themselves were found; `feet_hidden` (K, K) whether the feet of the first would be behind the
    second; `colours` (K, 12) of hair, shirt, shorts and legs.
    """

    uv: Floats
    score: Floats
    pair: Floats
    feet_seen: Bools
    feet_hidden: Bools
    colours: Floats


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

    def candidates(self, mask: Picture, picture: Picture) -> FloorCandidates:
        """Return the places that best explain what moves.

        Parameters
        ----------
        mask : ndarray of uint8, shape (h, w)
            1 where something moves.
        picture : ndarray of uint8, shape (h, w, 3)
            For the colours of the clothes.
        """
        chosen = self._chosen(mask)
        found = _blank()
        pixels = _summed(mask)
        best = 1e-9
        for k, n in enumerate(chosen):
            before = [m for m in chosen if self.xy[m, 1] > self.xy[n, 1] + 0.3 and self._part_of_pair(n, m)]
            others = [*(self.body[m] for m in before), *(self._stance(m) for m in before)]
            foot, seen = self._feet(mask, n, others)
            found.uv[k] = foot / self.to_small
            found.feet_seen[k] = seen
            found.colours[k] = _clothes(picture, mask, self.body[n], others)
            found.score[k] = self._explains(pixels, n) / self.expected[n]
            for j, m in enumerate(chosen):
                found.pair[k, j] = self._explains(pixels, n) if j == k else self._both(pixels, n, m)
                best = max(best, float(found.pair[k, j]))
                found.feet_hidden[k, j] = self.xy[m, 1] > self.xy[n, 1] and _holds(
                    self.body[m], self.foot[n], 0.15 * self.tall[n]
                )
        found.pair[:] /= best
        return found

    def _chosen(self, mask: Picture) -> list[int]:
        """Grid places: best of all, best of what that leaves over, and other peaks."""
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

    def _far(self, n: int, chosen: list[int]) -> bool:
        if not chosen:
            return True
        body = self.body.astype(float)
        return bool((shared(body[n], body[chosen]) < SAME).all())

    def _part_of_pair(self, n: int, m: int) -> bool:
        """Return whether two candidates are likely two people: their boxes share little."""
        return float(shared(self.body[n].astype(float), self.body[[m]].astype(float))[0]) < 0.35

    def _stance(self, n: int) -> Box:
        """Return the box of somebody's feet, apart."""
        _, y0, _, y1 = self.parts[0][n]
        half = self.tall[n] * STANCE_M / ASSUMED_TALL_M / 2.0
        middle = self.foot[n, 0]
        return np.array([middle - half, (y0 + y1) / 2, middle + half, y1 + 0.06 * self.tall[n]]).astype(
            np.int64
        )

    def _all(self, pixels: Ints, free: Ints) -> Floats:
        """Log odds of somebody at each place of the grid; pixels that are not free say nothing."""
        total = np.zeros(len(self.xy))
        for (_, _, _, filled), part in zip(PARTS, self.parts, strict=True):
            gain, cost = _odds(filled)
            moving = _sums(pixels, part)
            total += gain * moving + cost * (_sums(free, part) - moving)
        return total

    def _explains(self, pixels: Ints, n: int) -> float:
        """Log odds of somebody at one place."""
        return sum(
            _gain(pixels, part[n], filled) for (_, _, _, filled), part in zip(PARTS, self.parts, strict=True)
        )

    def _both(self, pixels: Ints, n: int, m: int) -> float:
        """Log odds of two people: where they overlap only the nearer one counts."""
        total = self._explains(pixels, n) + self._explains(pixels, m)
        far, near = (n, m) if self.xy[n, 1] < self.xy[m, 1] else (m, n)
        for (_, _, _, filled), part in zip(PARTS, self.parts, strict=True):
            for other in self.parts:
                a, b = part[far], other[near]
                box = np.array([max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])])
                if box[2] > box[0] and box[3] > box[1]:
                    total -= _gain(pixels, box, filled)
        return total

    def _feet(self, mask: Picture, n: int, others: list[Box]) -> tuple[Floats, bool]:
        """Return the middle between the feet at the lower end of what moves there, px of the small
        picture.
        """
        u, v = self.foot[n]
        metre = self.tall[n] / ASSUMED_TALL_M
        x0, x1 = int(max(0, u - FOOT_SIDE_M * metre)), int(min(self.wide, u + FOOT_SIDE_M * metre + 1))
        y0, y1 = int(max(0, v - FOOT_UP_M * metre)), int(min(self.high, v + FOOT_DOWN_M * metre + 1))
        part = mask[y0:y1, x0:x1].copy()
        for box in others:  # what stands in front belongs to whoever stands there
            a, b = np.clip(box[[0, 2]] - x0, 0, part.shape[1])
            c, d = np.clip(box[[1, 3]] - y0, 0, part.shape[0])
            part[c:d, a:b] = 0
        if part.size == 0 or part.sum() < 0.01 * metre * metre:
            return self.foot[n], False
        rows = np.arange(y0, y1)[:, None] + 1.0
        lowest = np.where(part > 0, rows, -1.0).max(axis=0)
        columns = np.flatnonzero(lowest > 0)
        bottom = float(np.sort(lowest[columns])[-min(3, len(columns))])
        legs = columns[lowest[columns] >= bottom - 0.32 * metre]
        middle = float(np.median(legs))
        sides = [legs[legs <= middle], legs[legs >= middle]]
        # Each half's lowest pixel is a foot; with the legs together both halves are the same.
        feet = []
        for side in sides:
            low = float(lowest[side].max())
            at = side[lowest[side] >= low - max(1.0, 0.04 * metre)]
            feet.append((x0 + float(at.mean()) + 0.5, low))
        return np.array(feet).mean(axis=0), True


def _summed(mask: Picture) -> Ints:
    """Sums from the top left corner on, one row and column more."""
    return np.asarray(cv2.integral(mask), dtype=np.int32)


def _odds(filled: float) -> tuple[float, float]:
    """Log odds for somebody, against nobody, of a pixel that moves and of one that does not."""
    return math.log(filled / STRAY), math.log((1.0 - filled) / (1.0 - STRAY))


def _gain(pixels: Ints, box: Box, filled: float) -> float:
    """Log odds of one box."""
    gain, cost = _odds(filled)
    moving = float(_sums(pixels, box[None])[0])
    return gain * moving + cost * (float((box[2] - box[0]) * (box[3] - box[1])) - moving)


def _blank() -> FloorCandidates:
    k = PLACES
    return FloorCandidates(
        np.full((k, 2), np.nan),
        np.full(k, np.nan),
        np.full((k, k), np.nan),
        np.zeros(k, dtype=bool),
        np.zeros((k, k), dtype=bool),
        np.full((k, COLOURS), np.nan),
    )


def _sums(integral: Ints, boxes: Box) -> Box:
    """Sums over boxes (n, 4) of left, top, right, bottom."""
    x0, y0, x1, y1 = boxes.T
    return np.asarray(
        integral[y1, x1] - integral[y0, x1] - integral[y1, x0] + integral[y0, x0], dtype=np.int64
    )


def _holds(box: Box, point: Floats, above: float) -> bool:
    """Return whether a box covers a point, or where the shins over it would be."""
    return bool(box[0] <= point[0] <= box[2] and box[1] <= point[1] - above and point[1] - above <= box[3])


def _clothes(picture: Picture, mask: Picture, box: Box, others: list[Box]) -> Floats:
    """Middle colours from head to foot, (12,): lightness, green to red, blue to yellow; NaN where hidden."""
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
