"""Court lines and the players' paths as they lie in the picture, for drawing over a playing video."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.media_time import MediaPosition
from goodlength.tasks.footage.camera_calibration import camera_at
from goodlength.tasks.footage.player_tracking import tracked_match

if TYPE_CHECKING:
    from goodlength.footage.camera import CameraCalibration
    from goodlength.tasks.footage.player_tracking import TrackedRally
    from goodlength.tasks.match.lazy_match import OpenMatch

Point = tuple[float, float]


@dataclass(frozen=True)
class PicturePath:
    """A player's path: match times, and where the feet are then, in shares of the picture's size."""

    who: str  # "a", "b", or "" where the players are not told apart
    times_us: tuple[int, ...]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class PictureOverlay:
    """What is drawn over the picture at a moment; words say what is missing, empty where nothing is."""

    lines: tuple[tuple[Point, ...], ...] = ()
    paths: tuple[PicturePath, ...] = ()
    words: str = ""


def overlay_at(opened: OpenMatch, at_us: int) -> PictureOverlay:
    """Return the court's lines in the picture at a match time, and the paths of the rally played then.

    Paths of a rally that was tracked poorly are left out, as on every page.
    """
    place = None if opened.timeline is None else opened.timeline.locate(at_us)
    if not isinstance(place, MediaPosition):
        return PictureOverlay(words="There is no video at that time.")
    saved = camera_at(opened.library, place.footage_id, place.media_us)
    if saved is None:
        return PictureOverlay(
            words="The camera is not calibrated for this part of the video. Calibrate it on the Footage page."
        )
    rallies = [
        rally
        for rally in tracked_match(opened).rallies
        if rally.shown and rally.start_us <= at_us <= rally.end_us
    ]
    paths = tuple(path for rally in rallies for path in _paths(rally, saved.camera))
    words = "" if paths else "The players are not tracked here: court lines only."
    return PictureOverlay(_court_lines(saved.camera), paths, words)


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
