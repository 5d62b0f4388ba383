"""Scene of a generated film: camera with its knocks, play, and everybody who can be seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.recording_types import WorldContact, WorldSpan
from goodlength.synthetic.recordings.training_films.ball_and_player_positions_of_play import (
    GRID_HZ,
    SeenPlay,
    seen_play,
)
from goodlength.synthetic.recordings.training_films.player_skeleton_motion import (
    SkeletonMotion,
    draw_habits,
    facing_of,
    move_body,
)
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import (
    PhoneCamera,
    camera_towards,
)
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Points = NDArray[np.float64]
ADULT_M = (1.58, 1.95)  # statures; ASSUMED


@dataclass(frozen=True)
class ScenePerson:
    """A person: a name, how he moves, a seed of his looks, and on which side of the glass he is.

    `side` is "court", "beyond" (behind a glass wall, further from the camera) or "before" (between the
    camera and the back wall).
    """

    name: str
    motion: SkeletonMotion
    seed: int
    side: str


@dataclass(frozen=True)
class GeneratedScene:
    """Everything that a family's renderer needs; `cameras` holds a camera and from when it holds.

    `more_plays` are plays of which only the ball is shown, for films with several balls.
    """

    settings: FilmSettings
    cameras: tuple[tuple[float, PhoneCamera], ...]
    play: SeenPlay
    people: tuple[ScenePerson, ...]
    seconds: float
    seed: int
    more_plays: tuple[SeenPlay, ...] = ()

    def camera_at(self, time_s: float) -> PhoneCamera:
        """Return the camera of a time."""
        return [camera for begin, camera in self.cameras if begin <= time_s or begin == 0][-1]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.cameras[0][1].size

    def people_on(self, side: str) -> list[ScenePerson]:
        """Return those on one side of the glass."""
        return [person for person in self.people if person.side == side]


def draw_scene(
    rng: np.random.Generator,
    settings: FilmSettings,
    contacts: Sequence[WorldContact],
    spans: Sequence[WorldSpan],
    seconds: float,
    long_side: int = 640,
) -> GeneratedScene:
    """Return a scene for the contacts of a session.

    Parameters
    ----------
    rng : numpy Generator
    settings : FilmSettings
    contacts, spans : sequences
        What is played; times from the film's beginning.
    seconds : float
    long_side : int
        The picture's longer side in pixels; the other is nine sixteenths of it.
    """
    short = round(long_side * 9 / 16 / 2) * 2
    size = (short, long_side) if settings.portrait else (long_side, short)
    camera = _camera(rng, settings, size)
    play = seen_play(rng, contacts, spans, seconds)
    people = [_player(rng, play, who) for who in (0, 1)]
    for i in range(settings.spectators):
        people.append(_bystander(rng, settings, camera, f"spectator {i}", seconds))
    if settings.crossing and camera.place_m[1] > court.LENGTH_M + 0.8:
        people.append(_walker(rng, camera, seconds))
    cameras = [(0.0, camera)]
    for time_s in np.sort(rng.uniform(0.2, 0.9, settings.nudges)) * seconds:
        degrees = rng.normal(0, 1, 3) * [0.7, 0.5, 0.4]
        camera = camera.turned(*(float(angle) for angle in np.radians(degrees)))
        cameras.append((float(time_s), camera))
    return GeneratedScene(settings, tuple(cameras), play, tuple(people), seconds, int(rng.integers(2**31)))


def _camera(rng: np.random.Generator, settings: FilmSettings, size: tuple[int, int]) -> PhoneCamera:
    """Return a phone at a lawful place: the wider its lens, the nearer it stands."""
    across = settings.field_deg
    if settings.portrait:  # the shorter side must show the court
        across = math.degrees(2 * math.atan(math.tan(math.radians(across) / 2) * 9 / 16))
    near = 2.9 / math.tan(math.radians(min(across, 105)) / 2)
    x = float(rng.uniform(2.0, 4.4))
    if settings.place == "behind glass":
        y, z = court.LENGTH_M + max(0.35, near * rng.uniform(0.75, 1.1) - 1.0), rng.uniform(1.15, 2.0)
    elif settings.place == "balcony":
        y, z = court.LENGTH_M + max(0.35, near * rng.uniform(0.7, 1.1) - 1.0), rng.uniform(2.8, 4.6)
    else:
        y, z = court.LENGTH_M - 0.05, rng.uniform(2.3, 3.6)
    target = np.array([3.2 + rng.normal(0, 0.2), rng.uniform(2.2, 4.8), rng.uniform(0.5, 1.3)])
    camera = camera_towards(np.array([x, y, z]), target, settings.field_deg, settings.corner_loss, size)
    return camera.turned(0.0, 0.0, float(rng.normal(0, math.radians(0.7))))


def _player(rng: np.random.Generator, play: SeenPlay, who: int) -> ScenePerson:
    strikes = [strike for strike in play.strikes if strike.striker == who]
    path = play.paths_m[who]
    motion = move_body(draw_habits(rng, ADULT_M, True), path, strikes, facing_of(path, strikes, True))
    return ScenePerson(f"player {who}", motion, int(rng.integers(2**31)), "court")


def _bystander(
    rng: np.random.Generator, settings: FilmSettings, camera: PhoneCamera, name: str, seconds: float
) -> ScenePerson:
    """Return somebody who stands and shifts behind a glass wall, or by the back wall before the camera."""
    count = round((seconds + 2) * GRID_HZ)
    sway = np.cumsum(rng.normal(0, 0.006, (count, 2)), axis=0)
    sway = 0.35 * sway / max(1.0, float(np.abs(sway).max()))
    sway += 0.25 * np.sin(
        np.arange(count)[:, None] / GRID_HZ * rng.uniform(0.2, 0.9, 2) + rng.uniform(0, 6, 2)
    )
    far = settings.walls == "glass" and rng.random() < 0.8
    if far and rng.random() < 0.6:
        place, side = np.array([rng.uniform(0.3, 6.1), rng.uniform(-1.9, -0.7)]), "beyond"
    elif far:
        place = np.array([rng.choice([-0.9, court.WIDTH_M + 0.9]), rng.uniform(0.5, 5.5)])
        side = "beyond"
    else:
        room = max(0.45, min(1.4, float(camera.place_m[1]) - court.LENGTH_M - 1.0))
        aside = rng.choice([-1, 1]) * rng.uniform(1.0, 2.6)
        place, side = np.array([3.2 + aside, court.LENGTH_M + 0.1 + 0.7 * room]), "before"
    facing = np.tile(np.array([3.2, 4.5]) - place, (count, 1))
    facing = facing / np.linalg.norm(facing, axis=1, keepdims=True)
    motion = move_body(draw_habits(rng, ADULT_M, False), place + sway, [], facing)
    return ScenePerson(name, motion, int(rng.integers(2**31)), side)


def _walker(rng: np.random.Generator, camera: PhoneCamera, seconds: float) -> ScenePerson:
    """Return somebody who crosses between camera and back wall."""
    times = np.arange(round((seconds + 2) * GRID_HZ)) / GRID_HZ
    way = 1 if rng.random() < 0.5 else -1
    begin = rng.uniform(0.1, 0.6) * seconds
    x = 3.2 + way * (rng.uniform(0.9, 1.5) * (times - begin) - 4.5)
    low = court.LENGTH_M + 0.4
    y = rng.uniform(low, max(low + 0.1, float(camera.place_m[1]) - 0.7))
    path = np.column_stack([x, np.full(len(x), y)])
    motion = move_body(draw_habits(rng, ADULT_M, False), path, [], facing_of(path, [], False))
    return ScenePerson("walker", motion, int(rng.integers(2**31)), "before")


def sound_delays_s(play: SeenPlay, camera: PhoneCamera) -> tuple[float, ...]:
    """Return how long the sound of each contact travels to the camera's microphone."""
    places = [min(play.impacts_m, key=lambda row: abs(row[0] - c.time_s))[1:] for c in play.contacts]
    return tuple(float(np.linalg.norm(place - camera.place_m)) / 343.0 for place in places)
