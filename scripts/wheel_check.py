"""The wheel is the product: builds it, installs it outside the checkout and runs the main job there.

By itself it is quick: the packages are those of the environment that runs this. With --fresh they are
installed anew from the index, by pip, pipx or uvx, and size and times are printed.

Usage: python scripts/wheel_check.py [--fresh {pip,pipx,uvx}] [--python PYTHON]
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.metadata
import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MATCH = "demo"
WAIT_S = 180
MOST_MB = 950  # of all packages, compiled files left out: 0017 says what each large one is for


def build(folder: Path) -> Path:
    """Return the wheel built from this checkout."""
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    run(command, ROOT)
    return next(folder.glob("*.whl"))


def outside() -> dict[str, str]:
    """Return the variables of a computer that knows nothing of the checkout."""
    left = {"PYTHONPATH", "PYTHONHOME", "GOODLENGTH_LIBRARY", "GOODLENGTH_ENV", "VIRTUAL_ENV"}
    return {name: value for name, value in os.environ.items() if name not in left}


def run(command: list[str], where: Path) -> str:
    """Return what a command printed; stop with all its words where it fails."""
    done = subprocess.run(command, cwd=where, env=outside(), check=False, capture_output=True, text=True)
    if done.returncode != 0:
        printed = f"{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
        sys.exit(f"{' '.join(command)} left with {done.returncode}:\n{printed}")
    return done.stdout


def install_with_packages_of(wheel: Path, folder: Path) -> list[str]:
    """Return the command of the wheel, installed with the packages of the environment that runs this."""
    run([sys.executable, "-m", "venv", "--without-pip", str(folder)], folder.parent)
    python = folder / "bin" / "python"
    site = Path(
        run([str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], folder).strip()
    )
    # A plain path: the editable goodlength of that environment is in a .pth, not read here.
    (site / "packages.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    pip = [
        sys.executable,
        "-m",
        "pip",
        "--python",
        str(python),
        "install",
        "--quiet",
        "--no-index",
        "--no-deps",
    ]
    run([*pip, "--no-compile", "--ignore-installed", str(wheel)], folder)
    place = run([str(python), "-c", "import goodlength; print(goodlength.__file__)"], folder).strip()
    if not Path(place).is_relative_to(folder):
        sys.exit(f"the wheel's own goodlength was not taken, but {place}")
    return [str(folder / "bin" / "goodlength")]


def install_fresh(wheel: Path, folder: Path, way: str, python: str) -> list[str]:
    """Return the command of the wheel, installed with all its packages from the index."""
    if way == "pip":
        run([python, "-m", "venv", str(folder)], folder.parent)
        run([str(folder / "bin" / "python"), "-m", "pip", "install", "--quiet", str(wheel)], folder)
        return [str(folder / "bin" / "goodlength")]
    os.environ.update(
        PIPX_HOME=str(folder), PIPX_BIN_DIR=str(folder / "bin"), UV_CACHE_DIR=str(folder / "uv")
    )
    os.environ.update(UV_TOOL_DIR=str(folder / "tools"))
    if way == "pipx":
        run(["pipx", "install", "--python", python, str(wheel)], folder.parent)
        return [str(folder / "bin" / "goodlength")]
    return ["uvx", "--python", python, "--from", str(wheel), "goodlength"]


def main_job(command: list[str], folder: Path) -> None:
    """Make the demo, read its findings, write the handout and open the page, as a coach would."""
    library = ["--library", str(folder / "library")]
    run([*command, *library, "demo", "--no-open", "--no-footage"], folder)
    findings = json.loads(run([*command, *library, "findings", "show", MATCH, "--json"], folder))
    if not findings:
        sys.exit("the demo match has no findings")
    run([*command, *library, "handout", "make", MATCH, "--to", str(folder / "handouts")], folder)
    if not any(path.read_bytes().startswith(b"%PDF") for path in (folder / "handouts").glob("*.pdf")):
        sys.exit("no handout as a PDF was made")
    with page(command, library, folder) as address, urllib.request.urlopen(address, timeout=60) as answer:
        if answer.status != 200 or b"goodlength" not in answer.read():
            sys.exit(f"the page at {address} is not goodlength's")


@contextlib.contextmanager
def page(command: list[str], library: list[str], folder: Path) -> Iterator[str]:
    """The address of the page while it runs."""
    server = subprocess.Popen(
        [*command, *library, "open", "--no-browser"],
        cwd=folder,
        env=outside(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        assert server.stdout is not None
        end, output = time.monotonic() + WAIT_S, ""
        while time.monotonic() < end and server.poll() is None:
            output += server.stdout.readline()
            if found := re.search(r"http://\S+", output):
                yield found.group()
                return
        sys.exit(f"the page did not start:\n{output}")
    finally:
        server.terminate()
        server.wait(timeout=30)


def megabytes(folder: Path) -> float:
    """Return the bytes of all files of a folder, in MB."""
    return sum(path.lstat().st_size for path in folder.rglob("*") if not path.is_dir()) / 1e6


def package_sizes(lock: Path) -> dict[str, float]:
    """Return MB on the disk of each package a lock names, the largest first, compiled files left out."""
    found: dict[str, float] = {}
    for name in dict.fromkeys(re.findall(r"^([A-Za-z0-9_.-]+)==", lock.read_text(encoding="utf-8"), re.M)):
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            files = importlib.metadata.distribution(name).files or ()
            paths = (Path(str(file.locate())) for file in files if file.suffix != ".pyc")
            found[name] = sum(path.lstat().st_size for path in paths if path.exists()) / 1e6
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def size_words(sizes: dict[str, float]) -> str:
    """Return the size of all packages together, and of the largest."""
    largest = ", ".join(f"{name} {size:.0f}" for name, size in list(sizes.items())[:10])
    return f"{len(sizes)} packages {sum(sizes.values()):.0f} MB on the disk ({largest})"


def main() -> None:
    """Build, install, run."""
    ask = argparse.ArgumentParser(prog="scripts/wheel_check.py")
    ask.add_argument(
        "--fresh", choices=["pip", "pipx", "uvx"], help="install the packages anew from the index"
    )
    ask.add_argument("--python", default=sys.executable, help="with --fresh: the Python to install for")
    asked = ask.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="goodlength wheel "))
    try:
        began = time.monotonic()
        wheel = build(folder)
        if asked.fresh:
            command = install_fresh(wheel, folder / "environment", asked.fresh, asked.python)
            run([*command, "--version"], folder)
        else:
            command = install_with_packages_of(wheel, folder / "environment")
        installed = time.monotonic()
        size = f", environment {megabytes(folder / 'environment'):.0f} MB" if asked.fresh else ""
        main_job(command, folder)
        sizes = package_sizes(ROOT / "requirements.lock")
        print(
            f"wheel {wheel.stat().st_size / 1e6:.1f} MB{size}: installed outside the checkout in "
            f"{installed - began:.1f} s; demo, findings, handout and page ran in "
            f"{time.monotonic() - installed:.1f} s; {size_words(sizes)}"
        )
        if sum(sizes.values()) > MOST_MB:
            sys.exit(f"The packages are larger than {MOST_MB} MB: see docs/decisions/0017.")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
