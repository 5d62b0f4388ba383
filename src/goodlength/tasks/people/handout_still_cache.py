"""Stills of the handout's preview, remembered while it is written, and forgotten with a person's consent."""

from __future__ import annotations

import io
from functools import lru_cache
from pathlib import Path

MOST = 12  # a page is shown many times while it is written; it holds six stills at most


def remembered_still(path: str, us: int, short_side: int) -> tuple[bytes, int, int]:
    """Return a still of a video as JPEG, with its width and height in pixels.

    It is taken anew where the file has changed since: by its time of change and its size.

    Parameters
    ----------
    us : int
        Media time in microseconds.

    Raises
    ------
    OutOfRange, FootageError
        As `still`.
    """
    try:
        state = Path(path).stat()
        version = (state.st_mtime_ns, state.st_size)
    except OSError:  # reading it says in words that it is gone
        version = (0, 0)
    return _still(path, us, short_side, version)


def forget_stills() -> None:
    """Forget every still: somebody who may be seen in one withdrew consent, or was erased."""
    _still.cache_clear()


@lru_cache(maxsize=MOST)
def _still(path: str, us: int, short_side: int, _version: tuple[int, int]) -> tuple[bytes, int, int]:
    from PIL import Image

    from goodlength.footage.media.still_frame_png import still

    picture = Image.open(io.BytesIO(still(path, us, short_side=short_side))).convert("RGB")
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=82)
    return buffer.getvalue(), picture.width, picture.height
