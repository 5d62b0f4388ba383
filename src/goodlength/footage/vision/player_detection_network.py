"""Detect the players in a frame by a small network that looks at places of the floor.

Where something moves says where to look; the network says whether one of the two players stands there, where
on the floor the middle between the feet is, and how surely. It was taught made-up films with shiny floors,
shadows, glass and spectators, so mirror images and people outside the court are not players to it.

```
 moving pixels ─> places ──┬─> crops ─> network ─> players ─> crops there ─> network ─> places with errors
 players just before ──────┘
```
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.models import network
from goodlength.footage.vision.background_subtraction import Background
from goodlength.footage.vision.person_log_odds_on_floor_grid import COLOURS, PLACES, FloorGrid, clothes_at
from goodlength.footage.vision.person_sized_floor_crops import (
    CropFrames,
    crop_frames,
    crops,
    pyramid,
)

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MODEL = "player-crops.onnx"
MAYBE = -2.0  # log odds of a player from which a place is looked at again
LEAST_LOG_ODDS = -1.0  # and from which it is kept
SAME_M = 0.30  # places nearer to each other, in the plane of a person, are one player
OUTSIDE_M = 0.30  # a player's feet may be measured so far outside the court
LEAST_FILLED = 0.5  # of a whole person that must move where the network sees no player
USUAL_LOG_ODDS = 5.0  # of players like those learnt from; three less is unlike them
UNLIKE_M = 0.10  # error up and to the right then, in the plane of a person; ASSUMED
FEET_M = 0.04  # error of the lowest pixels that move
NEAR_M = 0.15  # a place nearer than this to its crop's middle is not looked at again
SURE = 2.0  # log odds of a player that need no other look at all that moves
EVERY = 3  # frames after which all that moves is looked at in any case
BEFORE = 3  # players of the frame before that are looked at again
TRUNK_M = 0.24  # half the width of a body for its colours
BODY_M = 1.68


@dataclass(frozen=True, eq=False)
class PlayerCandidates:
    """Players found in one picture, the surest first; rows beyond those found are NaN.

    `uv` (K, 2) feet in px of the original; `spread` (K, 2, 2) px, the columns standard errors to the right
    and up; `log_odds` (K,) of a player; `colours` (K, 12) of hair, shirt, shorts and legs.
    """

    uv: Floats
    spread: Floats
    log_odds: Floats
    colours: Floats


class PlayerDetector:
    """Finds players in the frames of one film, one after another."""

    def __init__(self, lens: CameraModel, wide: int, high: int) -> None:
        self.grid = FloorGrid(lens, wide, high)
        self._lens, self._to_small = lens, self.grid.to_small
        self._before = np.empty((0, 2))
        self._number = 0
        self._empty: tuple[int, list[Picture]] | None = None

    def detect(self, mask: Picture, picture: Picture, empty: Background) -> PlayerCandidates:
        """Return who is found in a frame.

        Parameters
        ----------
        mask : ndarray of uint8, shape (h, w)
            1 where something moves.
        picture : ndarray of uint8, shape (h, w, 3)
        empty : Background
            The court without players around that moment.
        """
        if self._empty is None or self._empty[0] != id(empty):
            self._empty = (id(empty), pyramid(empty.picture))
        levels = pyramid(picture)
        outputs = self._classify(levels, self._before)
        self._number += 1
        sure = int((outputs.found[outputs.surviving(SURE), 0] >= SURE).sum())
        if sure < 2 or self._number % EVERY == 0:
            outputs = outputs.joined(self._classify(levels, self._other_places(mask)))
        off = np.abs(outputs.found[:, 1:3]).max(axis=1)
        maybe = self._possible(outputs, mask, MAYBE)
        near, far = maybe[off[maybe] <= NEAR_M], maybe[off[maybe] > NEAR_M]
        outputs = outputs.part(near).joined(self._classify(levels, outputs.floor[far]))
        players = self._possible(outputs, mask, LEAST_LOG_ODDS)
        self._before = outputs.floor[players[:BEFORE]]
        return self._candidates(outputs, players, mask, picture)

    def _possible(self, outputs: _CropOutputs, mask: Picture, least: float) -> NDArray[np.int64]:
        """Return who the network takes for a player, and whoever moves there as a whole person does.

        The network learnt players in shorts and shirts; it may deny somebody in a dark track suit.
        """
        found = outputs.surviving(-np.inf)
        odds = outputs.found[found, 0]
        doubtful = odds < least
        if doubtful.any() and (~doubtful).sum() < 2:
            filled = self.grid.filled(mask, outputs.floor[found])
            found = found[~doubtful | (filled >= LEAST_FILLED)]
        else:
            found = found[~doubtful]
        return np.asarray(found[:PLACES])

    def _other_places(self, mask: Picture) -> Floats:
        """Return places where something moves, but for those near a player of the frame before."""
        at = self.grid.xy[self.grid.places(mask)]
        frames, good = crop_frames(self._lens, self._to_small, at)
        before, _ = crop_frames(self._lens, self._to_small, self._before)
        away = np.linalg.norm(frames.foot[:, None] - before.foot[None], axis=2)
        metre = np.linalg.norm(frames.up, axis=1)
        return np.asarray(at[good][(away > SAME_M * metre[:, None]).all(axis=1)])

    def _classify(self, levels: list[Picture], xy: Floats) -> _CropOutputs:
        frames, _ = crop_frames(self._lens, self._to_small, xy)
        if not len(frames.foot):
            return _CropOutputs(frames, np.empty((0, 5)), np.empty((0, 2)))
        assert self._empty is not None
        now = crops(levels, frames).astype(np.float32)
        was = crops(self._empty[1], frames).astype(np.float32)
        inputs = np.concatenate([now / 128.0 - 1.0, (now - was) / 64.0], axis=3).transpose(0, 3, 1, 2)
        net = network(MODEL)
        net.setInput(np.ascontiguousarray(inputs), "crops")
        net.setInput(frames.facts.astype(np.float32), "facts")
        found = np.asarray(net.forward(), dtype=float)
        rays = self._lens.rays(frames.to_picture(found[:, 1:3]) / self._to_small)
        with np.errstate(divide="ignore", invalid="ignore"):
            floor = self._lens.place_m[:2] - self._lens.place_m[2] / rays[:, 2:] * rays[:, :2]
        floor = np.where(rays[:, 2:] < 0.0, floor, np.nan)
        return _CropOutputs(frames, found, floor)

    def _candidates(
        self, outputs: _CropOutputs, players: NDArray[np.int64], mask: Picture, picture: Picture
    ) -> PlayerCandidates:
        uv, spread = np.full((PLACES, 2), np.nan), np.full((PLACES, 2, 2), np.nan)
        odds, colours = np.full(PLACES, np.nan), np.full((PLACES, COLOURS), np.nan)
        place = outputs.frames.to_picture(outputs.found[:, 1:3])
        bodies = self._bodies(outputs, place)
        for k, n in enumerate(players.tolist()):
            errors_m, off_m = self._with_feet(outputs, n, place[n], mask)
            axes = np.stack([outputs.frames.right[n], outputs.frames.up[n]], axis=1)
            uv[k] = (place[n] + axes @ off_m) / self._to_small
            spread[k] = axes * errors_m / self._to_small[:, None]
            odds[k] = max(outputs.found[n, 0], LEAST_LOG_ODDS)
            nearer = [bodies[m] for m in players.tolist() if outputs.floor[m, 1] > outputs.floor[n, 1] + 0.3]
            colours[k] = clothes_at(picture, mask, bodies[n], nearer)
        return PlayerCandidates(uv, spread, odds, colours)

    def _with_feet(
        self, outputs: _CropOutputs, n: int, place: Floats, mask: Picture
    ) -> tuple[Floats, Floats]:
        """Return the error of a place to the right and up, m, and how far the feet that move say it is off.

        The less somebody looks like those the network learnt from, the more count the lowest pixels that
        move close by. On a floor that mirrors what moves goes on below the feet: then they say nothing.
        """
        unlike = float(np.clip((USUAL_LOG_ODDS - outputs.found[n, 0]) / 3.0, 0.0, 1.0))
        errors_m = np.hypot(np.exp(outputs.found[n, 3:5]), unlike * UNLIKE_M)
        up = outputs.frames.up[n]
        metre = float(np.linalg.norm(up))
        lowest = _lowest_moving(mask, place, metre) if unlike > 0.0 else None
        if lowest is None:
            return errors_m, np.zeros(2)
        down_m = -float((lowest - place) @ up) / metre**2
        share = errors_m[1] ** 2 / (errors_m[1] ** 2 + FEET_M**2)
        errors_m[1] *= float(np.sqrt(1.0 - share))
        return errors_m, np.array([0.0, -share * down_m])

    def _bodies(self, outputs: _CropOutputs, place: Floats) -> NDArray[np.int64]:
        """Return boxes of bodies over their feet: left, top, right, bottom in px of the small picture."""
        top = place + outputs.frames.up * BODY_M
        half = np.linalg.norm(outputs.frames.up, axis=1) * TRUNK_M
        middle = (place[:, 0] + top[:, 0]) / 2.0
        boxes = np.column_stack([middle - half, top[:, 1], middle + half, place[:, 1]])
        high, wide = self.grid.high, self.grid.wide
        return np.clip(np.round(boxes), 0, (wide, high, wide, high)).astype(np.int64)


def _lowest_moving(mask: Picture, place: Floats, metre: float) -> Floats | None:
    """Return the middle of the feet by the lowest pixels that move around a place; None where they go on."""
    half, above, below = 0.45 * metre, 0.15 * metre, 0.20 * metre
    x0, x1 = int(max(0.0, place[0] - half)), int(place[0] + half) + 1
    y0, y1 = int(max(0.0, place[1] - above)), int(place[1] + below) + 1
    if y1 > mask.shape[0]:
        return None
    part = mask[y0:y1, x0:x1]
    rows = np.arange(1, part.shape[0] + 1)[:, None]
    lowest = np.where(part > 0, rows, 0).max(axis=0, initial=0)
    columns = np.flatnonzero(lowest)
    if len(columns) < 3 or lowest.max() >= part.shape[0] - 1:
        return None
    middle = np.median(columns)
    feet = [lowest[columns[side]].max() for side in (columns <= middle, columns >= middle)]
    return np.array([place[0], y0 + float(np.mean(feet))])


@dataclass(frozen=True, eq=False)
class _CropOutputs:
    """What the network says of some crops: log odds, metres right and up, their log errors; and the floor."""

    frames: CropFrames
    found: Floats
    floor: Floats

    def part(self, numbers: NDArray[np.int64]) -> _CropOutputs:
        """Return some of the crops."""
        frames = CropFrames(
            self.frames.foot[numbers],
            self.frames.right[numbers],
            self.frames.up[numbers],
            self.frames.facts[numbers],
        )
        return _CropOutputs(frames, self.found[numbers], self.floor[numbers])

    def joined(self, other: _CropOutputs) -> _CropOutputs:
        """Return these crops and those of another."""
        a, b = self.frames, other.frames
        frames = CropFrames(
            np.concatenate([a.foot, b.foot]),
            np.concatenate([a.right, b.right]),
            np.concatenate([a.up, b.up]),
            np.concatenate([a.facts, b.facts]),
        )
        return _CropOutputs(
            frames, np.concatenate([self.found, other.found]), np.concatenate([self.floor, other.floor])
        )

    def surviving(self, least: float) -> NDArray[np.int64]:
        """Return the numbers of players found, surest first, each once."""
        x, y = self.floor.T
        with np.errstate(invalid="ignore"):
            inside = (np.abs(x - WIDTH_M / 2) < WIDTH_M / 2 + OUTSIDE_M) & (y > -OUTSIDE_M)
            inside &= y < LENGTH_M + OUTSIDE_M
        place = self.frames.to_picture(self.found[:, 1:3])
        metre = np.linalg.norm(self.frames.up, axis=1)
        chosen: list[int] = []
        for n in np.argsort(-self.found[:, 0], kind="stable").tolist():
            if self.found[n, 0] < least:
                break
            apart = np.linalg.norm(place[chosen] - place[n], axis=1) / metre[n]
            if inside[n] and bool((apart > SAME_M).all()):
                chosen.append(n)
        return np.array(chosen, dtype=np.int64)
