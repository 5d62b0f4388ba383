"""The audit of the locks finds what it should: unpinned, without a sum, from an address, in two versions."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
SUM = "--hash=sha256:" + "0" * 64


@pytest.fixture(scope="module")
def audit() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "audit", ROOT / "scripts" / "lockfile_hash_and_licence_audit.py"
    )
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    import sys

    sys.modules["audit"] = made
    spec.loader.exec_module(made)
    return made


def test_a_good_lock_is_read(audit: ModuleType) -> None:
    pins, wrong = audit.read_lock(
        f"a-b==1.0 \\\n    {SUM} \\\n    {SUM}\n    # via c\nD_e==2 \\\n    {SUM}\n"
    )
    assert wrong == []
    assert (pins["a-b"].version, pins["a-b"].hashes, pins["d-e"].version) == ("1.0", 2, "2")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("a==1", "without a sha256: a"),
        (f"a>=1 {SUM}", "not pinned"),
        (f"a @ https://example.org/a.whl {SUM}", "not pinned"),
        (f"-e . {SUM}", "not pinned"),
        ("a==1 --hash=sha256:abc", "without a sha256"),
        ("a==1 --hash=md5:" + "0" * 64, "without a sha256"),
    ],
)
def test_a_line_that_could_bring_something_else_is_found(audit: ModuleType, line: str, said: str) -> None:
    _, wrong = audit.read_lock(line + "\n")
    assert said in wrong[0]


def test_a_line_for_another_python_does_not_count(audit: ModuleType) -> None:
    text = (
        f"a==1 ; python_full_version < '3' \\\n    {SUM}\na==2 ; python_full_version >= '3' \\\n    {SUM}\n"
    )
    pins, wrong = audit.read_lock(text)
    assert (wrong, pins["a"].version) == ([], "2")


def test_two_versions_and_strangers_are_found(audit: ModuleType) -> None:
    item, _ = audit.read_lock(f"a==1 {SUM}\n")
    two, _ = audit.read_lock(f"a==2 {SUM}\n")
    assert audit.apart(item, two) == ["a: 1 and 2"]
    assert any("pytest" in line for line in audit.installed_wrong(item))


def test_the_locks_are_sound(audit: ModuleType) -> None:
    for lock in audit.LOCKS:
        pins, wrong = audit.read_lock(lock.read_text(encoding="utf-8"))
        assert wrong == []
        assert len(pins) > 30


def test_the_lock_of_the_script_tools_is_sound(audit: ModuleType) -> None:
    number, wrong = audit.read_page_lock(audit.PAGE_LOCK.read_text(encoding="utf-8"))
    assert wrong == []
    assert number > 5


def test_a_script_tool_without_a_sum_or_from_an_address_is_found(audit: ModuleType) -> None:
    packages = {
        "": {"name": "own"},
        "node_modules/a": {"version": "1", "integrity": "sha512-AA=="},
        "node_modules/b": {"version": "1"},
        "node_modules/c": {"version": "1", "integrity": "sha512-AA==", "resolved": "file:../c"},
    }
    number, wrong = audit.read_page_lock(json.dumps({"packages": packages}))
    assert number == 3
    assert wrong == ["without a sha512: node_modules/b", "from an address: node_modules/c"]
