"""Poses within an exposure: every joint at the moment at which its own row of the picture is read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.player_skeleton_motion import SkeletonMotion
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Points = NDArray[np.float64]
TURNED_OVER = np.array([1.0, 1.0, -1.0])


def row_times_s(camera: PhoneCamera, settings: FilmSettings, places_m: Points) -> Points:
    """Return when the row of each place begins its exposure, after the first row."""
    pixels, _ = camera.project(places_m)
    return np.asarray(settings.readout_s * (pixels[..., 1] / camera.size[1]).clip(0, 1))


def exposed_pose(
    motion: SkeletonMotion, camera: PhoneCamera, settings: FilmSettings, time_s: float, share: float
) -> tuple[Points, Points]:
    """Return joints (20, 3) and racket (3, 3) at a share of the exposure of a frame begun at a time."""
    begin = time_s + share * settings.exposure_s
    first, racket = motion.at(np.array([begin + 0.5 * settings.readout_s]))
    places = np.concatenate([first[0], racket[0, :2]])
    times = begin + row_times_s(camera, settings, places)
    joints, rackets = motion.at(times)
    index = np.arange(20)
    moved_racket = np.concatenate([rackets[[20, 21], [0, 1]], rackets[21:22, 2]])
    return joints[index, index], moved_racket


def mirrored_pose(joints_m: Points, racket_m: Points) -> tuple[Points, Points]:
    """Return a pose as the floor mirrors it."""
    return joints_m * TURNED_OVER, racket_m * TURNED_OVER


def exposed_ball(
    ball_at: Points, times_s: Points, camera: PhoneCamera, settings: FilmSettings, time_s: float
) -> Points:
    """Return the ball's places within a frame's exposure, rows read one after another.

    `ball_at` holds places (n, 3) on the times `times_s` of shape (n,), evenly spaced and covering the frame.
    """
    begins = row_times_s(camera, settings, ball_at)
    inside = (times_s >= time_s + begins) & (times_s <= time_s + begins + settings.exposure_s)
    return ball_at[inside & ~np.isnan(ball_at[:, 0])]
