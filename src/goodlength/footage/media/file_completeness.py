"""Detect whether a file is complete or still being copied: by its structure, else by watching its size.

An .mp4, .mov, .mkv or .avi says how long it is to be, so one that ends there needs no watching. An .mts or
.ts, and a recording still being written, say nothing: it is whole once it has not changed for a while.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from goodlength.errors import Unfinished
from goodlength.footage.media.mp4_top_level_box_listing import top_boxes

Waiting = Callable[[str], None]

SETTLE_S = 0.25  # for a glance
WATCH_S = 15.0  # ASSUMED: a copy that stands still for longer than this is over
STEP_S = 0.25
EBML, SEGMENT = b"\x1a\x45\xdf\xa3", b"\x18\x53\x80\x67"  # source: MATROSKA-SPEC


def settled(path: Path, before: os.stat_result, watch_s: float, waiting: Waiting | None = None) -> None:
    """Return once a file is known not to grow any more.

    Parameters
    ----------
    path : Path
    before : stat result
        Of the file before it was read.
    watch_s : float
        A file that changed less than so long ago, and cannot be told to be whole, is watched for the rest.
    waiting : callable, optional
        Told once, in words, that and how long the file is watched.

    Raises
    ------
    Unfinished
        If it grew or was written while it was looked at.
    """
    _check(path, before)
    left = min(watch_s, watch_s - (time.time() - before.st_mtime))
    if left <= 0 or ends_where_it_says(path):
        return
    if waiting is not None and left > 1.0:
        waiting(
            f"{path.name} was written to a moment ago. Watching for {left:.0f} s whether it is still being "
            "copied …"
        )
    until = time.monotonic() + left
    while time.monotonic() < until:
        time.sleep(min(STEP_S, max(0.0, until - time.monotonic())))
        _check(path, before)


def _check(path: Path, before: os.stat_result) -> None:
    now = path.stat()
    if now.st_size != before.st_size or now.st_mtime_ns != before.st_mtime_ns:
        raise Unfinished(
            f"{path.name} is still being written: its size went from {before.st_size:,} to "
            f"{now.st_size:,} bytes meanwhile. Wait until the copy is done, then add it again."
        )


def ends_where_it_says(path: Path) -> bool:
    """Return whether a file's own structure says that it ends where it does; False where it says nothing."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(64)
    if head.startswith(EBML):
        return _segment_end(head) == size
    if head[:4] == b"RIFF":
        return _riff_end(path) == size
    boxes = list(top_boxes(path))
    kinds = {kind for kind, _, _ in boxes}
    # A recording in fragments goes on from box to box: that the last one is whole says nothing.
    return b"moov" in kinds and b"moof" not in kinds and boxes[-1][2] == size


def _segment_end(head: bytes) -> int | None:
    """Return where the segment of an .mkv ends by its header; None while it is open, or not found."""
    at = 4
    length, at = _vint(head, at)
    if length is None or head[at + length : at + length + 4] != SEGMENT:
        return None
    whole, begin = _vint(head, at + length + 4)
    return None if whole is None else begin + whole


def _vint(data: bytes, at: int) -> tuple[int | None, int]:
    """Return a length of the format, and where it ends; None for the one that means unknown."""
    if at >= len(data) or data[at] == 0:
        return None, at
    bytes_used = 9 - data[at].bit_length()
    raw = int.from_bytes(data[at : at + bytes_used], "big") & ((1 << 7 * bytes_used) - 1)
    unknown = raw == (1 << 7 * bytes_used) - 1
    return (None if unknown else raw), at + bytes_used


def _riff_end(path: Path) -> int:
    """Return where the last part of an .avi or .wav ends by its header; source: common practice."""
    size, at = path.stat().st_size, 0
    with path.open("rb") as file:
        while at + 8 <= size:
            file.seek(at)
            head = file.read(8)
            if head[:4] != b"RIFF":
                return -1
            at += 8 + int.from_bytes(head[4:8], "little")
            at += at % 2 if at < size else 0
    return at
