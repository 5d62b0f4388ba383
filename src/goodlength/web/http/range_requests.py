"""Serve footage by HTTP range requests, as a video element asks when it seeks.

Starlette's own file answer is right, but reads 64 KiB at a time: 234 MB/s against 1,430 MB/s with 1 MiB
(source: WEB-STACK 1). It also answers several ranges as multipart, which no video element asks for; here a
request for several ranges gets the whole file, which the standard allows (source: RFC-9110 14.2).
"""

from __future__ import annotations

import re
from pathlib import Path

from starlette.responses import FileResponse
from starlette.types import Receive, Scope, Send

CHUNK_BYTES = 1024 * 1024
MEDIA_TYPES = {
    ".mp4": "video/mp4",
    ".m4v": "video/mp4",
    ".mov": "video/mp4",  # browsers play the H.264 inside when it is called MP4
    ".webm": "video/webm",
    ".mkv": "video/webm",
}
_ONE_RANGE = re.compile(r"\s*bytes\s*=\s*(\d*)\s*-\s*(\d*)\s*", re.IGNORECASE)


class FootageResponse(FileResponse):
    """A file answered with 200, 206 or 416, read in pieces of 1 MiB."""

    chunk_size = CHUNK_BYTES

    def __init__(self, path: Path) -> None:
        super().__init__(
            path,
            media_type=MEDIA_TYPES.get(path.suffix.lower(), "application/octet-stream"),
            headers={"cache-control": "private, no-cache"},
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, leaving out a Range header that is not one plain range."""
        headers = [
            (name, value)
            for name, value in scope["headers"]
            if name != b"range" or is_one_range(value.decode("latin-1"))
        ]
        await super().__call__({**scope, "headers": headers}, receive, send)


def is_one_range(text: str) -> bool:
    """Say whether a Range header asks for exactly one range that makes sense.

    A malformed header is left out, so that the whole file is answered: never the wrong bytes.

    Examples
    --------
    >>> [is_one_range(text) for text in ("bytes=0-1", "bytes=-5", "bytes=7-", "bytes=5-2", "bytes=0-1,4-5")]
    [True, True, True, False, False]
    """
    found = _ONE_RANGE.fullmatch(text)
    if found is None or found.groups() == ("", ""):
        return False
    first, last = found.groups()
    return not (first and last and int(first) > int(last))
