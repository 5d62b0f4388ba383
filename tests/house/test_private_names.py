"""No module imports another module's private names, and no test reaches for one."""

from __future__ import annotations

import ast
from pathlib import Path

from oracles.parsed_source import parsed

ROOT = Path(__file__).parents[2]
FILES = [p for d in ("src", "tests", "scripts") for p in sorted((ROOT / d).rglob("*.py"))]


def private_imports(tree: ast.Module) -> list[tuple[int, str]]:
    """Return the line and name of each private name of the project that a module imports or takes off a module."""
    modules: set[str] = set()
    found: list[tuple[int, str]] = []
    nodes = list(ast.walk(tree))
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("goodlength"):
            for alias in node.names:
                if alias.name.startswith("_") and not alias.name.startswith("__"):
                    found.append((node.lineno, alias.name))
                elif alias.name.islower():
                    modules.add(alias.asname or alias.name)
    for node in nodes:
        of_module = (
            isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules
        )
        if of_module and node.attr.startswith("_") and not node.attr.startswith("__"):
            found.append((node.lineno, f"{node.value.id}.{node.attr}"))
    return found


def test_a_private_import_is_seen() -> None:
    seen = private_imports(
        ast.parse("from goodlength.a import _b\nfrom goodlength import c\nc._d()\nself._e\n")
    )
    assert seen == [(1, "_b"), (3, "c._d")]


def test_no_private_imports() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line} {name}"
        for path in FILES
        for line, name in private_imports(parsed(path.read_text(encoding="utf-8")))
    ]
    assert found == []
