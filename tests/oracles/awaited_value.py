"""A value that a busy machine may show late: waited for by looking again, never by a number of milliseconds."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

LONGEST_S = 30.0
T = TypeVar("T")


def comes_to(show: Callable[[], T], wanted: T, longest_s: float = LONGEST_S) -> T:
    """Return what is looked at once it is what is wanted at two looks in turn; otherwise what it last was."""
    until, met = time.monotonic() + longest_s, False
    while True:
        found = show()
        if (met and found == wanted) or time.monotonic() > until:
            return found
        met = found == wanted
