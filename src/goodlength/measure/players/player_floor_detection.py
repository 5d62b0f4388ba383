"""Detect candidates for players on the court floor over a span of video, through the calibrated camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import Cancelled
from goodlength.footage.camera import CameraCalibration
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.camera_nudge_detection import floor_shift_a_px
from goodlength.footage.vision.background_subtraction import (
    Background,
    foreground_mask,
    nearest_background,
    watched,
)
from goodlength.footage.vision.person_detection import detect_people
from goodlength.footage.vision.person_log_odds_on_floor_grid import PLACES
from goodlength.footage.vision.player_detection_network import PlayerCandidates, PlayerDetector
from goodlength.footage.vision.steady_view_spans import SHIFT_PX, Fixed, Steady, View, steady_parts
from goodlength.jobs.progress_callback import Cancel
from goodlength.measure.players.player_tracking import EXPLAINS, Detections, Tracks
from goodlength.media_time import MICROSECONDS

EVERY_US = 80_000  # 12.5 pictures a second
CHECK_EVERY = 15  # pictures between two looks of the detector of people
CHECK_SURE = 0.40
LEAST_M = 0.06  # no place is surer than this: a shoe is long
COURT_M = 0.015  # court and lens, beyond what their fit to the marks shows; ASSUMED, as for a detected court
NOTICED_M = 0.06  # a shift of the view that puts the floor off by more is noticed
LEAST_SHIFT_PX = 0.7  # of a picture 540 high: corners are known no better
ASIDE_M, MOST_M = 0.5, 1.5  # a place may lie so far outside the court, and be so unsure


@dataclass(frozen=True)
class FrameDetections:
    """People the detector found in one picture: boxes left, top, right, bottom in px of the original."""

    time_s: float
    boxes: tuple[tuple[float, float, float, float], ...]


def detect_players(
    path: str | Path,
    from_us: int,
    until_us: int,
    camera: CameraCalibration,
    courts: Sequence[Background],
    cancel: Cancel | None = None,
) -> tuple[Detections, tuple[FrameDetections, ...], Steady]:
    """Detect candidates for both players in each frame of a span (media time, microseconds), and people seen.

    Parameters
    ----------
    camera : Camera
        That which holds then; its errors go into those of the places.
    courts : sequence of Empty
        From `moving.empty_courts` of the same film.

    Returns
    -------
    watched : Watched
    seen : tuple of Seen
        What the detector of people found, about once a second.
    steady : Steady
        The parts of the span in which light and camera hold and nobody stands in front.

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    seen: list[FrameDetections] = []
    detector: PlayerDetector | None = None
    fixed: Fixed | None = None
    views: list[View] = []
    times: list[float] = []
    found: list[PlayerCandidates] = []
    scale = 1.0
    for us, picture, size in watched(path, from_us, until_us, EVERY_US):
        if cancel is not None and cancel():
            raise Cancelled("Tracking the players was stopped; nothing was saved.")
        if detector is None or fixed is None:
            fixed = Fixed(nearest_background(courts, (from_us + until_us) // 2).picture)
            detector = PlayerDetector(camera.lens, picture.shape[1], picture.shape[0])
            scale = size[0] / picture.shape[1]
        if len(found) % CHECK_EVERY == 0:
            boxes = tuple(
                (
                    detection.left * scale,
                    detection.top * scale,
                    detection.right * scale,
                    detection.bottom * scale,
                )
                for detection in detect_people(picture, CHECK_SURE)
            )
            seen.append(FrameDetections(us / MICROSECONDS, boxes))
        empty = nearest_background(courts, us)
        moving = foreground_mask(picture, empty)
        views.append(fixed.view(picture, moving))
        found.append(detector.detect(moving, picture, empty))
        times.append(us / MICROSECONDS)
    n, k = len(found), PLACES
    if not n:
        nothing = Detections(
            np.empty(0),
            np.empty((0, k, 2)),
            np.empty((0, k)),
            np.empty((0, k, k)),
            np.empty((0, k), dtype=bool),
            np.empty((0, k, k), dtype=bool),
            np.empty((0, k, 12)),
        )
        return nothing, (), Steady((), "", 0)
    return (
        placed(camera, times, found),
        tuple(seen),
        steady_parts(
            np.array(times), views, detector.grid.largest if detector else 0.0, noticed_shift_px(camera.lens)
        ),
    )


def noticed_shift_px(lens: CameraModel) -> float:
    """Return the shift of the view, px of a picture 540 high, from which on the camera counts as moved.

    The lower a camera stands, the further a pixel puts the floor off.
    """
    unit = min(lens.width, lens.height) / 540.0
    return float(np.clip(NOTICED_M / (floor_shift_a_px(lens) * unit), LEAST_SHIFT_PX, SHIFT_PX))


def placed(
    camera: CameraCalibration, times: Sequence[float], found: Sequence[PlayerCandidates]
) -> Detections:
    """Return the candidates of frames as places of the floor with their errors, and how well pairs explain
    who was found.
    """
    n, k = len(found), PLACES
    uv = np.array([candidates.uv for candidates in found]).reshape(-1, 2)
    spread = np.array([candidates.spread for candidates in found]).reshape(-1, 2, 2)
    odds = np.array([candidates.log_odds for candidates in found])
    xy, by_axis = floor_positions(camera, uv, spread)
    chance = np.nan_to_num(1.0 / (1.0 + np.exp(-odds)))
    penalty = np.minimum(np.nan_to_num(odds, nan=-9.0), 0.0) / EXPLAINS
    both = chance[:, :, None] + chance[:, None, :]
    both[:, range(k), range(k)] = chance
    worse = penalty[:, :, None] + penalty[:, None, :]
    worse[:, range(k), range(k)] = penalty
    pair = both / np.maximum(chance.sum(axis=1), 1e-9)[:, None, None]
    known = np.isfinite(odds)
    pair = np.where(known[:, :, None] & known[:, None, :], pair + worse, np.nan)
    up_m = np.linalg.norm(spread[:, :, 1], axis=1)
    return Detections(
        np.array(times),
        xy.reshape(n, k, 2),
        np.sqrt((by_axis**2).mean(axis=1)).reshape(n, k),
        pair,
        np.isfinite(up_m).reshape(n, k),
        np.zeros((n, k, k), dtype=bool),
        np.array([candidates.colours for candidates in found]),
        by_axis.reshape(n, k, 2),
    )


def confirmed_share(paths: Tracks, seen: Sequence[FrameDetections], camera: CameraCalibration) -> float:
    """Return share of the places of two paths at which the detector of people found somebody too; NaN
    unasked.

    Two players close together may share a box.
    """
    hits, asked = 0, 0
    for detections in seen:
        k = int(np.argmin(np.abs(paths.times_s - detections.time_s)))
        for p in range(2):
            x, y = paths.xy[k, p]
            if not (paths.seen[k, p] and np.isfinite(x)):
                continue
            (u, v), *_ = camera.lens.project(np.array([[x, y, 0.0]]))[0]
            asked += 1
            hits += any(_stands_in(u, v, box) for box in detections.boxes)
    return hits / asked if asked else float("nan")


def _stands_in(u: float, v: float, box: tuple[float, float, float, float]) -> bool:
    left, top, right, bottom = box
    high = bottom - top
    return (
        left - 0.25 * high <= u <= right + 0.25 * high and bottom - 0.45 * high <= v <= bottom + 0.25 * high
    )


def floor_positions(
    camera: CameraCalibration, uv: np.ndarray, spread: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return floor places (n, 2) of picture points and their errors across and along the court (n, 2); NaN
    where none can be given.

    Parameters
    ----------
    spread : ndarray, shape (n, 2, 2)
        Standard errors in px, each column one direction.
    """
    good = np.isfinite(uv).all(axis=1)
    xy, error = np.full((len(uv), 2), np.nan), np.full((len(uv), 2), np.nan)
    if good.any():
        at, covariance, _ = camera.floor_places(uv[good])
        for side in range(2):
            step = camera.floor_places(uv[good] + spread[good][:, :, side])[0] - at
            covariance = covariance + step[:, :, None] * step[:, None, :]
        by_axis = np.sqrt(LEAST_M**2 + COURT_M**2 + np.diagonal(covariance, axis1=1, axis2=2))
        # Feet may lie outside of the picture; not far outside of the court, nor anywhere.
        near = (at > -ASIDE_M) & (at < np.array([WIDTH_M, LENGTH_M]) + ASIDE_M) & (by_axis < MOST_M)
        xy[good] = np.where(np.all(near, axis=1)[:, None], at, np.nan)
        error[good] = by_axis
    return xy, np.where(np.isfinite(xy), error, np.nan)
