"""What the coach drew on frames, as a clip that is made takes it: by file, media time and frame.

Clips made from a file stand still at each frame that is drawn on; see `footage.edit.drawing_overlay`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.errors import DamagedFile, GoodlengthError
from goodlength.footage.edit.drawing_overlay import OverlayLine
from goodlength.media_time import MediaPosition
from goodlength.record.import_export.coach_annotation_json import FrameDrawing
from goodlength.tasks.footage.camera_calibration import original_table
from goodlength.tasks.playback.coach_drawings_on_frames import add_drawings, frame_drawings

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

SAME_FRAME_US = 20_000  # of a file without a table of frames; ASSUMED


def lines_in_span(
    opened: OpenMatch, footage_id: str, from_us: int, to_us: int, *, covered: bool = False
) -> tuple[OverlayLine, ...]:
    """Return what is drawn on frames of a span of a file; what lies on one frame carries one time.

    Parameters
    ----------
    from_us, to_us : int
        Media time; the frame shown at `from_us` counts, with all that is drawn on it.
    covered : bool
        Every head is covered: words are left out, as they may name who is hidden.

    Raises
    ------
    DamagedFile
        The drawings cannot be read.
    """
    lines: list[OverlayLine] = []
    frames: dict[int, int] = {}  # the media time that stands for each frame
    first: int | None = None  # the frame at `from_us`; it may begin before
    for drawing in _drawings(opened):
        if covered and drawing.kind == "text":
            continue
        place = None if opened.timeline is None else opened.timeline.locate(drawing.at_us)
        if not isinstance(place, MediaPosition) or place.footage_id != footage_id:
            continue
        if place.media_us >= to_us:
            continue
        frame = _frame_of(opened, footage_id, place.media_us)
        if place.media_us < from_us:
            first = _frame_of(opened, footage_id, from_us) if first is None else first
            if frame != first:
                continue
        at_us = frames.setdefault(frame, max(place.media_us, from_us + 1))
        lines.append(OverlayLine(drawing.kind, drawing.points, drawing.text, at_us))
    return tuple(lines)


def _drawings(opened: OpenMatch) -> tuple[FrameDrawing, ...]:
    try:
        return frame_drawings(opened.library, opened.id)
    except DamagedFile as error:
        way_out = "Untick “With your drawings” to make the video without them."
        raise DamagedFile(f"{error} {way_out}", page=f"{error.page_words} {way_out}") from error


def has_drawings(opened: OpenMatch) -> bool:
    """Whether anything is drawn on a frame of a match; what cannot be read is told where it is asked for."""
    try:
        return bool(frame_drawings(opened.library, opened.id))
    except GoodlengthError:
        return True


def turned_over(lines: Sequence[OverlayLine]) -> tuple[OverlayLine, ...]:
    """Return lines as they are seen on a picture whose left and right are changed."""
    return tuple(replace(line, points=tuple((round(1 - x, 5), y) for x, y in line.points)) for line in lines)


def move_to_frames(opened: OpenMatch, name: str, lines: Sequence[OverlayLine], at_us: int) -> None:
    """Store lines as drawings on the frame of a match time; done twice, they are stored once.

    Parameters
    ----------
    name : str
        Tells these lines from all others of the match.
    """
    made = [
        FrameDrawing(_id(f"{name} {n}"), max(0, at_us), "", line.kind, line.points, line.text)
        for n, line in enumerate(lines)
    ]
    if made:
        add_drawings(opened.library, opened.id, made)


def _id(name: str) -> str:
    return hashlib.sha256(name.encode()).hexdigest()[:16]


def _frame_of(opened: OpenMatch, footage_id: str, media_us: int) -> int:
    try:
        return original_table(opened.library, opened.file(footage_id)).index_at(media_us)
    except (GoodlengthError, OSError):
        return media_us // SAME_FRAME_US
