"""Search a span of a video for the ball, frame by frame, decoding once.

```
 decoded frames ─> luma, upright ─> windows of five by time ─> candidates of each frame ─> support ─> result
```
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import Cancelled, FootageError, InputError
from goodlength.footage.ball_detection.ball_candidate_selection import MOST_CANDIDATES, BallCandidates
from goodlength.footage.ball_detection.ball_patch_network import network_candidates
from goodlength.footage.ball_detection.candidate_temporal_support import with_support
from goodlength.footage.ball_detection.frame_differencing_candidates import differencing_candidates
from goodlength.footage.ball_detection.moving_patch_extraction import (
    MOST_OFF_US,
    PATCH_PX,
    TARGETS_US,
    window_indices,
)
from goodlength.footage.media.damage_tolerant_frame_decoding import pts_of
from goodlength.footage.media.display_transform import DisplayShape, DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import FrameTable, us_of
from goodlength.footage.media.span_decoding import clock_jumps, outside, span_of
from goodlength.footage.media.video_file_opening_or_rejection import (
    VideoFile,
    absolute,
    aspect_of,
    open_video,
)
from goodlength.jobs.progress_callback import Cancel

Bytes = NDArray[np.uint8]
Window = tuple[Bytes, Bytes, Bytes, Bytes, Bytes]
Finder = Callable[[Window], tuple[NDArray[np.float64], NDArray[np.float64]]]

MARGIN_US = (
    TARGETS_US[-1] + 2 * MOST_OFF_US
)  # read around a span, so that its first and last frames have neighbours
SHORT_SIDE = 1080  # frames are searched at this size at most
WANTED_BALL_PX = 9.0  # width of the ball at the middle of the court from which a frame is made smaller
METHODS: dict[str, Finder] = {"network": network_candidates, "differencing": differencing_candidates}


def search_ball_in(
    path: str | Path,
    from_us: int,
    until_us: int,
    *,
    method: str = "network",
    ball_px: float | None = None,
    cancel: Cancel | None = None,
    table: FrameTable | None = None,
) -> BallCandidates:
    """Return candidates for the ball in every frame of a span.

    Parameters
    ----------
    path : str or Path
    from_us, until_us : int
        Media time in microseconds.
    method : str
        "network", or "differencing" for the search without a model.
    ball_px : float, optional
        Width of the ball at the middle of the court in the original frame, where the camera is known: frames
        in which it is larger than the model is used to are searched smaller.
    cancel : callable, optional
    table : FrameTable, optional
        Saves a reading of films whose clock may jump.

    Returns
    -------
    BallCandidates
        In pixels of the original upright frame.

    Raises
    ------
    InputError
        No such method.
    FootageError
        As `open_video`; or the frames are too small to search.
    OutOfRange
        The video shows nothing then.
    Cancelled
        When asked to stop.

    Limits
    ------
    A still camera. Measured on films made by code only; see docs/bench.md.
    """
    if method not in METHODS:
        raise InputError(f"The ball is searched by {' or '.join(METHODS)}; got {method!r}.")
    found = _Gathered()
    with open_video(absolute(path), with_sound=False) as film:
        frames = _luma(film, max(0, from_us - MARGIN_US), until_us + MARGIN_US, ball_px, table)
        for us, window, scale in windows_of(frames, from_us, until_us):
            if cancel is not None and cancel():
                raise Cancelled(f"Searching the ball in {film.name} was stopped.")
            found.add(us, window, scale, METHODS[method])
    return with_support(found.candidates(method))


class _Gathered:
    """Candidates frame by frame."""

    def __init__(self) -> None:
        self.times: list[int] = []
        self.uv: list[NDArray[np.float64]] = []
        self.score: list[NDArray[np.float64]] = []
        self.searched: list[bool] = []

    def add(self, us: int, window: Window | None, scale: float, finder: Finder) -> None:
        uv, score = np.full((MOST_CANDIDATES, 2), np.nan), np.full(MOST_CANDIDATES, np.nan)
        if window is not None:
            uv, score = finder(window)
        self.times.append(us)
        self.uv.append(uv * scale)
        self.score.append(score)
        self.searched.append(window is not None)

    def candidates(self, method: str) -> BallCandidates:
        return BallCandidates(
            np.array(self.times, np.int64),
            np.array(self.uv).reshape(-1, MOST_CANDIDATES, 2),
            np.array(self.score).reshape(-1, MOST_CANDIDATES),
            np.array(self.searched, bool),
            method,
        )


def searched_size(shape: DisplayShape, ball_px: float | None) -> tuple[int, int]:
    """Return width and height at which frames are searched.

    Examples
    --------
    >>> searched_size(DisplayShape(3840, 2160), None)
    (1920, 1080)
    >>> searched_size(DisplayShape(1920, 1080), 12.0)
    (1440, 810)
    """
    short = min(SHORT_SIDE, *shape.size)
    if ball_px is not None and ball_px > 0:
        short = min(short, round(min(shape.size) * WANTED_BALL_PX / ball_px))
    return shape.fitted(max(short, min(*shape.size, 2 * PATCH_PX)))


def _luma(
    film: VideoFile, from_us: int, until_us: int, ball_px: float | None, table: FrameTable | None
) -> Iterator[tuple[int, Bytes, float]]:
    """Yield media time, luma and the scale back to the original of each frame."""
    frames = span_of(film, from_us, max(until_us, from_us + 1), from_beginning=clock_jumps(film, table))
    first = next(frames, None)
    if first is None:
        raise outside(film, from_us, table)
    shape = display_shape_of(first, aspect_of(film))
    size = searched_size(shape, ball_px)
    if min(size) < PATCH_PX:
        raise FootageError(
            f"{film.name} is only {shape.size[0]} by {shape.size[1]} pixels: too small to find the ball. "
            "Use the original video from the phone.",
            page="The frames of this video are too small to find the ball. Use the original video.",
        )
    scale = shape.size[0] / size[0]
    turner = DisplayTransform(shape, size, "gray")
    starts: list[int] = []
    try:
        frame: object = first
        while frame is not None:
            starts.append(us_of(pts_of(frame), film.base))  # type: ignore[arg-type]
            for ready in turner.turn(frame):  # type: ignore[arg-type]
                yield starts.pop(0), np.asarray(ready.to_ndarray(), np.uint8), scale
            frame = next(frames, None)
        for ready in turner.rest():
            yield starts.pop(0), np.asarray(ready.to_ndarray(), np.uint8), scale
    finally:
        turner.close()


def windows_of(
    frames: Iterator[tuple[int, Bytes, float]], from_us: int, until_us: int
) -> Iterator[tuple[int, Window | None, float]]:
    """Yield time, window of five frames (None where neighbours are missing) and scale of each frame.

    Frames before `from_us` and from `until_us` on serve as neighbours only.
    """
    ahead, behind = TARGETS_US[-1] + MOST_OFF_US, TARGETS_US[0] - MOST_OFF_US
    buffer: list[tuple[int, Bytes, float]] = []
    at = 0
    ended = False
    while True:
        while not ended and (at >= len(buffer) or buffer[-1][0] < buffer[at][0] + ahead):
            following = next(frames, None)
            if following is None:
                ended = True
            elif not buffer or following[0] > buffer[-1][0]:
                buffer.append(following)
        if at >= len(buffer) or buffer[at][0] >= until_us:
            return
        us, _, scale = buffer[at]
        if us >= from_us:
            yield us, _window(buffer, at), scale
        at += 1
        while at < len(buffer) and buffer[0][0] < buffer[at][0] + behind:
            buffer.pop(0)
            at -= 1


def _window(buffer: list[tuple[int, Bytes, float]], at: int) -> Window | None:
    numbers = window_indices(np.array([us for us, _, _ in buffer]))[at].tolist()
    if numbers[0] < 0 or len({buffer[i][1].shape for i in numbers}) > 1:
        return None
    a, b, c, d, e = (buffer[i][1] for i in numbers)
    return a, b, c, d, e
