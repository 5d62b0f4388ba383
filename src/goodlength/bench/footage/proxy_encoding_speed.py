"""Speed of making a proxy, beside decoding the same video alone: seconds for an hour of video."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from goodlength.footage.edit.proxy_video import make_proxy
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.synthetic.numbered_frame_video import Recipe, draw

WIDE, HIGH, RATE = 1920, 1080, 25


@dataclass(frozen=True)
class CopyFigures:
    """Processor and wall time for an hour of 1080p film, and both beside its decoder alone."""

    copy_hour_s: float
    copy_cpu_hour_s: float
    copy_ratio_to_decoder: float
    copy_cpu_ratio_to_decoder: float


def bench_proxy(seconds: int = 20) -> CopyFigures:
    """Return a film of numbered pictures copied, then decoded alone; scaled to an hour.

    Limits
    ------
    Drawn pictures are easier to encode than a camera's; a real film takes longer.
    """
    with tempfile.TemporaryDirectory() as name:
        film = Path(name) / "film.mp4"
        timestamps = tuple(range(seconds * RATE))
        draw(
            film, Recipe(timestamps, base=Fraction(1, RATE), width=WIDE, height=HIGH, key_every=50, sound="")
        )
        alone = _timed(lambda: _decode(film))
        ours = _timed(lambda: make_proxy(film, Path(name) / "copy.mp4"))
    hours = seconds / 3600
    return CopyFigures(ours[0] / hours, ours[1] / hours, ours[0] / alone[0], ours[1] / alone[1])


def _decode(path: Path) -> None:
    with open_video(path, with_sound=False) as film:
        for _ in decode_frames(film):
            pass


def _timed(work: object) -> tuple[float, float]:
    assert callable(work)
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    found = np.array([time.perf_counter() - wall, time.process_time() - cpu])
    return float(found[0]), float(found[1])
