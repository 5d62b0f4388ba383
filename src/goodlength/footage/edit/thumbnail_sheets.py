"""Small pictures of a video on sheets, from its key frames alone: an hour takes seconds, not minutes."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from goodlength.errors import Cancelled, FootageGone
from goodlength.files.atomic_write import atomic_write
from goodlength.files.library_layout import preview_sheet_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames, pts_of
from goodlength.footage.media.display_transform import DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import us_of
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, aspect_of, open_video
from goodlength.jobs.progress_callback import Cancel, Progress

ACROSS, DOWN = 10, 10
SHORT_SIDE = 90  # px
MOST_PICTURES = 1000
LEAST_APART_US = 2_000_000
QUALITY = 70


@dataclass(frozen=True)
class PreviewSheets:
    """The pictures made: when each appears (media time), and their size in px."""

    times_us: tuple[int, ...]
    width: int
    height: int
    sheets: int


def make_previews(
    src: str | Path, dst: Path, *, shift_us: int = 0, progress: Progress | None = None
) -> PreviewSheets:
    """Write the sheets of a file beside `dst`, and `dst` itself last: a list of what they hold.

    Parameters
    ----------
    src : str or Path
    dst : Path
        The list; a sheet's name is made from it.
    shift_us : int
        Added to each time: what the clock of `src` lacks to that of the original.
    progress : callable, optional
        Told the share done.

    Raises
    ------
    FootageGone, NotFootage, FootageError
        As `open_video`.
    NoSpace
        The folder cannot be written; the list is as it was.
    """
    times: list[int] = []
    sheet: NDArray[np.uint8] | None = None
    width = height = sheets = 0
    for us, picture in _pictures(Path(src), progress):
        if sheet is None:
            height, width = picture.shape[:2]
            sheet = np.zeros((DOWN * height, ACROSS * width, 3), np.uint8)
        place = len(times) % (ACROSS * DOWN)
        top, left = (place // ACROSS) * height, (place % ACROSS) * width
        sheet[top : top + height, left : left + width] = picture
        times.append(us + shift_us)
        if place == ACROSS * DOWN - 1:
            _write(sheet, dst, sheets)
            sheets += 1
    if sheet is not None and len(times) % (ACROSS * DOWN):
        rows = -(-(len(times) % (ACROSS * DOWN)) // ACROSS)
        _write(sheet[: rows * height], dst, sheets)
        sheets += 1
    if not Path(src).is_file():
        raise FootageGone(f"The video {Path(src).name} was removed meanwhile.")
    size = {"across": ACROSS, "down": DOWN, "width": width, "height": height}
    if times:
        JsonFile(dst).write({"made": uuid.uuid4().hex[:8], "times_us": times, **size})
    return PreviewSheets(tuple(times), width, height, sheets)


def previews_job(*, src: str, dst: str, shift_us: int, progress: Progress, cancel: Cancel) -> dict[str, int]:
    """Make the sheets in a job."""

    def each(share: float, words: str) -> None:
        if cancel():
            raise Cancelled("The preview pictures were stopped. They are made the next time they are needed.")
        progress(share, words)

    made = make_previews(src, Path(dst), shift_us=shift_us, progress=each)
    return {"pictures": len(made.times_us), "sheets": made.sheets}


def _write(sheet: NDArray[np.uint8], dst: Path, number: int) -> None:
    with atomic_write(preview_sheet_file(dst, number)) as part:
        Image.fromarray(sheet).save(part, "JPEG", quality=QUALITY)


def _pictures(src: Path, progress: Progress | None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """Yield small upright pictures far enough apart, with the media time of each."""
    with open_video(src, with_sound=False) as film:
        film.video.codec_context.skip_frame = "NONKEY"
        length_us = _length_us(film)
        apart = max(LEAST_APART_US, length_us // MOST_PICTURES)
        turner: DisplayTransform | None = None
        first = due = 0
        starts: list[int] = []
        try:
            for frame in decode_frames(film):
                us = us_of(pts_of(frame), film.base)
                if turner is None:
                    shape = display_shape_of(frame, aspect_of(film), interlaced=False)
                    turner = DisplayTransform(shape, shape.fitted(SHORT_SIDE), "rgb24")
                    first = due = us
                if us < due:
                    continue
                due = us + apart
                if progress is not None:
                    share = (us - first) / length_us if length_us else 0.0
                    progress(min(0.99, max(0.0, share)), "Making preview pictures")
                starts.append(us)
                for picture in turner.turn(frame):
                    yield starts.pop(0), np.asarray(picture.to_ndarray(), dtype=np.uint8)
            for picture in turner.rest() if turner is not None else ():
                yield starts.pop(0), np.asarray(picture.to_ndarray(), dtype=np.uint8)
        finally:
            if turner is not None:
                turner.close()


def _length_us(film: VideoFile) -> int:
    return int(film.container.duration or 0)
