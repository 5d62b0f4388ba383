"""Detect candidates for players on the court floor over a span of video, through the calibrated camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength.errors import Cancelled
from goodlength.footage.camera import CameraCalibration
from goodlength.footage.vision.background_subtraction import (
    Background,
    foreground_mask,
    nearest_background,
    watched,
)
from goodlength.footage.vision.floor_occupancy_grid import PLACES, FloorCandidates, FloorGrid
from goodlength.footage.vision.person_detection import detect_people
from goodlength.footage.vision.steady_view_spans import Fixed, Steady, View, steady_parts
from goodlength.jobs.progress_callback import Cancel
from goodlength.measure.players.player_tracking import Detections, Tracks
from goodlength.media_time import MICROSECONDS

EVERY_US = 80_000  # 12.5 pictures a second
CHECK_EVERY = 15  # pictures between two looks of the detector of people
CHECK_SURE = 0.40
FOOT_PX = 1.5  # error of the lower end of a foot in the small picture, each way
LEAST_M = 0.07  # and never better than this: a shoe is long


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
    floor: FloorGrid | None = None
    fixed: Fixed | None = None
    views: list[View] = []
    times: list[float] = []
    found: list[FloorCandidates] = []
    scale = 1.0
    for us, picture, size in watched(path, from_us, until_us, EVERY_US):
        if cancel is not None and cancel():
            raise Cancelled("Tracking the players was stopped; nothing was saved.")
        if floor is None or fixed is None:
            fixed = Fixed(nearest_background(courts, (from_us + until_us) // 2).picture)
            floor = FloorGrid(camera.lens, picture.shape[1], picture.shape[0])
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
        moving = foreground_mask(picture, nearest_background(courts, us))
        views.append(fixed.view(picture, moving))
        found.append(floor.candidates(moving, picture))
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
    uv = np.array([candidates.uv for candidates in found]).reshape(-1, 2)
    xy, error = floor_positions(camera, uv, FOOT_PX * scale)
    watched_all = Detections(
        np.array(times),
        xy.reshape(n, k, 2),
        error.reshape(n, k),
        np.array([candidates.pair for candidates in found]),
        np.array([candidates.feet_seen for candidates in found]),
        np.array([candidates.feet_hidden for candidates in found]),
        np.array([candidates.colours for candidates in found]),
    )
    return watched_all, tuple(seen), steady_parts(watched_all.times_s, views, floor.largest if floor else 0.0)


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
    camera: CameraCalibration, uv: np.ndarray, click_px: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return floor places (n, 2) of picture points and their error each way (n,); NaN where none can be
    given.
    """
    good = np.isfinite(uv).all(axis=1)
    xy, error = np.full((len(uv), 2), np.nan), np.full(len(uv), np.nan)
    if good.any():
        at, covariance, sure = camera.floor_places(uv[good], click_px)
        at[sure < 0.5] = np.nan
        xy[good] = at
        error[good] = np.sqrt(LEAST_M**2 + np.trace(covariance, axis1=1, axis2=2) / 2.0)
    return xy, np.where(np.isfinite(xy).all(axis=1), error, np.nan)
