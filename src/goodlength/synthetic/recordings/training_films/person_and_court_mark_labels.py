"""Truth of people and court marks in one frame, with what can be seen of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.ground_truth_label_types import MARK_PLACES_M, PersonLabel
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings
from goodlength.synthetic.recordings.training_films.random_scene import ScenePerson
from goodlength.synthetic.recordings.training_films.rolling_shutter_poses import exposed_pose

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
OWN_THICKNESS_M = 0.28  # a joint lies inside its own body
MARKS_M = np.array(list(MARK_PLACES_M.values()))
BODY_MARGIN_M, HEAD_RADIUS_M = 0.08, 0.125


def not_hidden(pixels: Points, distance: Points, depth: Picture, camera: PhoneCamera) -> NDArray[np.bool_]:
    """Return whether points lie in the picture with nothing nearer before them."""
    inside = camera.inside(pixels, distance)
    column = pixels[..., 0].clip(0, camera.size[0] - 1).astype(int)
    row = pixels[..., 1].clip(0, camera.size[1] - 1).astype(int)
    return np.asarray(inside & (depth[row, column] > distance - OWN_THICKNESS_M))


def person_label(
    person: ScenePerson, camera: PhoneCamera, settings: FilmSettings, time_s: float, depth: Picture
) -> PersonLabel:
    """Return the truth of a person at the middle of the exposure."""
    joints, _racket = exposed_pose(person.motion, camera, settings, time_s, 0.5)
    feet = 0.5 * (joints[[16, 17]] + joints[[18, 19]])
    feet_px, feet_distance = camera.project(feet)
    joints_px, distance = camera.project(joints)
    head = 0.5 * (joints[0] + joints[1]) - 0.02
    around = head + HEAD_RADIUS_M * _sphere()
    around_px, around_distance = camera.project(around)
    body = np.concatenate([_margin(joints[2:], distance[2:], camera), around_px])
    return PersonLabel(
        name=person.name,
        feet_m=feet,
        feet_px=feet_px,
        feet_visible=not_hidden(feet_px, feet_distance, depth, camera),
        joints_m=joints,
        joints_px=joints_px,
        joints_visible=not_hidden(joints_px, distance, depth, camera),
        box=_box(body),
        head_box=_box(around_px),
        head_share=float(not_hidden(around_px, around_distance, depth, camera).mean()),
    )


def mark_labels(camera: PhoneCamera, depth: Picture) -> tuple[Points, NDArray[np.bool_]]:
    """Return pixels of the court marks and which can be seen."""
    pixels, distance = camera.project(MARKS_M)
    return pixels, not_hidden(pixels, distance, depth, camera)


def _sphere() -> Points:
    """Return eighteen directions around a head."""
    turns = np.arange(6) * np.pi / 3
    rings = [
        np.column_stack([np.cos(turns) * np.cos(a), np.sin(turns) * np.cos(a), np.full(6, np.sin(a))])
        for a in (-0.7, 0.1, 0.8)
    ]
    return np.concatenate(rings)


def _margin(joints: Points, distance: Points, camera: PhoneCamera) -> Points:
    """Return corners a hand's width around joints."""
    pixels, _ = camera.project(joints)
    wide = (camera.focal_px * BODY_MARGIN_M / np.maximum(distance, 0.2))[:, None]
    return np.concatenate([pixels - wide, pixels + wide])


def _box(pixels: Points) -> tuple[float, float, float, float]:
    low, high = pixels.min(0), pixels.max(0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
