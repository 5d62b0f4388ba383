"""How the tree is laid out: folders that can be taken in at a glance, jobs that a reader can follow."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from oracles.parsed_source import parsed

SRC = Path(__file__).parents[2] / "src" / "goodlength"
JOB_BY_STRING = re.compile(r"[a-z_]+(\.[a-z_]+)*:[a-z_]+_job$|goodlength(\.[a-z_]+)+:[a-z_]+$")


def jobs_by_string(source: str) -> Iterator[str]:
    """Strings that name a function as "module:function", in whole or as the end of an f-string."""
    for node in ast.walk(parsed(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and JOB_BY_STRING.match(node.value):
            yield node.value


def test_a_job_by_string_is_seen() -> None:
    """The three ways in which jobs were named before."""
    old = (
        'JOB = "goodlength.measure.players.match_tracking_job:track_job"\n'
        'start("clip", "edit.highlights:reel_job", {})\n'
        'start("x", f"goodlength.footage.{job}", {"a": "https://b.example:443"})\n'
    )
    assert list(jobs_by_string(old)) == [
        "goodlength.measure.players.match_tracking_job:track_job",
        "edit.highlights:reel_job",
    ]


def test_no_job_is_started_by_string() -> None:
    """A function object is found by readers, by the type checker and by the import contracts."""
    found = {
        str(path.relative_to(SRC)): names
        for path in sorted(SRC.rglob("*.py"))
        if (names := list(jobs_by_string(path.read_text(encoding="utf-8"))))
    }
    assert found == {}


def test_no_crowded_folder() -> None:
    """At most fifteen modules, templates, scripts or styles a folder; migrations may grow."""
    folders = [folder for folder in SRC.rglob("*") if folder.is_dir() and folder.name != "__pycache__"]
    counts = {
        str(folder.relative_to(SRC)): sum(
            path.suffix in {".py", ".html", ".js", ".css"} and path.name != "__init__.py"
            for path in folder.iterdir()
        )
        for folder in folders
        if "migrations" not in folder.parts
    }
    assert counts
    assert {name: count for name, count in counts.items() if count > 15} == {}
