"""What the server sends to the page's scripts: written down once, and held on both sides."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from goodlength.record.entry_validation_schemas import VALUES
from goodlength.record.model import EntryKind
from goodlength.web.page_json_types import ANSWERS, JobJson

ROOT = Path(__file__).resolve().parents[3]
SCRIPTS = ROOT / "src" / "goodlength" / "web" / "static" / "js"
# sent to the browser itself, not to a script, or answered with nothing that a script reads
NO_SCRIPT = {"POST /api/settings/room", "GET /api/practice/{}/recordings/{}/media"}


@pytest.fixture(scope="module")
def page_types() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "typescript_message_types", ROOT / "scripts" / "typescript_message_types.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_types_of_the_scripts_are_those_of_the_server(page_types: ModuleType) -> None:
    written = page_types.PAGE.read_text(encoding="utf-8")
    assert written == page_types.text(), "run: python scripts/typescript_message_types.py"


def test_every_kind_of_entry_has_its_value(page_types: ModuleType) -> None:
    values = page_types.entry_values()
    assert all(f"'{kind.value}'" in values for kind in EntryKind)
    assert EntryKind.SPAN in VALUES


def test_a_type_that_json_has_no_word_for_is_refused(page_types: ModuleType) -> None:
    with pytest.raises(TypeError, match="no type in the scripts"):
        page_types.type_words(bytes)


def plain(path: str) -> str:
    return re.sub(r"\{\w+\}", "{}", path)


def test_every_answer_for_a_script_has_a_shape(client: Any) -> None:
    asked = {
        f"{method.upper()} {plain(path)}"
        for path, methods in client.app.openapi()["paths"].items()
        for method in methods.keys() - {"head"}
        if path.startswith("/api/")
    }
    assert asked - NO_SCRIPT == {plain(path) for path in ANSWERS}


def test_an_answer_of_another_shape_is_found(faults_of: Callable[[Any, Any], list[str]]) -> None:
    assert faults_of(JobJson, {"id": "j", "state": "done", "share": 1, "words": ""}) == []
    assert sorted(faults_of(JobJson, {"id": "j", "state": 3, "share": True, "more": 1})) == [
        "answer has more, which JobJson lacks",
        "answer lacks words",
        "answer.share is True, no <class 'float'>",
        "answer.state is 3, no <class 'str'>",
    ]


def test_no_script_says_any() -> None:
    said = re.compile(r"[{<|,:(\[]\s*any\s*[\]\[}>|;,)]")
    found = [
        f"{path.name}: {line.strip()}"
        for path in sorted(SCRIPTS.rglob("*.?s"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if said.search(line) and ("*" in line or path.suffix == ".ts")
    ]
    assert found == []
