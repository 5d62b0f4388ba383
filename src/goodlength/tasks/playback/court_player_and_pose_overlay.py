"""Court lines, the players' paths and body points in the picture, for drawing over a playing video."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.media_time import MediaPosition
from goodlength.tasks.footage.camera_calibration import camera_at, picture_size
from goodlength.tasks.footage.player_tracking import tracked_match
from goodlength.tasks.footage.strike_pose_estimation_and_correction import stored_bodies

if TYPE_CHECKING:
    from goodlength.footage.camera import CameraCalibration
    from goodlength.tasks.footage.player_tracking import TrackedRally
    from goodlength.tasks.match.lazy_match import OpenMatch

Point = tuple[float, float]
AROUND_US = 1_000_000  # so far outside a rally its strikes are still shown


@dataclass(frozen=True)
class PicturePath:
    """A player's path: match times, and where the feet are then, in shares of the picture's size."""

    who: str  # "a", "b", or "" where the players are not told apart
    times_us: tuple[int, ...]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class PictureBody:
    """Body points round a strike: match times, and 17 places for each, None where one was not seen."""

    who: str
    times_us: tuple[int, ...]
    joints: tuple[tuple[Point | None, ...], ...]


@dataclass(frozen=True)
class MissingOverlay:
    """What cannot be drawn over the picture, and why, in words; empty where nothing is missing."""

    court: str = ""
    paths: str = ""
    joints: str = ""


@dataclass(frozen=True)
class PictureOverlay:
    """What is drawn over the picture at a moment, and what is missing."""

    lines: tuple[tuple[Point, ...], ...] = ()
    paths: tuple[PicturePath, ...] = ()
    bodies: tuple[PictureBody, ...] = ()
    missing: MissingOverlay = MissingOverlay()


def overlay_at(opened: OpenMatch, at_us: int) -> PictureOverlay:
    """Return the court's lines in the picture at a match time, and paths and body points of the rally then.

    Paths of a rally that was tracked poorly are left out, as on every page.
    """
    place = None if opened.timeline is None else opened.timeline.locate(at_us)
    if not isinstance(place, MediaPosition):
        none = "There is no video at that time."
        return PictureOverlay(missing=MissingOverlay(none, none, none))
    bodies = _bodies(opened, at_us, place)
    saved = camera_at(opened.library, place.footage_id, place.media_us)
    rallies = [
        rally
        for rally in tracked_match(opened).rallies
        if rally.shown and rally.start_us <= at_us <= rally.end_us
    ]
    no_camera = "The camera is not calibrated for this part of the video. Calibrate it on the Footage page."
    missing = MissingOverlay(
        "" if saved else no_camera,
        no_camera if not saved else "" if rallies else "The players are not tracked here.",
        ""
        if bodies
        else "Body points are found at contact, on the page Body position at contact; none here.",
    )
    if saved is None:
        return PictureOverlay(bodies=bodies, missing=missing)
    paths = tuple(path for rally in rallies for path in _paths(rally, saved.camera))
    return PictureOverlay(_court_lines(saved.camera), paths, bodies, missing)


def _bodies(opened: OpenMatch, at_us: int, place: MediaPosition) -> tuple[PictureBody, ...]:
    """Return body points of the rally at a match time, or of one close by, in the file shown then."""
    near = [
        rally.key
        for rally in opened.match.rallies
        if rally.start_us is not None
        and rally.start_us - AROUND_US <= at_us <= (rally.end_us or rally.start_us) + AROUND_US
    ]
    stored = [body for body in stored_bodies(opened, near) if body.footage_id == place.footage_id]
    if not stored:
        return ()
    wide, high = picture_size(opened.file(place.footage_id))
    found = []
    for body in stored:
        shown = [
            (us, pose)
            for us, pose in zip(body.movement.times_us, body.movement.joints, strict=True)
            if pose is not None
        ]
        places = tuple(
            tuple(
                (round(float(u) / wide, 4), round(float(v) / high, 4)) if seen else None
                for (u, v), seen in zip(pose.uv, pose.seen, strict=True)
            )
            for _, pose in shown
        )
        times = tuple(at_us + us - place.media_us for us, _ in shown)
        found.append(PictureBody(body.who, times, places))
    return tuple(found)


def _court_lines(camera: CameraCalibration) -> tuple[tuple[Point, ...], ...]:
    from goodlength.footage.camera import court_over

    size = (camera.lens.width, camera.lens.height)
    found = []
    for line in court_over(camera):
        points = [(round(u / size[0], 4), round(v / size[1], 4)) for u, v in line.uv]
        found.append(tuple([*points, points[0]] if line.closed else points))
    return tuple(found)


def _paths(rally: TrackedRally, camera: CameraCalibration) -> list[PicturePath]:
    tracks = rally.track.paths
    found = []
    for n, who in enumerate("ab"):
        xy = np.asarray(tracks.xy[:, n], dtype=float)
        uv, seen = camera.lens.project(np.column_stack([xy, np.zeros(len(xy))]))
        shares = uv / (camera.lens.width, camera.lens.height)
        known = seen & np.isfinite(shares).all(axis=1) & (np.abs(shares - 0.5) < 1.0).all(axis=1)
        times = tuple(round(float(time) * 1e6) for time in np.asarray(tracks.times_s)[known])
        points = tuple((round(float(x), 4), round(float(y), 4)) for x, y in shares[known])
        found.append(PicturePath(who if rally.track.identified else "", times, points))
    return found
