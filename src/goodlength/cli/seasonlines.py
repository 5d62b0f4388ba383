"""The sheet between games, the brief, the search and two observers, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Plain = Mapping[str, Any]


def between_lines(sheet: Plain) -> Iterator[str]:
    """The title, then at most three lines, each with its grade where it has one."""
    yield str(sheet["title"])
    for line in sheet["lines"]:
        grade = f"{line['grade_words']}: " if line["grade_words"] else ""
        yield ""
        yield f"  {grade}{line['words']}"
