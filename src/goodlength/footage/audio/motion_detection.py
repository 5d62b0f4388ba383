"""Rallies guessed from moving players, for films whose sound is of no use: a poor second.

The picture is made small; how much it changes from moment to moment is smoothed and parted in calm and busy.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.clock import MICROSECONDS
from goodlength.errors import Cancelled
from goodlength.footage.audio.rally_segmentation import otsu_threshold
from goodlength.footage.media.decoding import decode_frames, pts_of
from goodlength.footage.media.frame_table import us_of
from goodlength.footage.media.open import open_video
from goodlength.jobs.progress import Cancel, Progress

WIDTH, HEIGHT = 96, 54
EVERY_S = 0.16
SMOOTH_S = 1.6
LEAST_RALLY_S, LEAST_PAUSE_S = 2.0, 1.5
LEAST_RATIO = 1.3


def rallies_by_motion(
    path: Path, progress: Progress | None = None, cancel: Cancel | None = None
) -> list[tuple[int, int]]:
    """Busy stretches of a film whose camera stands still, as (start, end) in microseconds of media time.

    Limits
    ------
    Tried on one rendered film only. A camera that moves, or people behind the glass, make it useless.
    """
    times, changes = _changes(path, progress, cancel)
    return busy_spans(times, changes)


def _changes(
    path: Path, progress: Progress | None, cancel: Cancel | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Moments in seconds, and how much the small picture changed since the one before."""
    times: list[float] = []
    changes: list[float] = []
    before: NDArray[np.float32] | None = None
    with open_video(path, with_sound=False) as film:
        length_s = (film.container.duration or 0) / MICROSECONDS
        for frame in decode_frames(film):
            at = us_of(pts_of(frame), film.base) / MICROSECONDS
            if times and at < times[-1] + EVERY_S:
                continue
            if cancel is not None and cancel():
                raise Cancelled(
                    f"Looking for rallies in {path.name} was stopped; begin again whenever you like."
                )
            if progress is not None and length_s > 0:
                progress(min(0.99, at / length_s), "watching")
            small = (
                frame.reformat(WIDTH, HEIGHT, "gray", interpolation="AREA").to_ndarray().astype(np.float32)
            )
            # What moves little (noise, light) is left out by its typical size in the picture itself.
            change = np.abs(small - before) if before is not None else np.zeros_like(small)
            times.append(at)
            changes.append(float(np.maximum(change - 3 * np.median(change) - 2, 0).mean()))
            before = small
    return np.array(times), np.array(changes)


def busy_spans(times: NDArray[np.float64], changes: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Stretches of more change than usual; none when calm and busy do not differ."""
    if len(times) < 10:
        return []
    smooth = ndimage.gaussian_filter1d(np.sqrt(changes), SMOOTH_S / EVERY_S / 2)
    edge = otsu_threshold(smooth)
    busy = smooth > edge
    if not busy.any() or busy.all():
        return []
    if smooth[busy].mean() < LEAST_RATIO * smooth[~busy].mean():
        return []
    spans: list[list[float]] = []
    for i in np.flatnonzero(busy).tolist():
        at = float(times[i])
        if spans and at - spans[-1][1] < LEAST_PAUSE_S:
            spans[-1][1] = at
        else:
            spans.append([at, at])
    return [(round(a * MICROSECONDS), round(b * MICROSECONDS)) for a, b in spans if b - a >= LEAST_RALLY_S]
