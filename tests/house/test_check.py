"""The check's own scripts: which Python is taken for the second run, and the line that ends both."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def check() -> ModuleType:
    spec = importlib.util.spec_from_file_location("check_script", ROOT / "scripts" / "check.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules["check_script"] = made
    spec.loader.exec_module(made)
    return made


def fake_python(path: Path, minor: int, *, runs: bool = True) -> Path:
    """A stand-in that answers the questions asked of a Python 3.`minor`; a shim that runs nothing fails."""
    path.parent.mkdir(parents=True, exist_ok=True)
    body = f'#!/bin/sh\nexec "{sys.executable}" -c "import sys; sys.version_info = (3, {minor}, 0, \'final\', 0); exec(sys.argv[1])" "$2"\n'
    path.write_text(body if runs else "#!/bin/sh\nexit 127\n")
    path.chmod(0o755)
    return path


def newest(tmp_path: Path, at_hand: Path) -> str:
    """What `newest_python` prints, with only the folders of this test to look in."""
    script = f"root={ROOT}; . {ROOT}/scripts/environment.sh; PY={at_hand}; newest_python"
    env = {
        "PATH": f"{tmp_path / 'bin'}:/usr/bin:/bin",
        "HOME": str(tmp_path),
        "GOODLENGTH_ENV": str(tmp_path),
    }
    done = subprocess.run(["sh", "-euc", script], env=env, capture_output=True, text=True, check=True)
    return done.stdout


def test_the_second_run_takes_the_newest_python_that_runs(tmp_path: Path) -> None:
    at_hand = fake_python(tmp_path / "own" / "python", 11)
    fake_python(tmp_path / "bin" / "python3.13", 13, runs=False)
    fake_python(tmp_path / "bin" / "python3.12", 12)
    assert newest(tmp_path, at_hand) == "python3.12"
    found = fake_python(tmp_path / ".pyenv" / "versions" / "3.13.0" / "bin" / "python3", 13)
    assert newest(tmp_path, at_hand) == str(found)


def test_no_second_run_on_the_python_that_ran_already(tmp_path: Path) -> None:
    at_hand = fake_python(tmp_path / "own" / "python", 13)
    fake_python(tmp_path / "bin" / "python3.13", 13)
    fake_python(tmp_path / "bin" / "python3.12", 12)
    assert newest(tmp_path, at_hand) == ""


def test_one_line_counts_both_runs(check: ModuleType, tmp_path: Path) -> None:
    counts = tmp_path / "counts"
    assert check.closing_line(8, 0, counts) == "check: 8 passed, 0 failed"
    assert check.closing_line(6, 1, counts) == "check: 14 passed, 1 failed"
    assert check.closing_line(8, 0, None) == "check: 8 passed, 0 failed"


def test_steps_of_one_core_run_beside_each_other_and_are_told_in_their_order(
    check: ModuleType, tmp_path: Path
) -> None:
    """The first waits for what the second makes; the third, which is pytest's, begins when both are done."""
    made = tmp_path / "made"
    waits = f"import pathlib, time\nwhile not pathlib.Path({str(made)!r}).exists(): time.sleep(0.01)"
    makes = f"import pathlib; pathlib.Path({str(made)!r}).touch(); print('made'); raise SystemExit(3)"
    steps = [
        check.Step("pytest", (sys.executable, "-c", f"import os; os.remove({str(made)!r})", "pytest")),
        check.Step("waits", (sys.executable, "-c", waits)),
        check.Step("makes", (sys.executable, "-c", makes)),
    ]
    told = list(check.run_all(steps, tmp_path, None, 2))
    assert [passed for passed, _ in told] == [True, False, True]
    assert [words.split()[0] for _, words in told] == ["waits", "makes", "pytest"]
    assert "FAILED" in told[1][1] and "made" in told[1][1] and "repeat: " in told[1][1]
    assert (tmp_path / "makes.log").read_text() == "made\n"


@pytest.mark.parametrize("quick", [False, True])
def test_kernels_are_compiled_before_the_workers_start(check: ModuleType, quick: bool) -> None:
    """Each worker compiled the same functions: 27 s of processor for the test family's films alone."""
    steps = check.steps(quick, 2)
    (kernels,) = (step for step in steps if step.name == "kernels")
    assert not kernels.tests  # beside the type checker, where a core stood idle
    assert steps.index(kernels) < min(k for k, step in enumerate(steps) if step.tests)
    assert (ROOT / kernels.command[1]).is_file()
