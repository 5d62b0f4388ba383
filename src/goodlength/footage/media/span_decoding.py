"""Decode the frames of a span of media time, hand frames to several who need them, and explain why a span
cannot be decoded.

```
 file ──> decoder ──> frame ──> the copy for the browser, which takes every frame
                        └─────> others in turn: wants it? ──yes──> takes it, converts it as small as it needs
```
A frame is handed on before the next is decoded, so no more than one waits, however slow whoever takes it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

from av.video.frame import VideoFrame

from goodlength.errors import OutOfRange
from goodlength.footage.media.damage_tolerant_frame_decoding import (
    JOINABLE,
    decode_frames_from,
    length_of,
    pts_of,
)
from goodlength.footage.media.frame_presentation_time_table import FrameTable, us_of
from goodlength.footage.media.packet_scan import scan_packets
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile
from goodlength.media_time import MICROSECONDS, TimeBase, clock_words, seconds


def span_of(film: VideoFile, from_us: int, to_us: int, *, from_beginning: bool) -> Iterator[VideoFrame]:
    """Yield pictures from the one shown at `from_us` to the one shown just before `to_us`."""
    pts = from_us * film.base.den // (film.base.num * 1_000_000)
    pending: VideoFrame | None = None
    for frame in decode_frames_from(film, pts, from_beginning=from_beginning):
        at = us_of(pts_of(frame), film.base)
        if at >= to_us:
            break
        if at <= from_us:
            pending = frame
            continue
        if pending is not None:
            yield pending
            pending = None
        yield frame
    else:
        # The last picture of the film stands for a while; after that there is nothing to show.
        if pending is not None and from_us >= us_of((pts_of(pending)) + length_of(film, pending), film.base):
            pending = None
    if pending is not None:
        yield pending


def clock_jumps(film: VideoFile, table: FrameTable | None) -> bool:
    """Return whether the film must be read from its beginning, because its clock jumps back on the way."""
    if table is None and film.container.format.name in JOINABLE:
        table = scan_packets(film.path, thorough=False).table
    return table is not None and table.jumps_back > 0


def outside(film: VideoFile, from_us: int, table: FrameTable | None) -> OutOfRange:
    """Return the error for a moment at which the film shows nothing."""
    table = table or scan_packets(film.path, thorough=False).table
    return OutOfRange(
        f"{film.name} shows no frame at {clock_words(seconds(from_us))}: its frames run from "
        f"{clock_words(seconds(table.first_us))} to {clock_words(seconds(table.end_us))}. Choose a time "
        "inside that."
    )


class FrameUser(Protocol):
    """Somebody who needs some of a video's frames."""

    def wants(self, at_s: float) -> bool:
        """Return whether the frame of a moment (media time, s) is needed: others are not converted."""

    def take(self, at_s: float, frame: VideoFrame) -> None:
        """Use a frame as decoded; it must not be changed."""


def shared_frames(
    frames: Iterable[VideoFrame], base: TimeBase, users: Sequence[FrameUser]
) -> Iterator[VideoFrame]:
    """Yield decoded frames, each after those who want it have used it.

    Parameters
    ----------
    frames : iterable of VideoFrame
        In the order shown, their stamps in ticks of `base`.
    base : TimeBase
    users : sequence of FrameUser
    """
    for frame in frames:
        at_s = us_of(pts_of(frame), base) / MICROSECONDS
        for user in users:
            if user.wants(at_s):
                user.take(at_s, frame)
        yield frame
