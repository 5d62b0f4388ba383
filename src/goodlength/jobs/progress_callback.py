"""Progress and cancellation callbacks that every long task takes."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]  # share done (0 to 1) and a short text
Cancel = Callable[[], bool]  # True once the work should stop
