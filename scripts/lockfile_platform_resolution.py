"""Whether the locks can be installed on every system that goodlength serves: resolved, nothing installed.

The lock is resolved by `uv` with ready-made wheels alone, for each system and Python. A lock that passed is
not looked at again until it changes. One that changed needs a network: without one it is said that the lock
was not looked at, and the next check looks again. `uv` comes from requirements/uv.lock into var/uv.

Usage: python scripts/lockfile_platform_resolution.py [--again]
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "requirements.lock"
PASSED = ROOT / "var" / "check" / "locks-passed"
TOOL = ROOT / "var" / "uv"
# system -> what uv calls it; macOS from 14 on, Linux with glibc 2.28 or later
SYSTEMS = {
    "Windows x86-64": "x86_64-pc-windows-msvc",
    "macOS arm64": "aarch64-apple-darwin",
    "macOS Intel": "x86_64-apple-darwin",
    "Linux x86-64": "x86_64-manylinux_2_28",
    "Linux aarch64": "aarch64-manylinux_2_28",
}
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
WITHOUT_COMPILER = {("macOS Intel", "3.14")}
OLDEST_MACOS = "14.0"
UNREACHED = ("error sending request", "dns error", "Connection refused", "NewConnectionError")  # uv and pip


def find_tool() -> Path:
    """Return `uv`, installed from its lock when it is not there."""
    tool = TOOL / "bin" / "uv"
    if not tool.exists():
        pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps"]
        lock = ["--require-hashes", "--only-binary", ":all:", "-r", str(ROOT / "requirements" / "uv.lock")]
        subprocess.run(
            [*pip, "--upgrade", "--target", str(TOOL), *lock], check=True, capture_output=True, text=True
        )
    return tool


def resolver_command(tool: Path, lock: Path, system: str, python: str) -> list[str]:
    """Return what `uv` is asked: the pins of one system, told to stdout.

    The Python that runs this one is named and none may be fetched: without that, `uv` looks for the Python it
    resolves for, tries to fetch it from the internet, and waits seconds for each refusal.
    """
    ours = ["--python", sys.executable, "--no-python-downloads"]
    where = ["--python-platform", SYSTEMS[system], "--python-version", python, "--only-binary", ":all:"]
    return [str(tool), "pip", "compile", "--quiet", "--no-header", *ours, *where, str(lock)]


def resolve(tool: Path, lock: Path, system: str, python: str) -> str:
    """Return the pins that one system takes from a lock; raise `RuntimeError` if it cannot."""
    done = subprocess.run(
        resolver_command(tool, lock, system, python),
        env=os.environ | {"MACOSX_DEPLOYMENT_TARGET": OLDEST_MACOS},
        check=False,
        capture_output=True,
        text=True,
    )
    if done.returncode != 0:
        raise RuntimeError(f"{system}, Python {python}: {done.stderr.strip()}")
    return done.stdout


def is_unreached(words: str) -> bool:
    """Return whether a failure says that no package index could be reached."""
    return any(sign in words for sign in UNREACHED)


def unserved(tool: Path, lock: Path) -> list[str]:
    """Return what is wrong, a line for each system and Python for which the lock cannot be installed."""

    def fault_of(case: tuple[str, str]) -> str | None:
        try:
            pins = resolve(tool, lock, *case)
        except RuntimeError as error:
            return str(error)
        if ("numba==" in pins) is (case in WITHOUT_COMPILER):
            return f"{case[0]}, Python {case[1]}: the compiler numba is not where it should be"
        return None

    cases = [(system, python) for system in SYSTEMS for python in PYTHONS]
    if (first := fault_of(cases[0])) is not None and is_unreached(first):
        return [first]
    with ThreadPoolExecutor(4) as pool:
        return [wrong for wrong in pool.map(fault_of, cases) if wrong is not None]


def main() -> None:
    """Resolve, or say that this lock passed before."""
    count = len(SYSTEMS) * len(PYTHONS)
    sum_ = hashlib.sha256(LOCK.read_bytes() + Path(__file__).read_bytes()).hexdigest()
    if "--again" not in sys.argv and PASSED.exists() and PASSED.read_text(encoding="ascii") == sum_:
        print(f"locks: this lock was resolved before for {count} systems and Pythons")
        return
    try:
        tool = find_tool()
    except subprocess.CalledProcessError as error:
        if is_unreached(str(error.stderr)):
            print("locks: NOT looked at, no package index could be reached for the resolver")
            return
        sys.exit(f"The resolver could not be installed: {error.stderr}")
    if wrong := unserved(tool, LOCK):
        if all(is_unreached(words) for words in wrong):
            print("locks: NOT looked at, no package index could be reached")
            return
        sys.exit("\n".join(wrong))
    PASSED.parent.mkdir(parents=True, exist_ok=True)
    PASSED.write_text(sum_, encoding="ascii")
    print(f"locks: {LOCK.name} resolves for {count} systems and Pythons, with ready-made packages alone")


if __name__ == "__main__":
    main()
