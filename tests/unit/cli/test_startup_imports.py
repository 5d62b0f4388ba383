"""What a command loads before it does anything: the libraries that take longest wait until they are asked."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from goodlength import tasks

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


def test_a_list_of_matches_is_printed_without_the_findings(tmp_path: Path) -> None:
    """Each subject of `tasks` is imported when it is asked for: a third of the time of a short command."""
    code = (
        "import sys; from goodlength.cli import main\n"
        f"try: main(args=['--library', {str(tmp_path)!r}, 'match', 'list'])\n"
        "except SystemExit: pass\n"
        "print([name for name in ('scipy.special', 'goodlength.findings', 'goodlength.tasks.sharing') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().splitlines()[-1] == "[]"


def test_every_public_name_of_every_subject_is_a_name_of_tasks() -> None:
    names = {name for subject in tasks.SUBJECTS for name in getattr(tasks, subject).__all__}
    assert {*tasks.SUBJECTS, *names} == set(tasks.__all__) <= set(dir(tasks))
    assert all(getattr(tasks, name) is not None for name in tasks.__all__)
    folders = {path.parent.name for path in Path(tasks.__file__).parent.glob("*/__init__.py")}
    assert folders - set(tasks.SUBJECTS) == {"ball", "playback"}  # asked for by their own names
    with pytest.raises(AttributeError, match="no attribute 'no_such_task'"):
        _ = tasks.no_such_task
