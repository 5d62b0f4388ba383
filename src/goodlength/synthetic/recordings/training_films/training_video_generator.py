"""Films of a training family: settings, play, picture and file from one seed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.recording_types import Surface, WorldContact, WorldRecording, WorldSpan
from goodlength.synthetic.recordings.training_films.ball_and_player_positions_of_play import seen_play
from goodlength.synthetic.recordings.training_films.frame_composition import FamilyRenderer, frames_of
from goodlength.synthetic.recordings.training_films.ground_truth_label_types import FilmLabels, FrameLabel
from goodlength.synthetic.recordings.training_films.label_scaling_to_smaller_frame import scaled_frame
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import (
    FilmSettings,
    SettingRanges,
    draw_settings,
)
from goodlength.synthetic.recordings.training_films.random_scene import (
    GeneratedScene,
    draw_scene,
    sound_delays_s,
)
from goodlength.synthetic.recordings.training_films.sensor_and_codec_simulation import (
    PhoneSensor,
    copy_size,
    write_frames,
)

Bytes = NDArray[np.uint8]
Played = tuple[Sequence[WorldContact], Sequence[WorldSpan]]


@dataclass(frozen=True)
class FilmFamily:
    """A family: its name, what it draws from, what is played, and how a scene is drawn."""

    name: str
    ranges: SettingRanges
    play: Callable[[np.random.Generator, float], Played]
    renderer: Callable[[GeneratedScene], FamilyRenderer]


@dataclass(frozen=True)
class GeneratedFilm:
    """A film before it is coded: its scene and renderer."""

    family: FilmFamily
    scene: GeneratedScene
    sensor_seed: int
    recording: WorldRecording | None = None

    def frames(
        self, with_ball: bool = True, numbers: Sequence[int] | None = None
    ) -> Iterator[tuple[Bytes, FrameLabel]]:
        """Yield frames of shape (height, width, 3), red, green, blue, with their truth, not coded.

        `numbers` says which frames, in order; all when None.
        """
        sensor = PhoneSensor(np.random.default_rng(self.sensor_seed), self.scene.settings, self.scene.size)
        renderer = self.family.renderer(self.scene)
        for light, label in frames_of(self.scene, renderer, with_ball, numbers):
            yield sensor.expose(light, label.time_s), label

    def labels(self) -> FilmLabels:
        """Return the truth without its frames."""
        scene = self.scene
        camera = scene.cameras[0][1]
        return FilmLabels(
            family=self.family.name,
            conditions=scene.settings.as_conditions(),
            frames_per_second=scene.settings.frames_per_second,
            size=scene.size,
            focal_px=camera.focal_px,
            radial=camera.radial,
            player_names=("player 0", "player 1"),
            contacts=scene.play.contacts,
            spans=scene.play.spans,
            nudges_s=tuple(begin for begin, _ in scene.cameras[1:]),
            sound_delay_s=sound_delays_s(scene.play, camera),
        )

    def write(self, path: Path) -> FilmLabels:
        """Write the film; return its truth in pixels of the file."""
        labels: list[FrameLabel] = []

        def pictures() -> Iterator[Bytes]:
            for picture, label in self.frames():
                labels.append(label)
                yield picture

        sound = None
        if self.recording is not None:
            sound = (self.recording.samples[0], self.recording.rate)
        write_frames(path, pictures(), self.scene.settings, sound)
        whole = replace(self.labels(), frames=tuple(labels))
        if not self.scene.settings.messenger:
            return whole
        small = copy_size(self.scene.size)
        share = np.array(small) / np.array(self.scene.size)
        return replace(
            whole,
            size=small,
            focal_px=whole.focal_px * float(share[0]),
            frames=tuple(scaled_frame(frame, share) for frame in labels),
        )


def generate_film(
    family: FilmFamily,
    seed: int,
    seconds: float = 10.0,
    long_side: int = 640,
    recording: WorldRecording | None = None,
    more_balls: int = 0,
    **wanted: object,
) -> GeneratedFilm:
    """Return a film of a family; the same seed gives the same film.

    Parameters
    ----------
    family : FilmFamily
    seed : int
    seconds : float
    long_side : int
        The picture's longer side in pixels.
    recording : WorldRecording, optional
        A recording whose play is shown and whose sound the file carries; else the family plays a session.
    more_balls : int
        So many balls of other sessions fly through the court beside the one in play; nothing else changes.
    **wanted
        Settings of `FilmSettings` by name that replace what is drawn.
    """
    rng = np.random.default_rng([seed, *family.name.encode()])
    settings: FilmSettings = draw_settings(rng, family.ranges, **wanted)
    if recording is None:
        contacts, spans = family.play(rng, seconds)
    else:
        contacts, spans = recording.contacts, recording.spans
    scene = draw_scene(rng, settings, contacts, spans, seconds, long_side)
    film = GeneratedFilm(family, scene, int(rng.integers(2**31)), recording)
    if not more_balls:
        return film
    plays = [seen_play(rng, *family.play(rng, seconds), seconds) for _ in range(more_balls)]
    return replace(film, scene=replace(scene, more_plays=tuple(plays)))


def from_first_rally(contacts: Sequence[WorldContact], spans: Sequence[WorldSpan], lead_s: float) -> Played:
    """Return a session moved in time so that a serve is struck `lead_s` after the beginning."""
    serves = [c.time_s for c in contacts if c.surface is Surface.RACKET and c.own_court]
    starts = [s.start_s for s in spans if s.activity.value == "rally"] or serves[:1]
    shift = (starts[0] - lead_s) if starts else 0.0
    moved = [replace(c, time_s=c.time_s - shift) for c in contacts]
    spans = [
        replace(s, start_s=s.start_s - shift, end_s=s.end_s - shift,
                last_strike_s=None if s.last_strike_s is None else s.last_strike_s - shift)
        for s in spans
    ]  # fmt: skip
    return moved, spans
