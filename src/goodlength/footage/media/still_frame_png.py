"""One frame of a video, upright, as a PNG."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from goodlength.footage.media.display_transform import DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.media.span_decoding import clock_jumps, outside, span_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute, aspect_of, open_video


def still(
    path: str | Path, us: int, *, short_side: int | None = None, table: FrameTable | None = None
) -> bytes:
    """Return the picture shown at a moment, upright with square pixels, as the bytes of a PNG.

    Parameters
    ----------
    path : str or Path
    us : int
        Media time in microseconds.
    short_side : int, optional
        Make the shorter side at most this many pixels.
    table : FrameTable, optional
        Saves a reading of films whose clock may jump (MPEG-TS and the like).

    Raises
    ------
    OutOfRange
        The film shows nothing then.
    FootageError
        As `open_video`.
    """
    with open_video(absolute(path), with_sound=False) as film:
        frame = next(span_of(film, us, us + 1, from_beginning=clock_jumps(film, table)), None)
        if frame is None:
            raise outside(film, us, table)
        shape = display_shape_of(frame, aspect_of(film))
        size = shape.size if short_side is None else shape.fitted(short_side)
        turner = DisplayTransform(shape, size, "rgb24")
        try:
            picture = [*turner.turn(frame), *turner.rest()][0]
        finally:
            turner.close()
    out = io.BytesIO()
    Image.fromarray(picture.to_ndarray()).save(out, "PNG", compress_level=1)
    return out.getvalue()
