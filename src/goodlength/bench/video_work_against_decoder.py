"""Work on a video beside decoding it alone: the copy for the browser, following the players, hiding faces."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from goodlength.bench.footage.person_compositing import write_film
from goodlength.bench.footage.tracking_pose_and_face_hiding_accuracy import solved_camera
from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_sequence import FRAMES_A_S, FrameRenderer
from goodlength.demo.play.court_camera import PinholeCamera
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.footage.edit.proxy_video import make_proxy
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.vision.background_subtraction import SHORT_SIDE, Background, Picture
from goodlength.footage.vision.head_anonymisation import anonymised_frames
from goodlength.measure.players.player_floor_detection import detect_players
from goodlength.media_time import MICROSECONDS

WIDE = 1920
LEAST_DIFFERENCE = 16.0  # grey levels from which a pixel of the drawn film counts as moving
NOISE_GREY = 2.0  # standard deviation, about that of a camera


@dataclass(frozen=True)
class VideoWorkFigures:
    """Work for a second of drawn video; `decode_cpu_s` is the decoder's own, which is the limit.

    `video_mb_s` is how many megabits a second the film has, on which the decoder's work depends.

    `copy_to_decode` is the wall time of a copy that measures the movement too, over that of decoding alone,
    `copy_to_decode_cpu` the same in processor time. `track_cpu_s` finds the players in each frame used, and
    `faces_cpu_s` covers heads; both decode besides.
    """

    video_mb_s: float
    decode_cpu_s: float
    copy_to_decode: float
    copy_to_decode_cpu: float
    track_cpu_s: float
    faces_cpu_s: float


def bench_video_work(seed: int, seconds: int = 4, wide: int = WIDE) -> VideoWorkFigures:
    """Measure it all on a drawn film of the demo's first rally, with a camera's noise; about a minute.

    Limits
    ------
    One drawn film of few bits a second: a film of more takes longer to decode, and the ratios are smaller.
    """
    rng = np.random.default_rng(seed)
    camera = PinholeCamera(focal_px=675.0 * wide / 960, width=wide, height=wide * 9 // 16)
    solved = solved_camera(rng, camera)
    game = filmed_game()
    first = int(game.rallies[0].start_s * FRAMES_A_S)
    small = min(1.0, SHORT_SIDE / camera.height)
    court = cv2.resize(empty_court(camera), None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
    background = Background(
        0, np.asarray(court, np.uint8), np.full(court.shape[:2], LEAST_DIFFERENCE, np.float32)
    )
    with tempfile.TemporaryDirectory() as name:
        film, copy, motion = (Path(name) / part for part in ("film.mp4", "copy.mp4", "motion.npz"))
        frames = range(first, first + seconds * FRAMES_A_S)
        write_film(_noisy(FrameRenderer(game, camera).frame, camera, rng), frames, camera, film)
        megabits = film.stat().st_size * 8e-6

        def follow(until_s: float) -> None:
            detect_players(film, 0, round(until_s * MICROSECONDS), solved, (background,))

        _hidden(film, 3)  # the networks are read
        follow(0.2)
        decoded = _timed(lambda: _count(_decoded(film)))
        copied = _timed(lambda: make_proxy(film, copy, motion=motion))
        followed = _timed(lambda: follow(seconds))
        hidden = _timed(lambda: _hidden(film, seconds * FRAMES_A_S))
    return VideoWorkFigures(
        megabits / seconds,
        decoded[1] / seconds,
        copied[0] / decoded[0],
        copied[1] / decoded[1],
        followed[1] / seconds,
        hidden[1] / seconds,
    )


def _noisy(
    frame: Callable[[int], Picture], camera: PinholeCamera, rng: np.random.Generator
) -> Callable[[int], Picture]:
    """Return frames with noise that is new in each: one field of it, moved up and down."""
    field = rng.normal(0.0, NOISE_GREY, (camera.height, camera.width, 1)).astype(np.int16)

    def noisy(n: int) -> Picture:
        moved = np.roll(field, int(rng.integers(camera.height)), axis=0)
        return np.asarray(np.clip(frame(n) + moved, 0, 255), np.uint8)

    return noisy


def _decoded(film: Path) -> Iterator[object]:
    with open_video(film, with_sound=False) as video:
        yield from decode_frames(video)


def _hidden(film: Path, most: int) -> None:
    with open_video(film, with_sound=False) as video:
        frames = (frame for _, frame in zip(range(most), decode_frames(video), strict=False))
        _count(anonymised_frames(frames, float(FRAMES_A_S)))


def _count(frames: Iterator[object]) -> int:
    return sum(1 for _ in frames)


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return wall and processor seconds of some work, the better of two runs each."""
    runs = []
    for _ in range(2):
        wall, processor = time.perf_counter(), time.process_time()
        work()
        runs.append((time.perf_counter() - wall, time.process_time() - processor))
    return min(run[0] for run in runs), min(run[1] for run in runs)
