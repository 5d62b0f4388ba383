"""Paths as they are typed, with the home folder put in for "~"."""

from __future__ import annotations

from pathlib import Path


def with_home(named: str | Path) -> Path:
    """Return a path with the home folder for "~" or "~name"; as it is where nobody of that name has one here.

    Examples
    --------
    >>> with_home("~nobody-of-that-name/videos").as_posix()
    '~nobody-of-that-name/videos'
    """
    try:
        return Path(named).expanduser()
    except RuntimeError:
        return Path(named)
