"""Outermost boxes of an MP4 or MOV file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path


def top_boxes(path: Path) -> Iterator[tuple[bytes, int, int]]:
    """Yield the outermost parts of an MP4 or MOV file: (kind, start, end); source: ISO-14496-12."""
    size = path.stat().st_size
    at = 0
    with path.open("rb") as file:
        while at + 8 <= size:
            file.seek(at)
            head = file.read(16)
            length, kind = int.from_bytes(head[:4], "big"), head[4:8]
            if length == 1:
                length = int.from_bytes(head[8:16], "big")
            if length == 0:
                length = size - at
            if length < 8 or not all(32 <= byte < 127 or byte == 0xA9 for byte in kind):
                return
            yield kind, at, at + length
            at += length
