"""Composition of frames: an empty court, people, mirror images, shadows and the ball, with truth.

```
 empty court ─> people beyond glass ─> shadows ─> mirror images ─> players ─> ball ─> glass ─> people before
```
What a court, a body or a shadow looks like is the family's own (`FamilyRenderer`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.ball_and_player_positions_of_play import (
    BALL_RADIUS_M,
    SeenPlay,
)
from goodlength.synthetic.recordings.training_films.ground_truth_label_types import BallLabel, FrameLabel
from goodlength.synthetic.recordings.training_films.person_and_court_mark_labels import (
    mark_labels,
    person_label,
)
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import (
    NEAR_M,
    PhoneCamera,
)
from goodlength.synthetic.recordings.training_films.random_scene import GeneratedScene, ScenePerson
from goodlength.synthetic.recordings.training_films.rolling_shutter_poses import exposed_ball

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
SEE_THROUGH = 0.3  # least share of light let through of a place that can be seen
SUB_PLACES = 240  # of the ball within a frame's readout and exposure


@dataclass(frozen=True)
class EmptyCourtPicture:
    """Empty court from one camera, linear light.

    `lit` is what is seen without mirroring, `mirror` the mirror image, `mirror_share` how much of it the
    floor adds (and takes from `lit`), `floor` 1 on the floor, `through` what a glass wall lets through from
    behind, `glass_gain` and `glass_light` what the back glass takes and adds.
    """

    lit: Picture
    mirror: Picture
    mirror_share: Picture
    floor: Picture
    through: Picture
    glass_gain: Picture
    glass_light: Picture

    def base(self) -> Picture:
        """Return the court as it is seen with nobody on it, before the back glass."""
        share = self.mirror_share[..., None]
        return self.lit * (1 - share) + self.mirror * share


@dataclass(frozen=True)
class PeopleLayer:
    """People in a part of the picture: colour times cover, cover, and the nearest distance in metres."""

    left: int
    top: int
    colour: Picture
    cover: Picture
    depth: Picture

    @property
    def window(self) -> tuple[slice, slice]:
        """The part of the picture."""
        height, width = self.cover.shape
        return slice(self.top, self.top + height), slice(self.left, self.left + width)


class FamilyRenderer(Protocol):
    """The look of one family in one scene."""

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        ...

    def people(
        self, people: list[ScenePerson], camera: PhoneCamera, time_s: float, mirrored: bool
    ) -> PeopleLayer | None:
        """Return people as a layer, upside down under the floor if mirrored; None where none is in view."""
        ...

    def shadow(self, people: list[ScenePerson], camera: PhoneCamera, time_s: float) -> Picture | None:
        """Return what shadows leave of the floor's light, 0 to 1, over the whole picture."""
        ...

    def ball_colour(self, place_m: Points) -> Picture:
        """Return the ball's colour where it is."""
        ...


@njit(cache=True)
def add_discs(cover: Picture, centres: Points, radii: Points, squash: float, weight: float) -> None:
    """Add soft-edged discs to a cover; discs below a pixel keep their area as weight."""
    height, width = cover.shape
    for i in range(len(centres)):
        radius, own = radii[i], weight
        if radius < 0.7:
            own *= radius * radius / 0.49
            radius = 0.7
        reach = int(radius + 2)
        column, row = int(centres[i, 0]), int(centres[i, 1])
        for v in range(max(0, row - reach), min(height, row + reach + 1)):
            for u in range(max(0, column - reach), min(width, column + reach + 1)):
                across, along = u + 0.5 - centres[i, 0], (v + 0.5 - centres[i, 1]) / squash
                distance = (across * across + along * along) ** 0.5
                cover[v, u] += own * min(1.0, max(0.0, radius - distance + 0.5))


def disc_window(
    centres: Points, radii: Points, size: tuple[int, int], squash: float = 1.0
) -> tuple[tuple[slice, slice], Picture]:
    """Return the part of a picture that discs reach, and the mean cover of the discs in it."""
    low = np.floor(centres.min(0) - radii.max() - 3).astype(int)
    high = np.ceil(centres.max(0) + radii.max() + 3).astype(int)
    left, right = (int(side) for side in np.clip([low[0], high[0]], 0, size[0]))
    top, bottom = (int(side) for side in np.clip([low[1], high[1]], 0, size[1]))
    cover = np.zeros((bottom - top, right - left), np.float32)
    add_discs(cover, centres - np.array([left, top]), radii, squash, 1 / len(centres))
    return (slice(top, bottom), slice(left, right)), cover


def frames_of(
    scene: GeneratedScene,
    renderer: FamilyRenderer,
    with_ball: bool = True,
    numbers: Sequence[int] | None = None,
) -> Iterator[tuple[Picture, FrameLabel]]:
    """Yield linear pictures with their truth.

    Parameters
    ----------
    scene : GeneratedScene
    renderer : FamilyRenderer
    with_ball : bool
        False leaves the ball out of the picture (not out of the truth), for comparison.
    numbers : sequence of int, optional
        Which frames to draw, in order; all when None.
    """
    plates: dict[float, tuple[EmptyCourtPicture, Picture]] = {}
    settings = scene.settings
    every = range(int(scene.seconds * settings.frames_per_second))
    for i in every if numbers is None else numbers:
        time_s = i / settings.frames_per_second
        camera = scene.camera_at(time_s)
        begin = max(begin for begin, _ in scene.cameras if begin <= time_s)
        if begin not in plates:
            plate = renderer.plate(camera)
            plates = {begin: (plate, plate.base())}
        yield _frame(scene, renderer, camera, plates[begin], time_s, with_ball)


