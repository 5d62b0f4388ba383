"""Family "layered": films of warped pictures and painted silhouettes, for training.

```
 flat faces ─ homographies ─ lens ─> court      silhouettes ─ cloth ─> layers ─┐
 the same turned over, streaked down ─> mirror image      spots ─> shadows ────┴─> frames_of ─> sensor
```
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.frame_composition import EmptyCourtPicture, PeopleLayer
from goodlength.synthetic.recordings.training_films.layered.homography_warped_court import LayeredCourt
from goodlength.synthetic.recordings.training_films.layered.silhouette_people_drawing import (
    PaintedLooks,
    SilhouetteBrush,
    draw_painted_looks,
    paint_body,
)
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import (
    SettingRanges,
)
from goodlength.synthetic.recordings.training_films.random_scene import GeneratedScene, ScenePerson
from goodlength.synthetic.recordings.training_films.rolling_shutter_poses import exposed_pose, mirrored_pose

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
FAMILY = "layered"
RANGES = SettingRanges(
    floor=(0.1, 0.7),
    mirror_share=(0.0, 0.18),
    mirror_blur=(0.5, 4.0),
    walls=("plaster", "panels", "panels", "glass"),
    places=("behind glass", "balcony", "balcony", "on the back wall"),
    both_white=0.25,
    adverts=0.55,
    marks=(0.0, 0.7),
    white_ball=0.25,
    lamps=(1, 6),
    flicker=(0.02, 0.2),
    portrait=0.25,
    field_deg=(62, 106),
    corner_loss=(0.0, 0.12),
    spectators=(0, 5),
    crossing=0.3,
    nudged=0.3,
    frames_per_second=(25, 30, 48, 60),
    shutters=(50, 75, 125, 200, 400),
    readout_s=(0.0, 0.03),
    noise=(0.5, 9.0),
    messenger=0.25,
)
ASSUMED_BOUNCE_LIGHT = 0.9
HEAD_SIDE_M, THROAT_M = 0.11, 0.31


class LayeredRenderer:
    """The look of one film of this family."""

    def __init__(self, scene: GeneratedScene) -> None:
        self.scene = scene
        rng = np.random.default_rng([scene.seed, 2])
        self.court = LayeredCourt(rng, scene.settings)
        self.light = float(rng.uniform(0.5, 1.0))
        self.from_left, self.slant_m = float(rng.choice([-1, 1])), rng.normal(0, 0.25, 2)
        self.shade = float(rng.uniform(0.25, 0.6))
        self.looks: dict[str, PaintedLooks] = {
            p.name: draw_painted_looks(p.seed, scene.settings.clothes, p.side == "court")
            for p in scene.people
        }
        level = 0.75 if scene.settings.ball == "white" else float(rng.uniform(0.01, 0.09))
        self.ball = np.full(3, level * self.light + 0.01, np.float32)

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        made = self.court.plate(camera)
        scale = np.float32(self.light)
        return EmptyCourtPicture(
            made.lit * scale, made.mirror * scale, made.mirror_share, made.floor, made.through,
            made.glass_gain, made.glass_light,
        )  # fmt: skip

    def ball_colour(self, place_m: Points) -> Picture:
        """Return the ball's colour, darker near the floor."""
        return np.asarray(self.ball * min(1.0, 0.7 + 0.3 * float(place_m[2])), np.float32)

    def people(
        self, people: list[ScenePerson], camera: PhoneCamera, time_s: float, mirrored: bool
    ) -> PeopleLayer | None:
        """Return people as a layer, further ones painted first, two or three moments each."""
        parts = [part for p in people if (part := self._person(p, camera, time_s, mirrored)) is not None]
        if not parts:
            return None
        left, top = min(part.left for part in parts), min(part.top for part in parts)
        right = max(part.left + part.cover.shape[1] for part in parts)
        bottom = max(part.top + part.cover.shape[0] for part in parts)
        shape = (bottom - top, right - left)
        whole = PeopleLayer(left, top, np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32),
                            np.full(shape, np.inf, np.float32))  # fmt: skip
        for part in sorted(parts, key=lambda layer: -float(layer.depth.min())):
            rows = slice(part.top - top, part.top - top + part.cover.shape[0])
            columns = slice(part.left - left, part.left - left + part.cover.shape[1])
            rest = 1 - part.cover
            whole.colour[rows, columns] = whole.colour[rows, columns] * rest[..., None] + part.colour
            whole.cover[rows, columns] = whole.cover[rows, columns] * rest + part.cover
            filled = part.cover > 0.5
            nearest = np.where(filled, part.depth, whole.depth[rows, columns])
            whole.depth[rows, columns] = np.minimum(nearest, whole.depth[rows, columns])
        return whole

    def _person(
        self, person: ScenePerson, camera: PhoneCamera, time_s: float, mirrored: bool
    ) -> PeopleLayer | None:
        """Return one person as a layer."""
        settings, looks = self.scene.settings, self.looks[person.name]
        count = 3 if settings.exposure_s > 0.006 else 2
        moments = [self._moment(person, camera, time_s, (k + 0.5) / count, mirrored) for k in range(count)]
        points = np.concatenate([np.concatenate([m[0], m[2]]) for m in moments])
        distance = moments[0][1]
        if distance.min() < 0.35:
            return None
        margin = 0.16 * camera.focal_px / float(distance.min()) + 2
        low = np.floor(points.min(0) - margin).astype(int).clip(0, camera.size)
        high = np.ceil(points.max(0) + margin).astype(int).clip(0, camera.size)
        if (high <= low).any():
            return None
        shape = (int(high[1] - low[1]), int(high[0] - low[0]))
        paint, cover = np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32)
        for pixels, away, racket_px in moments:
            brush = SilhouetteBrush(shape, low.astype(float), self.from_left)
            in_hand = racket_px if person.motion.habits.racket else None
            paint_body(brush, pixels, away, in_hand, camera.focal_px, looks)
            part = brush.cover.astype(np.float32) / 255
            paint += part[..., None] * (brush.paint.astype(np.float32) / 255) ** 2
            cover += part
        cloth = cv2.resize(looks.pattern, shape[::-1])[..., None]
        scale = np.float32(self.light * ASSUMED_BOUNCE_LIGHT / count)
        depth = np.full(shape, float(distance.mean()), np.float32)
        return PeopleLayer(int(low[0]), int(low[1]), paint * cloth * scale, cover / np.float32(count), depth)

    def _moment(
        self, person: ScenePerson, camera: PhoneCamera, time_s: float, share: float, mirrored: bool
    ) -> tuple[Points, Points, Points]:
        """Return joints in pixels, their distances, and the racket's points in pixels."""
        joints, racket = exposed_pose(person.motion, camera, self.scene.settings, time_s, share)
        if mirrored:
            joints, racket = mirrored_pose(joints, racket)
        hand, tip, across = racket
        throat = hand + (THROAT_M / 0.68) * (tip - hand)
        side = 0.5 * (throat + tip) + HEAD_SIDE_M * across
        pixels, distance = camera.project(joints)
        if not person.motion.habits.racket:
            return pixels, distance, pixels[8:10]
        return pixels, distance, camera.project(np.array([hand, throat, tip, side]))[0]

    def shadow(self, people: list[ScenePerson], camera: PhoneCamera, time_s: float) -> Picture | None:
        """Return soft spots under the feet and the body, moved a little to one side."""
        width, height = camera.size[0] // 2, camera.size[1] // 2
        mask = np.zeros((height, width), np.float32)
        for person in people:
            joints, _ = exposed_pose(person.motion, camera, self.scene.settings, time_s, 0.5)
            spots = [(joints[[16, 18]].mean(0), 0.13, 1.0), (joints[[17, 19]].mean(0), 0.13, 1.0),
                     (joints[3], 0.32, 0.55), (joints[2], 0.3, 0.35)]  # fmt: skip
            for place, radius, depth in spots:
                floor = np.array([*(place[:2] + self.slant_m * place[2]), 0.0])
                around = floor + radius * np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]])
                pixels, distance = camera.project(around)
                if distance.min() < 0.4 or np.abs(pixels).max() > 5000:
                    continue
                across, down = np.abs(pixels[1] - pixels[0])[0] / 2, np.abs(pixels[2] - pixels[0])[1] / 2
                spot = np.zeros_like(mask)
                axes = (max(1, int(across)), max(1, int(down)))
                cv2.ellipse(spot, tuple(int(c) for c in pixels[0] / 2), axes, 0, 0, 360, depth, -1)
                mask = np.maximum(mask, spot)
        soft = cv2.GaussianBlur(mask, (0, 0), 0.007 * width)
        return np.asarray(1 - self.shade * cv2.resize(soft, camera.size), np.float32)
