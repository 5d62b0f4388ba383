"""What is installed: the wheel holds the program alone, and imports nothing but what it names as needed."""

from __future__ import annotations

import ast
import importlib
import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

import pytest

from oracles.parsed_source import parsed

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return next(folder.glob("*.whl"))


def normalised(requirement: str) -> str:
    name = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert name is not None
    return re.sub(r"[-_.]+", "-", name.group()).lower()


def with_their_own(names: set[str]) -> set[str]:
    """Return packages with all that they themselves need."""
    found, waiting = set[str](), list(names)
    while waiting:
        if (name := waiting.pop()) in found:
            continue
        found.add(name)
        try:
            needed = [item for item in requires(name) or () if "extra ==" not in item]
        except PackageNotFoundError:  # for another system
            continue
        waiting += map(normalised, needed)
    return found


def imported_modules(source: str) -> Iterator[str]:
    """Yield the first part of every module that is imported, in functions too, or looked for by name."""
    for node in ast.walk(parsed(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module.split(".")[0]
        elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in ("find_spec", "import_module", "__import__"):
                yield str(node.args[0].value).split(".")[0]


def test_the_wheel_imports_no_development_package(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        metadata = next(name for name in packed.namelist() if name.endswith(".dist-info/METADATA"))
        named = re.findall(r"^Requires-Dist: (.+)$", packed.read(metadata).decode(), re.MULTILINE)
        sources = {name: packed.read(name).decode() for name in packed.namelist() if name.endswith(".py")}
    needed = with_their_own({normalised(item) for item in named})
    assert {"numpy", "starlette"} <= needed
    assert not {"hypothesis", "pytest", "playwright", "schemathesis"} & needed
    homes = packages_distributions()
    allowed = {
        module for module, packages in homes.items() if {normalised(package) for package in packages} & needed
    }
    allowed |= {*sys.stdlib_module_names, "goodlength"}
    foreign = sorted(
        f"{name}: {module}"
        for name, source in sources.items()
        for module in {*imported_modules(source)} - allowed
    )
    assert len(sources) > 400
    assert not foreign


def test_the_wheel_holds_the_program_alone(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        tops = {name.split("/")[0] for name in packed.namelist()}
    assert {name for name in tops if not name.endswith(".dist-info")} == {"goodlength"}


def test_the_wheel_holds_every_guide_of_the_page(wheel: Path) -> None:
    from goodlength.web.help_pages import NAMES

    with zipfile.ZipFile(wheel) as packed:
        held = set(packed.namelist())
    assert {f"goodlength/web/guides/{name}.md" for name in NAMES} <= held


def test_installed_the_robustness_suite_says_where_it_runs(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(tmp_path)
    for name in ("trust", "fuzz"):
        done = subprocess.run(
            [sys.executable, "-m", "goodlength", "bench", name, "--json"],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(tmp_path)},
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 1
        assert not done.stdout
        assert f"./start bench {name}" in done.stderr
        assert "source code" in done.stderr


def test_from_the_source_the_command_hands_over_to_the_suite() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "goodlength", "bench", "trust", "--kills", "none"],
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert "'--kills': 'none' is not a valid integer" in done.stderr


def test_the_size_of_each_package_of_the_lock_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    wheel_check = importlib.import_module("wheel_check")
    lock = tmp_path / "a.lock"
    lock.write_text("idna==3.20 \\\n    --hash=x\nnumpy==2 ; python_version < '3'\nnumpy==1\nnot-there==1\n")
    sizes = wheel_check.package_sizes(lock)
    assert list(sizes) == ["numpy", "idna"]
    assert sizes["numpy"] > 20 and 0.1 < sizes["idna"] < 1
    assert wheel_check.size_words({"numpy": 57.4, "idna": 0.4}) == (
        "2 packages 58 MB on the disk (numpy 57, idna 0)"
    )
