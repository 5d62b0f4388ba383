"""What a film shows: court, camera and its knocks, timing of the sensor, people, ball, lamps over time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.bodies.person_and_racket_meshes import FilmPerson
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    CourtScene,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Timing:
    """Frames a second, exposure, and the time from the first row's to the last row's reading."""

    frames_per_s: float
    exposure_s: float
    readout_s: float

    @property
    def span_s(self) -> float:
        """From the first row's opening to the last row's closing."""
        return self.readout_s + self.exposure_s


@dataclass(frozen=True)
class CameraKnock:
    """A knock of the camera: when, how long it swings, and the angles (yaw, pitch, roll) it ends at."""

    start_s: float
    seconds: float
    angles_rad: tuple[float, float, float]
    swing_rad: tuple[float, float, float]

    def angles_at(self, time_s: float) -> tuple[float, float, float]:
        """Return the angles added at a time."""
        s = (time_s - self.start_s) / self.seconds
        if s <= 0.0:
            return (0.0, 0.0, 0.0)
        ease = min(1.0, s) ** 2 * (3.0 - 2.0 * min(1.0, s))
        wave = math.sin(2.0 * math.pi * 3.0 * s) * max(0.0, 1.0 - s) * min(1.0, 8.0 * s)
        a, b, c = (e * ease + w * wave for e, w in zip(self.angles_rad, self.swing_rad, strict=True))
        return a, b, c


@dataclass
class FilmScene:
    """Everything that a film shows."""

    court: CourtScene
    camera: FilmCamera
    timing: Timing
    people: list[FilmPerson]
    ball: Floats | None
    ball_hz: float
    ball_albedo: tuple[float, float, float]
    knocks: list[CameraKnock] = field(default_factory=list)
    light_at: Callable[[Floats], Floats] = np.ones_like
    in_play: Callable[[float], bool] = bool
    mirror_blur: float = 1.0

    def camera_at(self, time_s: float) -> FilmCamera:
        """Return the camera's pose at a time."""
        angles = np.sum([k.angles_at(time_s) for k in self.knocks], axis=0) if self.knocks else np.zeros(3)
        return (
            self.camera
            if not angles.any()
            else self.camera.moved(float(angles[0]), float(angles[1]), float(angles[2]), (0.0, 0.0, 0.0))
        )
