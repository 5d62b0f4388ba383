"""Grab single frames of a video: upright, full size, as JPEG or as an array.

Places clicked on them are places in the film's own picture, which a copy made for playing is not: it is
smaller.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from goodlength.footage.media.damage_tolerant_frame_decoding import pts_of
from goodlength.footage.media.display_transform import DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import FrameTable, us_of
from goodlength.footage.media.span_decoding import clock_jumps, outside, span_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute, aspect_of, open_video

QUALITY = 90
MOST = 60  # pictures in one go


@dataclass(frozen=True)
class FrameGrabber:
    """One picture: when it appears (media time, microseconds), and its bytes as JPEG."""

    us: int
    jpeg: bytes
    width: int
    height: int


def grab_frame(
    path: str | Path, from_us: int, until_us: int | None = None, *, table: FrameTable | None = None
) -> tuple[FrameGrabber, ...]:
    """Return the picture shown at a moment, or all those shown in a span, upright with square pixels.

    Parameters
    ----------
    path : str or Path
    from_us, until_us : int
        Media time in microseconds; left out, `until_us` means that one picture. At most `MOST` come.
    table : FrameTable, optional
        Saves a reading of films whose clock may jump.

    Raises
    ------
    OutOfRange
        The film shows nothing then.
    FootageError
        As `open_video`.
    """
    found = []
    for us, rgb in frames_in(path, from_us, until_us, table=table):
        out = io.BytesIO()
        Image.fromarray(rgb).save(out, "JPEG", quality=QUALITY, subsampling=0)
        found.append(FrameGrabber(us, out.getvalue(), rgb.shape[1], rgb.shape[0]))
        if len(found) >= MOST:
            break
    return tuple(found)


def frames_in(
    path: str | Path, from_us: int, until_us: int | None = None, *, table: FrameTable | None = None
) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """Start (media time) and upright picture (height, width, red green blue) of each picture in a span."""
    with open_video(absolute(path), with_sound=False) as film:
        end = from_us + 1 if until_us is None else max(until_us, from_us + 1)
        frames = span_of(film, from_us, end, from_beginning=clock_jumps(film, table))
        first = next(frames, None)
        if first is None:
            raise outside(film, from_us, table)
        shape = display_shape_of(first, aspect_of(film))
        turner = DisplayTransform(shape, shape.size, "rgb24")
        starts = [us_of(pts_of(first), film.base)]
        try:
            ready = turner.turn(first)
            while True:
                for picture in ready:
                    yield starts.pop(0), np.asarray(picture.to_ndarray(), dtype=np.uint8)
                frame = next(frames, None)
                if frame is None:
                    break
                starts.append(us_of(pts_of(frame), film.base))
                ready = turner.turn(frame)
            for picture in turner.rest():
                yield starts.pop(0), np.asarray(picture.to_ndarray(), dtype=np.uint8)
        finally:
            turner.close()
