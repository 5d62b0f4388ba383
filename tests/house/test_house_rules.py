"""The house style, as far as a machine can see: sizes, sources, words, addresses, docs."""

from __future__ import annotations

import ast
import re
import subprocess
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from oracles.parsed_source import parsed

ROOT = Path(__file__).resolve().parents[2]
CODE = sorted((ROOT / "src").rglob("*.py"))
PAGE = sorted(p for p in (ROOT / "src").rglob("*") if p.suffix in {".js", ".css", ".html", ".jinja", ".typ"})
TESTS = sorted((ROOT / "tests").rglob("*.py"))
FUNCTION_LIMIT = 70
FILE_LIMIT = 600
TABLE_FILES = {"tokens.css"}


def words_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


class Outline(NamedTuple):
    """What a module says of itself, and the name and length of each of its functions."""

    docstring: str | None
    functions: tuple[tuple[str, int], ...]


@cache
def outline(path: Path) -> Outline:
    tree = parsed(path.read_text(encoding="utf-8"))
    functions = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            docstring = ast.get_docstring(node, clean=False) or ""
            length = (node.end_lineno or 0) - node.lineno + 1 - docstring.count("\n")
            functions.append((node.name, length))
    return Outline(ast.get_docstring(tree), tuple(functions))


def tracked_text() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    kinds = {
        ".py",
        ".md",
        ".toml",
        ".sh",
        ".js",
        ".css",
        ".html",
        ".jinja",
        ".typ",
        ".json",
        ".lock",
        ".in",
        "",
    }
    return [
        ROOT / name for name in listed if name and (ROOT / name).suffix in kinds and (ROOT / name).is_file()
    ]


@pytest.mark.parametrize("path", CODE + PAGE + TESTS, ids=words_of)
def test_no_file_is_longer_than_the_limit(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").count("\n")
    assert path.name in TABLE_FILES or lines <= FILE_LIMIT, f"{words_of(path)}: {lines} lines"


@pytest.mark.parametrize("path", CODE, ids=words_of)
def test_no_function_is_longer_than_the_limit(path: Path) -> None:
    for name, length in outline(path).functions:
        assert length <= FUNCTION_LIMIT, f"{words_of(path)}: {name} has {length} lines"


@pytest.mark.parametrize("path", [p for p in CODE if p.name != "__init__.py"], ids=words_of)
def test_every_module_says_what_it_is_for(path: Path) -> None:
    assert outline(path).docstring, words_of(path)


def listed_keys() -> set[str]:
    text = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "docs" / "sources").glob("*.md"))
    return set(re.findall(r"^- \*{0,2}`?([A-Z][A-Z0-9-]+)`?\*{0,2}\s*:", text, flags=re.MULTILINE))


def test_every_source_key_cited_in_code_is_listed() -> None:
    known = listed_keys()
    cited = {
        (key, words_of(path))
        for path in CODE
        for key in re.findall(
            r"[Ss]ource: `?([A-Z][A-Z0-9]+(?:-[A-Z0-9]+)+)`?", path.read_text(encoding="utf-8")
        )
    }
    assert cited
    missing = sorted(pair for pair in cited if pair[0] not in known)
    assert not missing, missing


def test_nothing_tracked_names_a_machine_path_or_a_download_address() -> None:
    path = re.compile(r"(?<![\w.])/(?:work|root|home/\w+|tmp/gl)/")
    for file in tracked_text():
        text = file.read_text(encoding="utf-8", errors="replace")
        if file.name == "test_house_rules.py":
            continue
        assert not path.search(text), words_of(file)
        if file.suffix == ".lock":
            assert "://" not in text, words_of(file)


def test_no_marks_of_unfinished_work_stand_in_code() -> None:
    mark = re.compile(r"\b(?:TODO|FIXME|XXX)\b(?!\(issue\))")
    found = [words_of(p) for p in CODE + PAGE if mark.search(p.read_text(encoding="utf-8"))]
    assert not found


def test_room_inits_say_what_they_never_do() -> None:
    rooms = [p for p in CODE if p.name == "__init__.py" and p.parent.parent == ROOT / "src" / "goodlength"]
    for room in rooms:
        said = outline(room).docstring or ""
        assert "never" in said.lower(), words_of(room)
