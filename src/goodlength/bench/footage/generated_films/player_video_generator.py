"""Films with known truth on which player tracking is judged, of any family of made-up courts.

To save hours a film is drawn at the rate at which players are tracked, with the bits a frame that its codec
would have given it. The camera is solved from marks clicked about a pixel off in its first frame, or from the
court that is found by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.errors import CalibrationError
from goodlength.footage.camera import (
    CameraCalibration,
    Click,
    ImagePatch,
    calibrate_camera,
    court_marks,
    image_patches_of,
)
from goodlength.footage.court_detection import detect_court
from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.test_family_films import draw_scene, frames_of
from goodlength.synthetic.recordings.training_films.training_video_generator import FilmFamily, generate_film

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
FRAMES_PER_S = 12.5
CLICK_PX = 1.0
JUDGING = "judging"
PLATE_RAYS = 2  # rays a pixel each way of the empty court: five are usual, and take six times as long


@dataclass(frozen=True, eq=False)
class PlayerFilm:
    """A film as written, and its truth.

    `times_s` (n,) of the frames and `feet_m` (n, 2, 2) the middle between both feet by player; `strikes`
    moments and who struck (0 or 1); `rallies` first and last moment of each; `project` pixels of court points
    in the first frame, `size` of the file's pictures; `knocks_s` when the camera was knocked.
    """

    path: Path
    family: str
    seed: int
    times_s: Floats
    feet_m: Floats
    strikes: tuple[tuple[float, int], ...]
    rallies: tuple[tuple[float, float], ...]
    size: tuple[int, int]
    project: Callable[[Floats], Floats]
    knocks_s: tuple[float, ...]
    conditions: dict[str, str]


def write_family_film(
    family: FilmFamily, seed: int, seconds: float, long_side: int, path: Path, **wanted: Any
) -> PlayerFilm:
    """Write a film of a training or choosing family."""
    film = generate_film(family, seed, seconds, long_side, None, **wanted)
    original = film.scene.settings
    settings = replace(
        original,
        frames_per_second=FRAMES_PER_S,
        megabits_s=original.megabits_s * FRAMES_PER_S / original.frames_per_second,
    )
    labels = replace(film, scene=replace(film.scene, settings=settings)).write(path)
    camera = film.scene.cameras[0][1]
    scale = labels.size[0] / film.scene.size[0]
    feet = [
        [person.feet_m[:, :2].mean(axis=0) for person in frame.people if person.name in labels.player_names]
        for frame in labels.frames
    ]

    def project(points: Floats) -> Floats:
        return np.asarray(camera.project(points)[0] * scale)

    return PlayerFilm(
        path, family.name, seed,
        np.arange(len(feet)) / FRAMES_PER_S, np.array(feet),
        tuple((c.time_s, c.striker) for c in labels.contacts if c.surface is Surface.RACKET
              and c.striker is not None and c.own_court and 0 <= c.time_s <= seconds),
        _inside([(s.start_s, s.end_s) for s in labels.spans if s.activity is Activity.RALLY], seconds),
        labels.size, project, labels.nudges_s,
        {name: f"{value:.2f}" if isinstance(value, float) else str(value)
         for name, value in original.as_conditions().items()},
    )  # fmt: skip


def write_judging_film(seed: int, seconds: float, path: Path, kind: str = "singles") -> PlayerFilm:
    """Write a film of the judging family."""
    film = draw_scene(seed, kind, seconds)
    timing = film.scene.timing
    scene = replace(film.scene, timing=replace(timing, frames_per_s=FRAMES_PER_S))
    rendered = frames_of(replace(film, scene=scene), plate_rays=PLATE_RAYS)
    feet: list[list[Floats]] = []
    cameras = []

    def frames() -> list[Bytes]:
        made = []
        for frame, truth in rendered:
            cameras.append(truth.camera)
            feet.append(
                [
                    person.feet_m[:, :2].mean(axis=0)
                    for person in sorted(truth.people, key=lambda person: person.name)
                    if person.role == "player"
                ]
            )
            made.append(np.asarray(frame, np.uint8))
        return made

    codec, share = film.codec, FRAMES_PER_S / timing.frames_per_s
    coder = "libx265" if "HEVC" in codec.codec.upper() else "libx264"
    pictures = frames()
    encode_film(path, pictures, coder, codec.mb_s * share, codec.keyframe_s)
    height, width = pictures[0].shape[:2]
    scale, size = 1.0, (width, height)
    if codec.copy_height:
        scale = codec.copy_height / min(height, width)
        size = (round(width * scale / 2) * 2, round(height * scale / 2) * 2)
        with av.open(str(path)) as file:
            pictures = [
                np.asarray(cv2.resize(frame.to_ndarray(format="rgb24"), size, interpolation=cv2.INTER_AREA))
                for frame in file.decode(video=0)
            ]
        encode_film(path, pictures, "libx264", codec.copy_mb_s * share, codec.keyframe_s)

    def project(points: Floats) -> Floats:
        return np.asarray(np.array(cameras[0].project(points)[:, :2]) * scale)

    rallies, strikes = [], []
    for rally in film.play.rallies if film.play else ():
        times = [hit.time_s for hit in rally.hits]
        if times:
            rallies.append((times[0], times[-1]))
        strikes += [
            (hit.time_s, int(hit.striker))
            for hit in rally.hits
            if hit.surface.value == Surface.RACKET.value
            and hit.striker is not None
            and 0 <= hit.time_s <= seconds
        ]
    return PlayerFilm(
        path, JUDGING, seed, np.arange(len(feet)) / FRAMES_PER_S, np.array(feet), tuple(strikes),
        _inside(rallies, seconds), size, project, tuple(knock.start_s for knock in film.scene.knocks),
        {name: str(value) for name, value in asdict(film.conditions).items()},
    )  # fmt: skip


def _inside(rallies: Sequence[tuple[float, float]], seconds: float) -> tuple[tuple[float, float], ...]:
    """Return the rallies as far as they lie in a film, those under two seconds left out."""
    cut = [(max(0.0, start), min(seconds, end)) for start, end in rallies]
    return tuple((start, end) for start, end in cut if end - start > 2.0)


def encode_film(
    path: Path, frames: Sequence[Bytes], codec: str, megabits_s: float, keyframe_s: float
) -> None:
    """Write frames (red, green, blue) at the rate of tracking."""
    height, width = frames[0].shape[:2]
    options = {"preset": "veryfast"} | ({"x265-params": "log-level=none"} if codec == "libx265" else {})
    with av.open(str(path), "w") as file:
        rate = Fraction(FRAMES_PER_S)
        stream = cast("av.VideoStream", file.add_stream(codec, rate=rate, options=options))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.bit_rate = int(megabits_s * 1e6)
        stream.gop_size = max(1, round(keyframe_s * FRAMES_PER_S))
        for frame in frames:
            file.mux(stream.encode(av.VideoFrame.from_ndarray(frame, "rgb24")))
        file.mux(stream.encode())


def clicked_camera(film: PlayerFilm, rng: np.random.Generator) -> CameraCalibration:
    """Return the camera from the marks in view, each clicked about a pixel off."""
    clicks = []
    for name, mark in court_marks().items():
        u, v = film.project(np.array([mark.at], dtype=float))[0]
        if 2 < u < film.size[0] - 2 and 2 < v < film.size[1] - 2:
            clicks.append(Click(name, u + rng.normal(0, CLICK_PX), v + rng.normal(0, CLICK_PX)))
    return calibrate_camera(clicks, *film.size)


def patches_of(film: PlayerFilm, camera: CameraCalibration) -> tuple[ImagePatch, ...]:
    """Return the patches around the marks in the first frame."""
    with av.open(str(film.path)) as file:
        frame = next(file.decode(video=0)).to_ndarray(format="bgr24")
    return tuple(image_patches_of(camera, np.asarray(frame, np.uint8)))


def detected_camera(film: PlayerFilm, rng: np.random.Generator) -> CameraCalibration:
    """Return the camera of the court that is found in the film by itself.

    Raises
    ------
    CalibrationError
        No court is offered.
    """
    with av.open(str(film.path)) as file:
        frames = [
            np.asarray(frame.to_ndarray(format="rgb24"), np.uint8)
            for n, frame in enumerate(file.decode(video=0))
            if n % 12 == 0
        ]
    found = detect_court(rng, frames[:12])
    if not found.offered or found.camera is None:
        raise CalibrationError(f"No court is found in the film of seed {film.seed}: {found.why}")
    return found.camera