def _frame(
    scene: GeneratedScene,
    renderer: FamilyRenderer,
    camera: PhoneCamera,
    court: tuple[EmptyCourtPicture, Picture],
    time_s: float,
    with_ball: bool,
) -> tuple[Picture, FrameLabel]:
    plate, base = court
    light = base.copy()
    depth = np.full(light.shape[:2], np.inf, np.float32)
    players = scene.people_on("court")
    _add_beyond(light, plate, renderer.people(scene.people_on("beyond"), camera, time_s, False), depth)
    shadow = renderer.shadow(players, camera, time_s)
    if shadow is not None:
        share = plate.floor * (1 - plate.mirror_share) * (1 - shadow)
        light -= plate.lit * share[..., None]
    mirrored = renderer.people(players, camera, time_s, True)
    if mirrored is not None:
        at = mirrored.window
        change = mirrored.colour - mirrored.cover[..., None] * plate.mirror[at]
        light[at] += plate.mirror_share[at][..., None] * change
    _add_people(light, depth, renderer.people(players, camera, time_s, False))
    before = renderer.people(scene.people_on("before"), camera, time_s, False)
    if before is not None:
        nearer = np.where(before.cover > 0.5, before.depth, np.inf)
        depth[before.window] = np.minimum(depth[before.window], nearer)
    ball = _add_ball(scene, scene.play, renderer, camera, plate, light, depth, time_s, with_ball)
    more = [
        _add_ball(scene, play, renderer, camera, plate, light, depth, time_s, with_ball)
        for play in scene.more_plays
    ]
    light *= plate.glass_gain[..., None]
    light += plate.glass_light
    _add_people(light, depth, before)
    middle_s = time_s + 0.5 * (settings_span_s(scene))
    walled = np.where(plate.through > SEE_THROUGH, depth, np.float32(0))  # of those behind glass walls
    people = tuple(
        person_label(person, camera, scene.settings, time_s, walled if person.side == "beyond" else depth)
        for person in scene.people
    )
    marks_px, marks_visible = mark_labels(camera, depth)
    pose = np.column_stack([camera.rotation, camera.place_m])
    balls = tuple(each for each in more if each is not None)
    return light, FrameLabel(middle_s, people, ball, marks_px, marks_visible, pose, balls)


def settings_span_s(scene: GeneratedScene) -> float:
    """Return seconds from the first row's begin to the last row's end."""
    return scene.settings.readout_s + scene.settings.exposure_s


def _add_people(light: Picture, depth: Picture, layer: PeopleLayer | None) -> None:
    if layer is None:
        return
    at = layer.window
    light[at] *= (1 - layer.cover)[..., None]
    light[at] += layer.colour
    depth[at] = np.minimum(depth[at], np.where(layer.cover > 0.5, layer.depth, np.inf))


def _add_beyond(light: Picture, plate: EmptyCourtPicture, layer: PeopleLayer | None, depth: Picture) -> None:
    """Add people behind glass walls."""
    if layer is None:
        return
    at = layer.window
    through = plate.through[at][..., None]
    light[at] += through * (layer.colour - layer.cover[..., None] * light[at])
    seen = (layer.cover > 0.5) & (plate.through[at] > SEE_THROUGH)
    depth[at] = np.minimum(depth[at], np.where(seen, layer.depth, np.inf))


def _add_ball(
    scene: GeneratedScene,
    play: SeenPlay,
    renderer: FamilyRenderer,
    camera: PhoneCamera,
    plate: EmptyCourtPicture,
    light: Picture,
    depth: Picture,
    time_s: float,
    with_ball: bool,
) -> BallLabel | None:
    """Add the ball with its streak, shadow and mirror image; return its truth."""
    times = time_s + np.linspace(0, settings_span_s(scene), SUB_PLACES)
    places = exposed_ball(play.ball_at(times), times, camera, scene.settings, time_s)
    if len(places) == 0:
        return None
    pixels, distance = camera.project(places)
    if distance.min() <= NEAR_M:
        return None
    radii = camera.focal_px * BALL_RADIUS_M / distance
    at, cover = disc_window(pixels, radii, camera.size)
    whole = float(np.pi * (radii**2).mean())
    unhidden = cover * (depth[at] > distance.mean())
    seen = unhidden * (plate.glass_gain[at] > 0.4)
    if with_ball:
        colour = renderer.ball_colour(places.mean(0))
        _add_ball_below(plate, light, camera, places, radii, colour)
        share = unhidden.clip(0, 1)[..., None]
        light[at] = light[at] * (1 - share) + share * colour
    middle = places[len(places) // 2]
    return BallLabel(
        middle,
        camera.project(middle)[0],
        pixels[[0, -1]],
        float(radii.mean()),
        min(1.0, float(seen.sum()) / max(float(whole), 1e-9)),
    )


def _add_ball_below(
    plate: EmptyCourtPicture,
    light: Picture,
    camera: PhoneCamera,
    places: Points,
    radii: Points,
    colour: Picture,
) -> None:
    """Add the ball's shadow under it and its mirror image in the floor."""
    height = float(places[:, 2].mean())
    if height < 1.0:
        pixels, _ = camera.project(places * np.array([1, 1, 0]))
        at, shade = disc_window(pixels, radii * (1 + 1.5 * height), camera.size, 0.4)
        shade = (0.55 * (1 - height) * shade).clip(0, 1)
        light[at] -= plate.lit[at] * (plate.floor[at] * shade)[..., None]
    at, mirrored = disc_window(camera.project(places * np.array([1, 1, -1]))[0], radii, camera.size)
    share = (plate.mirror_share[at] * mirrored.clip(0, 1))[..., None]
    light[at] += share * (colour - plate.mirror[at])
