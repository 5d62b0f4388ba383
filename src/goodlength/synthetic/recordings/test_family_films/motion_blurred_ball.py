"""The ball during one frame's exposure: drawn along its streak, and what is true of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films import frame_compositing as layers
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import FLOOR
from goodlength.synthetic.recordings.test_family_films.court_picture.empty_court_rendering import CourtPlate
from goodlength.synthetic.recordings.test_family_films.depth_layer_and_posed_mesh_buffers import MovingLayer
from goodlength.synthetic.recordings.test_family_films.frame_ground_truth import BallTruth
from goodlength.synthetic.recordings.test_family_films.scene_description import FilmScene

Floats = NDArray[np.float64]


class BallInFrame:
    """The ball during one frame: drawn moment by moment, and its truth."""

    def __init__(self, scene: FilmScene, start_s: float, camera: FilmCamera) -> None:
        self.scene, self.start_s, self.camera = scene, start_s, camera
        self.seen = self.whole = self.sum_u = self.sum_v = 0.0
        self.known = scene.ball is not None and bool(
            np.isfinite(self._place(start_s + 0.5 * scene.timing.span_s)).all()
        )
        t = scene.timing
        self.row_s = 0.0
        if self.known:
            for _ in range(2):
                v = float(camera.project(self._place(start_s + self.row_s + 0.5 * t.exposure_s))[0, 1])
                if math.isfinite(v):
                    self.row_s = t.readout_s * min(max(v / camera.height, 0.0), 1.0)

    def _place(self, time_s: float) -> Floats:
        ball = self.scene.ball
        if ball is None:
            return np.full(3, np.nan)
        at = min(max(time_s * self.scene.ball_hz, 0.0), len(ball) - 1.001)
        i = int(at)
        return np.asarray((1.0 - (at - i)) * ball[i] + (at - i) * ball[i + 1])

    def draw(
        self, layer: MovingLayer, lamps: Floats, mirror: bool, moment: int, count: int, plate: CourtPlate
    ) -> None:
        """Draw the ball's part of one moment into the court's layer or the floor's mirror."""
        if not self.known:
            return
        t = self.scene.timing
        begin = self.start_s + self.row_s + moment / count * t.exposure_s
        ends = self.camera.project(np.stack([self._place(begin), self._place(begin + t.exposure_s / count)]))
        if not np.isfinite(ends).all():
            return
        steps = int(np.clip(np.hypot(*(ends[1, :2] - ends[0, :2])) / 0.7, 2, 24))
        places = np.stack(
            [self._place(begin + (k + 0.5) / steps * t.exposure_s / count) for k in range(steps)]
        )
        before = plate.depth
        if mirror:
            if self.scene.court.floor_reflectance <= 0.004:
                return
            before = np.where(plate.surface == FLOOR, np.inf, -np.inf).astype(np.float32)
        sums = layers.draw_ball(
            self.camera.packed,
            places,
            np.array(self.scene.ball_albedo),
            lamps,
            self.scene.court.ambient,
            mirror,
            before,
            layer.depth,
            layer.colour,
            1.0 / count,
            layer.total,
            layer.box,
        )
        if not mirror:
            self.seen, self.whole = self.seen + sums[0], self.whole + sums[1]
            self.sum_u, self.sum_v = self.sum_u + sums[2], self.sum_v + sums[3]

    def truth(self) -> BallTruth | None:
        """Return the ball's truth, None where nobody shows a ball."""
        if not self.known:
            return None
        t = self.scene.timing
        open_s = self.start_s + self.row_s
        place = self._place(open_s + 0.5 * t.exposure_s)
        pixels = self.camera.project(
            np.stack([self._place(open_s), place, self._place(open_s + t.exposure_s)])
        )
        radius = self.camera.focal_px * layers.BALL_RADIUS_M / max(float(pixels[1, 2]), 0.1)
        share = self.seen / self.whole if self.whole > 0.0 else 0.0
        middle = (self.sum_u / self.seen, self.sum_v / self.seen) if self.seen > 1e-9 else None
        return BallTruth(
            (float(place[0]), float(place[1]), float(place[2])),
            (float(pixels[1, 0]), float(pixels[1, 1])),
            (float(pixels[0, 0]), float(pixels[0, 1]), float(pixels[2, 0]), float(pixels[2, 1])),
            radius,
            min(1.0, share),
            middle,
            self.scene.in_play(open_s),
        )
