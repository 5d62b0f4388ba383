"""Docs that a machine can hold against the program: commands, links, entries, rooms."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from goodlength.record.model import EntryKind

ROOT = Path(__file__).resolve().parents[2]
PAGES = [
    *sorted((ROOT / "docs").rglob("*.md")),
    ROOT / "README.md",
    ROOT / "ARCHITECTURE.md",
    ROOT / "CHANGELOG.md",
]


def test_the_commands_page_is_what_the_commands_say() -> None:
    spec = importlib.util.spec_from_file_location("commands_page", ROOT / "scripts" / "commands_page.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    written = module.PAGE.read_text(encoding="utf-8")
    assert written == module.text(), "run: python scripts/commands_page.py"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_in_docs_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_every_answer_stands_in_the_entries_page() -> None:
    text = (ROOT / "docs" / "reference" / "entries.md").read_text(encoding="utf-8")
    assert not [
        what.value for what in EntryKind if what is not EntryKind.DAMAGED and f"`{what.value}`" not in text
    ]


def test_every_room_stands_in_the_architecture() -> None:
    text = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
    rooms = [p.parent.name for p in (ROOT / "src" / "goodlength").glob("*/__init__.py")]
    assert not [room for room in rooms if room not in text]


def test_decision_records_say_what_would_change_our_mind() -> None:
    for record in (ROOT / "docs" / "decisions").glob("*.md"):
        assert "What would change our mind" in record.read_text(encoding="utf-8"), record.name
