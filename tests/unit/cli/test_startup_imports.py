"""What a command loads before it does anything: the libraries that take longest wait until they are asked."""

from __future__ import annotations

import subprocess
import sys

SLOW = (
    "scipy.stats",
    "scipy.optimize",
    "scipy.signal",
    "scipy.ndimage",
    "cv2",
    "av",
    "numba",
    "duckdb",
    "alembic",
)


def test_the_tasks_load_without_the_slow_libraries() -> None:
    """`scipy.stats` alone took half of the second that every command needed to begin."""
    code = f"import sys, goodlength.tasks; print([name for name in {SLOW!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
