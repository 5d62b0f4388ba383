"""Names in the code: no public class twice, and none of the retired words in what modules define."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

SOURCE = Path(__file__).parents[2] / "src" / "goodlength"
RETIRED = frozenset(
    [
        "told",
        "said",
        "heard",
        "kept",
        "held",
        "tried",
        "brought",
        "drawn",
        "begun",
        "beside",
        "blunder",
        "burnt",
        "doubt",
        "doubts",
        "look",
        "looked",
        "telling",
        "watcher",
        "stamp",
        "ticks",
        "akin",
    ]
)
"""Past participles as nouns and riddles that once stood for the field's own terms."""


class Definition(NamedTuple):
    """What a module defines at its top."""

    path: Path
    line: int
    name: str
    is_class: bool


@cache
def definitions() -> list[Definition]:
    return [
        Definition(path.relative_to(SOURCE), node.lineno, node.name, isinstance(node, ast.ClassDef))
        for path in sorted(SOURCE.rglob("*.py"))
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    ]


def words_of(name: str) -> set[str]:
    """Return the words of an identifier, in small letters."""
    return set(re.findall(r"[a-z0-9]+", re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name).lower()))


def test_words_of_an_identifier() -> None:
    assert words_of("_TrackedMatch_of") == {"tracked", "match", "of"}


def test_no_two_public_classes_share_a_name() -> None:
    homes: dict[str, list[str]] = defaultdict(list)
    for definition in definitions():
        if definition.is_class and not definition.name.startswith("_"):
            homes[definition.name].append(str(definition.path))
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}


def test_no_retired_word_in_a_definition() -> None:
    """Commands keep the verbs that coaches type (`footage look`)."""
    found = [
        f"{definition.path}:{definition.line} {definition.name}"
        for definition in definitions()
        if words_of(definition.name) & RETIRED and definition.path.parts[0] != "cli"
    ]
    assert found == []


def test_no_retired_word_in_a_module() -> None:
    found = [str(path.relative_to(SOURCE)) for path in SOURCE.rglob("*.py") if words_of(path.stem) & RETIRED]
    assert found == []


def variables(path: Path) -> list[tuple[int, str]]:
    """Return every local, loop variable and parameter of a file, fields of classes left out: line, name."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    fields = {
        id(field.target)
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for field in node.body
        if isinstance(field, ast.AnnAssign)
    }
    stored = [
        (node.lineno, node.id)
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store) and id(node) not in fields
    ]
    return stored + [(node.lineno, node.arg) for node in ast.walk(tree) if isinstance(node, ast.arg)]


def test_no_variable_is_called_one() -> None:
    root = SOURCE.parents[1]
    found = [
        f"{path.relative_to(root)}:{line}"
        for folder in ("src", "tests", "scripts", "robustness")
        for path in sorted((root / folder).rglob("*.py"))
        for line, name in variables(path)
        if name == "one"
    ]
    assert found == [], "name a variable by what it holds"
