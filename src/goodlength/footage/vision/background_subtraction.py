"""Background subtraction for a still camera: the court without players, and the pixels that differ from
it.

The empty court of each few minutes is the middle value of pictures taken far apart, in which players stand
somewhere else each time. A pixel that only got darker, in the same colour, is a shadow and does not count.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from goodlength.errors import Cancelled, FootageError
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames, pts_of
from goodlength.footage.media.display_transform import (
    DisplayShape,
    DisplayTransform,
    display_shape_of,
)
from goodlength.footage.media.frame_presentation_time_table import us_of
from goodlength.footage.media.span_decoding import span_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute, aspect_of, open_video
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS

Picture = NDArray[np.uint8]
Floats = NDArray[np.float32]

SHORT_SIDE = 540  # pictures are made this small: places on the floor stay good to a few centimetres
CHUNK_US = 240_000_000  # an empty court holds for so long: light changes over a match
SAMPLES = 41  # pictures behind each empty court
LEAST_SAMPLES = 9
ENOUGH_SAMPLES = 21  # with fewer frames that stand alone all frames are read
LEAST_APART_S = 0.3  # of two such samples
DIFFERS = 16  # least difference in brightness or colour, of 255; more where the picture is noisy
NOISES = 5.0  # times the usual noise
SHADOW = (0.45, 0.97)  # a shadow leaves this share of the light...
SHADOW_COLOUR = 0.07  # ...in every colour alike


@dataclass(frozen=True, eq=False)
class Background:
    """The court without players around a moment (media time), made small, and the noise of each pixel."""

    at_us: int
    picture: Picture
    least: Floats  # difference from which on a pixel counts, (h, w)


def estimate_backgrounds(
    path: str | Path, progress: Progress | None = None, cancel: Cancel | None = None
) -> tuple[Background, ...]:
    """Return the court without players, one picture for each few minutes of a film.

    Raises
    ------
    FootageError
        The film holds too few frames that stand alone to see the empty court.
    Cancelled
        When asked to stop.

    Limits
    ------
    Whoever stands still for more than half of a few minutes becomes part of the court.
    """
    made: list[Background] = []
    gathered: list[tuple[int, Picture]] = []
    many = 0
    for us, picture in _spread_frames(path, progress, cancel, key_frames=True):
        many += 1
        if gathered and us - gathered[0][0] > CHUNK_US and len(gathered) >= LEAST_SAMPLES:
            made.append(estimate_background(gathered))
            gathered = []
        gathered.append((us, picture))
        if len(gathered) > 2 * SAMPLES:
            gathered = gathered[::2]
    if many < ENOUGH_SAMPLES:  # a short film, or hardly any frame stands alone
        gathered = list(_spread_frames(path, progress, cancel, key_frames=False))
        made = []
    if len(gathered) >= LEAST_SAMPLES or (gathered and not made and len(gathered) >= 3):
        made.append(estimate_background(gathered))
    if not made:
        raise FootageError(
            f"{Path(path).name} is too short to see its court without players ({len(gathered)} frames). "
            "Choose a longer video."
        )
    return tuple(made)


def _spread_frames(
    path: str | Path, progress: Progress | None, cancel: Cancel | None, *, key_frames: bool
) -> Iterator[tuple[int, Picture]]:
    """Yield the frames that stand alone, or of all frames some evenly spread, made small."""
    with open_video(absolute(path), with_sound=False) as film:
        length = (film.container.duration or 0) / MICROSECONDS
        frames = decode_frames(film)
        if key_frames:
            film.video.codec_context.skip_frame = "NONKEY"
        else:
            frames = _thinned(frames, max(LEAST_APART_S, length / SAMPLES), float(film.base.tick))
        for us, picture in _small(frames, film.base.tick, aspect_of(film)):
            if cancel is not None and cancel():
                raise Cancelled(f"Watching {film.name} was stopped; nothing was saved.")
            if progress is not None and length > 0:
                read = min(0.99, us / MICROSECONDS / length)
                # The second reading, where there is one, goes on from where the first ended.
                progress(read / 2 if key_frames else (1 + read) / 2, "looking for the empty court")
            yield us, picture


def _thinned(frames: Iterator[VideoFrame], apart_s: float, tick_s: float) -> Iterator[VideoFrame]:
    """Yield the first frame and then one each `apart_s`."""
    due = -math.inf
    for frame in frames:
        time_s = pts_of(frame) * tick_s
        if time_s >= due:
            due = time_s + apart_s
            yield frame


def estimate_background(samples: Sequence[tuple[int, Picture]]) -> Background:
    """Return the middle value of pictures of one size, and how much each pixel may differ from it."""
    step = max(1, len(samples) // SAMPLES)
    stack = np.stack([picture for _, picture in samples[::step]])
    middle = len(stack) // 2
    picture = np.partition(stack, middle, axis=0)[middle]
    off = np.abs(stack.astype(np.int16) - picture).max(axis=3)
    noise = 1.4826 * np.partition(off, middle, axis=0)[middle].astype(np.float32)
    noise = np.minimum(noise, 3 * np.median(noise) + 3)  # where people come and go it is not noise
    return Background(
        samples[len(samples) // 2][0], picture, np.maximum(DIFFERS, NOISES * noise).astype(np.float32)
    )


def nearest_background(courts: Sequence[Background], us: int) -> Background:
    """Return the empty court nearest in time."""
    return min(courts, key=lambda background: abs(background.at_us - us))


def foreground_mask(picture: Picture, empty: Background) -> Picture:
    """Return pixels that differ from the empty court and are no shadow, 1 or 0, shape (h, w).

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        Of the same size as the empty court's.
    """
    if picture.shape != empty.picture.shape:
        raise FootageError(
            f"The frame is {picture.shape[1]} by {picture.shape[0]}, the empty court "
            f"{empty.picture.shape[1]} by {empty.picture.shape[0]}. Track one video at a time."
        )
    evened = _evened(picture, empty.picture)
    apart = cv2.absdiff(evened, empty.picture)
    blue, green, red = (cv2.extractChannel(apart, channel) for channel in range(3))
    off = cv2.max(cv2.max(blue, green), red)
    differs = off > empty.least
    mask = differs.view(np.uint8)
    numbers = np.flatnonzero(differs)  # only these few may be shadows
    now = evened.reshape(-1, 3).take(numbers, axis=0).astype(np.float32)
    was = np.maximum(empty.picture.reshape(-1, 3).take(numbers, axis=0).astype(np.float32), 1.0)
    left_b, left_g, left_r = (now / was).T
    mean = (left_b + left_g + left_r) / np.float32(3)
    uneven = np.maximum(np.maximum(np.abs(left_b - mean), np.abs(left_g - mean)), np.abs(left_r - mean))
    shadow = (mean > SHADOW[0]) & (mean < SHADOW[1]) & (uneven < SHADOW_COLOUR)
    mask.reshape(-1)[numbers[shadow]] = 0
    # Single pixels go; holes of a pixel or two in a body are closed.
    mask = np.asarray(cv2.medianBlur(mask, 3), dtype=np.uint8)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)), dtype=np.uint8)


def _evened(picture: Picture, empty: Picture) -> Picture:
    """Return the picture at the brightness of the empty court: a camera that adapts does not make the
    court move.
    """
    a, b = picture[::8, ::8].reshape(-1, 3).astype(np.float32), empty[::8, ::8].reshape(-1, 3)
    gain = np.median((b + 8.0) / (a + 8.0), axis=0)
    if np.abs(gain - 1.0).max() < 0.01:
        return picture
    levels = np.clip(np.arange(256.0)[:, None] * gain, 0, 255).astype(np.uint8)
    return np.asarray(cv2.LUT(picture, levels[None]), dtype=np.uint8)


def watched(
    path: str | Path, from_us: int, until_us: int, every_us: int
) -> Iterator[tuple[int, Picture, tuple[int, int]]]:
    """Yield the frames of a span, made small, at most one each `every_us`: media time, frame, size of the
    original.

    Raises
    ------
    FootageError
        As `open_video`.
    """
    with open_video(absolute(path), with_sound=False) as film:
        tick, due = film.base.tick, from_us
        frames = span_of(film, from_us, until_us, from_beginning=False)

        def wanted() -> Iterator[VideoFrame]:
            nonlocal due
            for frame in frames:
                us = us_of(pts_of(frame), film.base)
                if us + 1000 >= due:  # a millisecond for stamps that were rounded
                    due = max(due + every_us, us + every_us // 2)
                    yield frame

        size: list[tuple[int, int]] = []
        for us, picture in _small(wanted(), tick, aspect_of(film), size):
            yield us, picture, size[0]


def _small(
    frames: Iterator[VideoFrame],
    tick: object,
    aspect: tuple[int, int],
    size: list[tuple[int, int]] | None = None,
) -> Iterator[tuple[int, Picture]]:
    """Upright pictures made small, blue-green-red, with their media time in microseconds."""
    turner: DisplayTransform | None = None
    stamps: list[int] = []
    shape: DisplayShape | None = None
    try:
        for frame in frames:
            if turner is None:
                shape = display_shape_of(frame, aspect)
                turner = DisplayTransform(shape, shape.fitted(SHORT_SIDE), "bgr24")
                if size is not None:
                    size.append(shape.size)
            stamps.append(round(pts_of(frame) * float(tick) * MICROSECONDS))  # type: ignore[arg-type]
            for ready in turner.turn(frame):
                yield stamps.pop(0), np.asarray(ready.to_ndarray(), dtype=np.uint8)
        if turner is not None:
            for ready in turner.rest():
                yield stamps.pop(0), np.asarray(ready.to_ndarray(), dtype=np.uint8)
    finally:
        if turner is not None:
            turner.close()
