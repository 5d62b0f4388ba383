"""Family "rasterised": films of filled triangles for training.

```
 court in quads ──┐                 lamps ──> projected shadows ─┐
 tubes of people ─┴─ fill_triangles ──> layers ──────────────────┴─> frames_of ──> sensor, codec
 the same turned upside down ──> mirror image in the floor ──────┘
```
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.frame_composition import EmptyCourtPicture, PeopleLayer
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import (
    SettingRanges,
)
from goodlength.synthetic.recordings.training_films.random_scene import GeneratedScene, ScenePerson
from goodlength.synthetic.recordings.training_films.rasterised.court_triangle_rendering import RasterCourt
from goodlength.synthetic.recordings.training_films.rasterised.triangle_rasterisation import (
    add_moment,
    fill_triangles,
)
from goodlength.synthetic.recordings.training_films.rasterised.tube_mesh_people import (
    TubeLooks,
    draw_looks,
    tube_mesh,
)
from goodlength.synthetic.recordings.training_films.rolling_shutter_poses import exposed_pose, mirrored_pose

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
FAMILY = "rasterised"
RANGES = SettingRanges(
    floor=(0.08, 0.62),
    mirror_share=(0.0, 0.2),
    mirror_blur=(0.3, 2.5),
    walls=("plaster", "plaster", "panels", "glass"),
    places=("behind glass", "behind glass", "balcony", "on the back wall"),
    both_white=0.3,
    adverts=0.4,
    marks=(0.05, 0.9),
    white_ball=0.15,
    lamps=(2, 8),
    flicker=(0.01, 0.12),
    portrait=0.2,
    field_deg=(60, 110),
    corner_loss=(0.0, 0.15),
    spectators=(0, 4),
    crossing=0.25,
    nudged=0.25,
    frames_per_second=(25, 30, 30, 50, 60),
    shutters=(50, 60, 100, 120, 250, 500),
    readout_s=(0.004, 0.022),
    noise=(1.0, 7.0),
    messenger=0.2,
)
JITTER = ((0.25, 0.25), (-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25))
SHADOW_PAIRS = ((2, 3), (4, 5), (10, 11), (4, 10), (5, 11), (4, 6), (6, 8), (5, 7), (7, 9), (10, 12),
                (12, 14), (11, 13), (13, 15), (16, 18), (17, 19), (2, 1))  # fmt: skip
SHADOW_WIDE_M = (0.3, 0.3, 0.28, 0.22, 0.22, 0.11, 0.08, 0.11, 0.08, 0.17, 0.11, 0.17, 0.11, 0.1, 0.1, 0.18)
COARSER = 2


class RasterRenderer:
    """The look of one film of this family."""

    def __init__(self, scene: GeneratedScene) -> None:
        self.scene = scene
        rng = np.random.default_rng(scene.seed)
        self.court = RasterCourt(rng, scene.settings)
        self.looks: dict[str, TubeLooks] = {
            person.name: draw_looks(person.seed, scene.settings.clothes, person.side == "court")
            for person in scene.people
        }
        tint = 0.8 if scene.settings.ball == "white" else float(rng.uniform(0.015, 0.06))
        self.ball = np.array([tint, tint, tint * rng.uniform(0.9, 1.1)])

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        return self.court.plate(camera)

    def ball_colour(self, place_m: Points) -> Picture:
        """Return the ball's colour: its own in the light from above, with a little gloss."""
        light = float(self.court.lamps.shade(place_m[None], np.array([[0, -0.3, 0.95]]))[0])
        return np.asarray(self.court.gain * (self.ball * light * 0.8 + 0.012), np.float32)

    def people(
        self, people: list[ScenePerson], camera: PhoneCamera, time_s: float, mirrored: bool
    ) -> PeopleLayer | None:
        """Return people as a layer of four moments of the exposure."""
        moments = [self._moment(people, camera, time_s, (k + 0.5) / len(JITTER), mirrored) for k in range(4)]
        window = _window([mesh for moment in moments for mesh in moment], camera.size)
        if window is None:
            return None
        left, top, right, bottom = window
        shape = (bottom - top, right - left)
        colour, cover = np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32)
        nearest = np.full(shape, np.inf, np.float32)
        for (across, down), moment in zip(JITTER, moments, strict=True):
            picture, depth = np.zeros((*shape, 3), np.float32), np.full(shape, 1e9, np.float32)
            for vertices, triangles, textures in moment:
                moved = vertices - np.array([left - across, top - down, 0, 0, 0, 0], np.float32)
                fill_triangles(picture, depth, moved, triangles, textures, 0.25)
            add_moment(colour, cover, nearest, picture, depth)
        scale = np.float32(self.court.gain / len(JITTER))
        return PeopleLayer(left, top, colour * scale, cover / np.float32(len(JITTER)), nearest)

    def _moment(
        self, people: list[ScenePerson], camera: PhoneCamera, time_s: float, share: float, mirrored: bool
    ) -> list[tuple[Picture, NDArray[np.int32], Picture]]:
        """Return the meshes of those in view at a share of the exposure."""
        out = []
        for person in people:
            joints, racket = exposed_pose(person.motion, camera, self.scene.settings, time_s, share)
            pixels, distance = camera.project(joints)
            if distance.max() < 0.4 or not _near_picture(pixels, camera.size):
                continue
            if mirrored:
                joints, racket = mirrored_pose(joints, racket)
            looks = self.looks[person.name]
            in_hand = racket if person.motion.habits.racket else None
            places, surface, triangles = tube_mesh(joints, in_hand, looks, self.court.lamps)
            uv, away = camera.project(places)
            out.append((np.column_stack([uv, away, surface]).astype(np.float32), triangles, looks.textures))
        return out

    def shadow(self, people: list[ScenePerson], camera: PhoneCamera, time_s: float) -> Picture | None:
        """Return what the shadows of all lamps leave of the floor's light."""
        lamps, size = self.court.lamps, (camera.size[0] // COARSER, camera.size[1] // COARSER)
        left_over = np.ones((size[1], size[0]), np.float32)
        total = lamps.shade(np.array([[3.2, 5.0, 0.0]]), np.array([[0, 0, 1.0]]))[0]
        for lamp, strength in zip(lamps.places_m, lamps.strengths, strict=True):
            mask = np.zeros_like(left_over)
            for person in people:
                joints, _ = exposed_pose(person.motion, camera, self.scene.settings, time_s, 0.5)
                _cast(mask, joints, lamp, camera)
            own = strength / max((lamp[2]) ** 2, 1.0) / total
            left_over -= np.float32(min(0.7, 1.1 * own)) * mask
        soft = cv2.GaussianBlur(left_over, (0, 0), 0.008 * size[0])
        return np.asarray(cv2.resize(soft, camera.size).clip(0.15, 1), np.float32)


def _cast(mask: Picture, joints: Points, lamp: Points, camera: PhoneCamera) -> None:
    """Draw the shadow that a lamp casts of a body onto the floor."""
    share = lamp[2] / np.maximum(lamp[2] - joints[:, 2:], 0.3)
    floor = lamp + (joints - lamp) * share
    floor[:, 2] = 0
    pixels, distance = camera.project(floor)
    pixels = pixels / COARSER
    for (a, b), wide in zip(SHADOW_PAIRS, SHADOW_WIDE_M, strict=True):
        if min(distance[a], distance[b]) < 0.3:
            continue
        thick = max(1, round(0.75 * wide * camera.focal_px / COARSER / float(distance[a])))
        ends = [tuple(int(c) for c in np.clip(pixels[i], -2000, 4000)) for i in (a, b)]
        cv2.line(mask, ends[0], ends[1], 1.0, min(thick, 200))


def _near_picture(pixels: Points, size: tuple[int, int]) -> bool:
    margin = 80
    return bool(((pixels > -margin) & (pixels < np.array(size) + margin)).all(1).any())


def _window(
    meshes: list[tuple[Picture, NDArray[np.int32], Picture]], size: tuple[int, int]
) -> tuple[int, int, int, int] | None:
    """Return left, top, right, bottom of all meshes inside the picture."""
    if not meshes:
        return None
    every = np.concatenate([vertices[vertices[:, 2] > 0.2, :2] for vertices, _, _ in meshes])
    if len(every) == 0:
        return None
    low = np.floor(every.min(0)).astype(int) - 2
    high = np.ceil(every.max(0)).astype(int) + 2
    left, top = max(0, int(low[0])), max(0, int(low[1]))
    right, bottom = min(size[0], int(high[0])), min(size[1], int(high[1]))
    return (left, top, right, bottom) if right > left and bottom > top else None
