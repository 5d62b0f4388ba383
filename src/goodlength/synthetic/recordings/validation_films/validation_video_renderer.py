"""Validation family of films: a court of painted cells, people of beads.

```
 cells, farthest face first ─> court       beads ─ splat, four moments ─> layers ─┐
 the same turned over, blurred down ─> mirror image    discs ─> shadows ──────────┴─> frames_of ─> sensor
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
from goodlength.synthetic.recordings.training_films.rolling_shutter_poses import exposed_pose, mirrored_pose
from goodlength.synthetic.recordings.training_films.training_video_generator import (
    FilmFamily,
    Played,
    from_first_rally,
)
from goodlength.synthetic.recordings.validation_films.bead_people_drawing import (
    BeadLooks,
    beads,
    draw_bead_looks,
    splat,
)
from goodlength.synthetic.recordings.validation_films.painted_cells_court_drawing import CellCourt
from goodlength.synthetic.recordings.validation_recording_family import RememberedPlay, new_court

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
FAMILY = "choosing"
RANGES = SettingRanges(
    floor=(0.09, 0.58),
    mirror_share=(0.0, 0.19),
    mirror_blur=(0.2, 2.0),
    walls=("plaster", "plaster", "panels", "glass"),
    places=("behind glass", "balcony", "on the back wall"),
    both_white=0.35,
    adverts=0.5,
    marks=(0.1, 1.0),
    white_ball=0.2,
    lamps=(3, 9),
    flicker=(0.01, 0.15),
    portrait=0.2,
    field_deg=(61, 109),
    corner_loss=(0.0, 0.14),
    spectators=(0, 4),
    crossing=0.3,
    nudged=0.3,
    frames_per_second=(25, 29.97, 50, 59.94),
    shutters=(50, 80, 100, 160, 320, 500),
    readout_s=(0.002, 0.026),
    noise=(1.5, 8.0),
    messenger=0.2,
)
OFFSETS = ((0.125, 0.375), (0.375, -0.125), (-0.125, -0.375), (-0.375, 0.125))
SHADOW_SPOTS = ((14, 0.12), (15, 0.12), (12, 0.13), (13, 0.13), (3, 0.2), (2, 0.22))


class BeadRenderer:
    """The look of one film of this family."""

    def __init__(self, scene: GeneratedScene) -> None:
        self.scene = scene
        rng = np.random.default_rng([scene.seed, 3])
        self.court = CellCourt(rng, scene.settings)
        self.looks: dict[str, BeadLooks] = {
            p.name: draw_bead_looks(p.seed, scene.settings.clothes, p.side == "court") for p in scene.people
        }
        self.ball = 0.7 if scene.settings.ball == "white" else float(rng.uniform(0.02, 0.05))
        self.shadow_depth = float(rng.uniform(0.12, 0.3))

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        return self.court.plate(camera)

    def ball_colour(self, place_m: Points) -> Picture:
        """Return the ball's colour where it is."""
        level = self.ball * float(self.court.light_at(place_m[None])[0]) * 0.85 + 0.008
        return np.full(3, level, np.float32)

    def people(
        self, people: list[ScenePerson], camera: PhoneCamera, time_s: float, mirrored: bool
    ) -> PeopleLayer | None:
        """Return people as a layer of four moments."""
        moments = []
        for k in range(len(OFFSETS)):
            parts = [self._beads(p, camera, time_s, (k + 0.5) / len(OFFSETS), mirrored) for p in people]
            found = [part for part in parts if part is not None]
            moments.append([np.concatenate([part[i] for part in found]) for i in range(4)] if found else None)
        known = [moment for moment in moments if moment is not None]
        if not known:
            return None
        edge = np.concatenate([moment[0] for moment in known])
        reach = np.concatenate([moment[2] for moment in known])[:, None] + 2
        low = np.floor((edge - reach).min(0)).astype(int).clip(0, camera.size)
        high = np.ceil((edge + reach).max(0)).astype(int).clip(0, camera.size)
        if (high <= low).any():
            return None
        shape = (int(high[1] - low[1]), int(high[0] - low[0]))
        colour, cover = np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32)
        nearest = np.full(shape, np.inf, np.float32)
        for offset, (pixels, distance, radii, tints) in zip(OFFSETS, known, strict=False):
            picture, depth = np.zeros((*shape, 3), np.float32), np.full(shape, np.inf, np.float32)
            splat(picture, depth, pixels - low + np.array(offset), distance, radii, tints)
            colour += picture
            cover += np.isfinite(depth)
            nearest = np.minimum(nearest, depth)
        share = np.float32(1 / len(known))
        return PeopleLayer(int(low[0]), int(low[1]), colour * share, cover * share, nearest)

    def _beads(
        self, person: ScenePerson, camera: PhoneCamera, time_s: float, share: float, mirrored: bool
    ) -> tuple[Points, Points, Points, Points] | None:
        """Return balls in pixels, their distances, radii in pixels and lit colours."""
        joints, racket = exposed_pose(person.motion, camera, self.scene.settings, time_s, share)
        light = float(self.court.light_at(joints[2:3])[0])
        if mirrored:
            joints, racket = mirrored_pose(joints, racket)
        in_hand = racket if person.motion.habits.racket else None
        places, sizes, colours = beads(joints, in_hand, self.looks[person.name])
        pixels, distance = camera.project(places)
        if distance.min() < 0.4:
            return None
        return pixels, distance, sizes * camera.focal_px / distance, colours * light

    def shadow(self, people: list[ScenePerson], camera: PhoneCamera, time_s: float) -> Picture | None:
        """Return what shadows leave of the floor's light: discs away from the two nearest lamps."""
        width, height = camera.size[0] // 2, camera.size[1] // 2
        left_over = np.ones((height, width), np.float32)
        for person in people:
            joints, _ = exposed_pose(person.motion, camera, self.scene.settings, time_s, 0.5)
            near = np.argsort(((self.court.lamps - joints[3]) ** 2).sum(1))[:2]
            for lamp in self.court.lamps[near]:
                mask = np.zeros_like(left_over)
                for joint, radius in SHADOW_SPOTS:
                    share = lamp[2] / max(lamp[2] - float(joints[joint, 2]), 0.5)
                    centre = lamp + share * (joints[joint] - lamp)
                    turns = np.linspace(0, 2 * np.pi, 14)[:, None]
                    ring = centre + radius * share * np.hstack([np.cos(turns), np.sin(turns), 0 * turns])
                    ring[:, 2] = 0
                    pixels, distance = camera.project(ring)
                    if distance.min() > 0.4:
                        cv2.fillConvexPoly(mask, np.round(pixels / 2).astype(np.int32), 1.0)
                left_over -= np.float32(self.shadow_depth) * mask
        soft = cv2.blur(left_over, (1 + 2 * (width // 90), 1 + 2 * (width // 140)))
        return np.asarray(cv2.resize(soft, camera.size).clip(0.1, 1), np.float32)


def play_remembered(rng: np.random.Generator, seconds: float) -> Played:
    """Return a match of the choosing family's sound, moved so that it begins shortly before a serve."""
    played = new_court(rng, 8000, seconds + 40, 0.5)
    RememberedPlay(played, "usual").play(seconds + 40, 0.0)
    return from_first_rally(played.contacts, played.spans, float(rng.uniform(0.6, 1.9)))


VALIDATION_FILM_FAMILY = FilmFamily(FAMILY, RANGES, play_remembered, BeadRenderer)
