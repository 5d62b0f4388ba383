"""A file is written whole through `files.atomic_write`: no module makes part files of its own."""

from __future__ import annotations

import re
from pathlib import Path

SRC = Path(__file__).parents[2] / "src" / "goodlength"
OWN = re.compile(r"with_(name|suffix)\([^\n]*\.part|[\"'][^\"'\n]*\.part[\"']|os\.replace\(|os\.rename\(")
# The kinds of files of a library name what older versions left
ALLOWED = {"files/library_layout.py", "files/atomic_write.py"}


def test_part_files_are_made_in_one_place() -> None:
    """Before: exchange, uploads, the handout, copies of the database, the season and the demo had their own."""
    own = [
        f"{path.relative_to(SRC).as_posix()}:{number}: {line.strip()}"
        for path in sorted(SRC.rglob("*.py"))
        if path.relative_to(SRC).as_posix() not in ALLOWED
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if OWN.search(line)
    ]
    assert own == []
