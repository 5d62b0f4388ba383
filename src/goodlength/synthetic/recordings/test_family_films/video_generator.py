"""Whole films of the judging family: drawn from a seed, rendered, coded, with the truth of every frame.

```
 seed ──> conditions ──> court, camera, play, people, sensor, codec ──> frames ──> file
                                                                    └──> truth
```
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.synthetic.recordings.recording_types import Activity, WorldContact, WorldSpan
from goodlength.synthetic.recordings.test_family_films import random_cast_of_people as casting
from goodlength.synthetic.recordings.test_family_films.bodies.person_and_racket_meshes import FilmPerson
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    CourtScene,
)
from goodlength.synthetic.recordings.test_family_films.frame_by_frame_rendering import FilmRenderer
from goodlength.synthetic.recordings.test_family_films.frame_ground_truth import (
    FilmTruth,
    FrameTruth,
    mirrored_truth,
    scaled_truth,
)
from goodlength.synthetic.recordings.test_family_films.match_play_and_running_simulation import (
    BALL_HZ,
    FilmPlay,
    play_film,
    toss_ball,
)
from goodlength.synthetic.recordings.test_family_films.random_court_and_camera import (
    between,
    draw_camera,
    draw_court,
)
from goodlength.synthetic.recordings.test_family_films.random_filming_conditions import (
    FilmConditions,
    draw_conditions,
)
from goodlength.synthetic.recordings.test_family_films.scene_description import CameraKnock, FilmScene, Timing
from goodlength.synthetic.recordings.test_family_films.sensor_and_codec_simulation import (
    CodecSettings,
    SensorChain,
    SensorSettings,
    messenger_copy,
    write_video,
)

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
FAMILY = "judging films"
SHORTEST_S, LONGEST_S = 0.2, 120.0
_SHUTTERS = {"1/50 to 1/90": (50.0, 90.0), "1/90 to 1/200": (90.0, 200.0), "1/200 to 1/500": (200.0, 500.0)}
_NOISES = {"little": (0.006, 0.002), "some": (0.018, 0.005), "much": (0.042, 0.013)}
_RATES_MB_S = {
    "H.264 high": (8.0, 20.0),
    "H.264 low": (2.0, 4.0),
    "HEVC high": (5.0, 12.0),
    "HEVC low": (2.0, 3.0),
    "messenger copy": (8.0, 16.0),
}
_BALLS = {"black": (0.018, 0.018, 0.02), "blue": (0.02, 0.05, 0.2), "white": (0.75, 0.75, 0.72)}


@dataclass(frozen=True)
class FilmPlan:
    """A film before it is rendered."""

    seed: int
    seconds: float
    conditions: FilmConditions
    scene: FilmScene
    play: FilmPlay | None
    sensor: SensorSettings
    codec: CodecSettings


def _timing(rng: np.random.Generator, c: FilmConditions) -> Timing:
    rate = float(c.rate)
    exposure = 1.0 / between(rng, _SHUTTERS[c.shutter])
    longest = 0.95 / rate
    readout = min(between(rng, (0.006, 0.022)), longest)
    return Timing(rate, min(exposure, longest), readout)


def _knocks(rng: np.random.Generator, c: FilmConditions, seconds: float) -> list[CameraKnock]:
    out = []
    for _ in range({"none": 0, "one": 1, "two": 2}[c.nudge]):
        size = math.radians(between(rng, (0.25, 1.6)))
        a, b, d = (float(n) for n in rng.normal(0.0, 1.0, 3) * [1.0, 0.6, 0.4] * size)
        e, f, g = (float(n) for n in rng.normal(0.0, 1.0, 3) * [0.5, 0.5, 0.3] * size)
        start = between(rng, (0.15 * seconds, 0.85 * seconds))
        out.append(CameraKnock(start, between(rng, (0.2, 0.9)), (a, b, d), (e, f, g)))
    return sorted(out, key=lambda k: k.start_s)


@dataclass(frozen=True)
class LampsOverTime:
    """How bright the lamps are over time: flicker of the mains as one exposure averages it, and a failure."""

    depth: float
    hertz: float
    phase: float
    fail_s: tuple[float, float] = (math.inf, math.inf)
    left: float = 1.0

    def __call__(self, times: Floats) -> Floats:
        """Return the share of light at times."""
        gain = 1.0 + self.depth * np.cos(2.0 * math.pi * self.hertz * times + self.phase)
        failed = (times >= self.fail_s[0]) & (times < self.fail_s[1])
        return np.where(failed, self.left * gain, gain)


def _lamps_over_time(rng: np.random.Generator, c: FilmConditions, t: Timing, seconds: float) -> LampsOverTime:
    hertz = float(rng.choice([100.0, 120.0]))
    depth, fail, left = 0.0, (math.inf, math.inf), 1.0
    if c.lights == "flicker":
        depth = between(rng, (0.05, 0.35)) * abs(float(np.sinc(hertz * t.exposure_s)))
    if c.lights == "fail":
        start = between(rng, (0.2, 0.7)) * seconds
        fail, left = (start, start + between(rng, (1.0, 5.0))), between(rng, (0.06, 0.4))
    return LampsOverTime(depth, hertz, between(rng, (0.0, 2.0 * math.pi)), fail, left)


def _sensor(rng: np.random.Generator, c: FilmConditions, pixels_high: int) -> SensorSettings:
    shot, read = _NOISES[c.noise]
    white = np.array([between(rng, (0.9, 1.12)), 1.0, between(rng, (0.85, 1.12))])
    return SensorSettings(
        blur_px=between(rng, (0.35, 1.0)) * pixels_high / 720.0,
        shot_noise=shot * between(rng, (0.7, 1.3)),
        read_noise=read * between(rng, (0.7, 1.3)),
        corner_fall=between(rng, (0.0, 0.3)),
        sharpening=between(rng, (0.0, 0.7)),
        white=(float(white[0]), float(white[1]), float(white[2])),
        contrast=between(rng, (0.0, 0.25)),
        brightness=between(rng, (0.4, 0.75)),
    )


def _codec(rng: np.random.Generator, c: FilmConditions) -> CodecSettings:
    mb_s = between(rng, _RATES_MB_S[c.codec])
    name = "HEVC" if c.codec.startswith("HEVC") else "H.264"
    keyframe = float(rng.choice([1.0, 2.0, 5.0]))
    if c.codec == "messenger copy":
        return CodecSettings(name, mb_s, keyframe, int(rng.choice([360, 480])), between(rng, (0.6, 1.6)))
    return CodecSettings(name, mb_s, keyframe)


def draw_scene(seed: int, kind: str = "singles", seconds: float = 20.0, **chosen: str) -> FilmPlan:
    """Return everything of a film, not yet rendered; the same seed and choices give the same film.

    Parameters
    ----------
    seed : int
    kind : str
        "singles", or a kind of bad input from `ODD`.
    seconds : float
        0.2 to 120.
    chosen : str
        Conditions to set by name; the rest is drawn.

    Raises
    ------
    OutOfRange
        If the length, the kind, a condition or its value does not exist.
    """
    if not SHORTEST_S <= seconds <= LONGEST_S:
        raise OutOfRange(f"a film of {seconds:g} s cannot be drawn; give {SHORTEST_S:g} to {LONGEST_S:g} s.")
    rng = np.random.default_rng([18, seed])
    c = draw_conditions(rng, kind, **chosen)
    court, camera = draw_camera(rng, c, draw_court(rng, c))
    if camera.place_m[1] - LENGTH_M < casting.ROOM_M:
        c = replace(c, crossing="none")
    timing = _timing(rng, c)
    play = (
        None
        if kind in {"nobody on court", "no court"}
        else play_film(rng, seconds, (0.45, 0.65) if kind == "children" else (0.68, 1.0))
    )
    people = _people(rng, c, court, camera, play, seconds)
    scene = FilmScene(
        court,
        camera,
        timing,
        people,
        None if play is None else play.ball,
        BALL_HZ,
        _BALLS[c.ball],
        _knocks(rng, c, seconds),
        _lamps_over_time(rng, c, timing, seconds),
        _InPlay(play),
        between(rng, (0.4, 2.5)),
    )
    return FilmPlan(
        seed, seconds, c, scene, play, _sensor(rng, c, min(camera.width, camera.height)), _codec(rng, c)
    )


@dataclass(frozen=True)
class _InPlay:
    """Whether a rally is on at a time."""

    play: FilmPlay | None

    def __call__(self, time_s: float) -> bool:
        rallies = () if self.play is None else self.play.rallies
        return any(r.start_s <= time_s <= r.end_s for r in rallies)


def _people(
    rng: np.random.Generator,
    c: FilmConditions,
    court: CourtScene,
    camera: FilmCamera,
    play: FilmPlay | None,
    seconds: float,
) -> list[FilmPerson]:
    people: list[FilmPerson] = []
    if play is not None:
        people = casting.cast_players(rng, c, court, play)
        hands = [casting.free_hand_places(p) for p in people]
        toss_ball(play, hands[:2])
    if c.kind == "two courts in view" and play is not None:
        people += _next_court(rng, c, court, seconds)
    if c.kind == "coach walks in":
        people.append(casting.cast_coach(rng, seconds))
    if c.kind == "no court":
        return casting.cast_walkers(rng, camera, seconds)
    people += casting.cast_spectators(rng, c, court, camera, seconds)
    return people + casting.cast_crossings(rng, c, court, camera, seconds)


def _next_court(
    rng: np.random.Generator, c: FilmConditions, court: CourtScene, seconds: float
) -> list[FilmPerson]:
    """Return the players of the court beside, moved there."""
    shift = np.array([WIDTH_M + 0.3, 0.0, 0.0])
    out = []
    for number, person in enumerate(casting.cast_players(rng, c, court, play_film(rng, seconds))):
        m = person.motion
        moved = replace(m, joints=m.joints + shift, soles=m.soles + shift)
        out.append(replace(person, name=f"neighbour {number + 1}", role="neighbour", motion=moved))
    return out


def frames_of(
    film: FilmPlan, count: int | None = None, plate_rays: int = 5
) -> Iterator[tuple[Bytes, FrameTruth]]:
    """Yield the eight-bit pictures and truths of a film, as filmed, before any codec."""
    total = count or max(1, round(film.seconds * film.scene.timing.frames_per_s))
    sensor = SensorChain(np.random.default_rng([19, film.seed]), film.sensor)
    mirrored = film.conditions.kind == "mirrored film"
    for light, truth in FilmRenderer(film.scene, plate_rays).frames(total):
        picture = sensor.expose(light)
        if mirrored:
            yield np.ascontiguousarray(picture[:, ::-1]), mirrored_truth(truth)
        else:
            yield picture, truth


def render_film(
    seed: int, path: Path, kind: str = "singles", seconds: float = 20.0, **chosen: str
) -> FilmTruth:
    """Write one film and return its truth, in the pixels of the file written.

    Parameters
    ----------
    seed, kind, seconds, chosen
        As for `draw_scene`.
    path : pathlib.Path
        The file, ending in .mp4 or .mov; a messenger's copy is written there, what it was made of removed.

    Raises
    ------
    OutOfRange
        As `draw_scene`.
    """
    film = draw_scene(seed, kind, seconds, **chosen)
    truths: list[FrameTruth] = []

    def pictures() -> Iterator[Bytes]:
        for picture, truth in frames_of(film):
            truths.append(truth)
            yield picture

    codec, rate = film.codec, film.scene.timing.frames_per_s
    filmed = path if codec.copy_height == 0 else path.with_name(f"filmed-{path.name}")
    write_video(filmed, pictures(), rate, codec.codec, codec.mb_s, codec.keyframe_s)
    if codec.copy_height:
        messenger_copy(filmed, path, rate, codec.copy_height, codec.copy_mb_s)
        filmed.unlink()
        camera = film.scene.camera
        scale = codec.copy_height / min(camera.width, camera.height)
        truths = [scaled_truth(t, scale) for t in truths]
    return _truth_of(film, truths)


def _truth_of(film: FilmPlan, truths: list[FrameTruth]) -> FilmTruth:
    t, play = film.scene.timing, film.play
    contacts, spans = [], []
    if play is not None:
        inside = [h for h in play.hits if h.time_s < film.seconds]
        contacts = [WorldContact(h.time_s, h.surface, h.striker) for h in inside]
        spans = [
            WorldSpan(r.start_s, r.end_s, Activity.RALLY, r.last_strike_s, r.let)
            for r in play.rallies
            if r.start_s < film.seconds
        ]
    return FilmTruth(
        family=FAMILY,
        kind=film.conditions.kind,
        seed=film.seed,
        seconds=film.seconds,
        frames_per_s=t.frames_per_s,
        exposure_s=t.exposure_s,
        readout_s=t.readout_s,
        conditions=film.conditions.names(),
        frames=tuple(truths),
        contacts=tuple(contacts),
        spans=tuple(spans),
        nudges_s=tuple((k.start_s, k.start_s + k.seconds) for k in film.scene.knocks),
        details={"floor_reflectance": film.scene.court.floor_reflectance, "mb_s": film.codec.mb_s},
    )
