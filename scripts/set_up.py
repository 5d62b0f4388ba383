"""Sets up goodlength's environment: the one way that `start`, `start.cmd`, `start.command` and `check` share.

Standard library only. Any Python from 3.6 on can run it: one that is too old looks for a newer one, fetches
one for goodlength alone, or says what to install. Every failure is a sentence with the next step.

Usage: python scripts/set_up.py [--ready] LOCK
    LOCK      the packages to install: requirements.lock or requirements-dev.lock
    --ready   only look whether everything stands as LOCK names it: 0 if so, 3 if not
"""

import contextlib
import errno
import hashlib
import os
import platform
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import IO, Dict, Iterator, List, Optional, Tuple

ROOT = Path(__file__).resolve().parent.parent
WINDOWS = os.name == "nt"
OLDEST, NEWEST = (3, 11), (3, 14)  # the Pythons that the locks serve
NEWEST_ON_INTEL_MAC = (3, 13)  # the last with a compiler for the ball's flight
FETCHED = "3.13"
SPACE_B = 1_600_000_000  # the environment, and its packages once more while they are unpacked
LONGEST_INSIDE = 150  # letters of the longest path in an environment, with some to spare
LONGEST_ON_WINDOWS = 259
NOT_READY = 3
DIVERTING = ("PIP_TARGET", "PIP_PREFIX", "PIP_USER", "PIP_ROOT", "PIP_DRY_RUN", "PIP_REQUIRE_VIRTUALENV")
MISLEADING = ("PYTHONDONTWRITEBYTECODE", "PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__")
ASK = "import sys; print('%d.%d|%s' % (sys.version_info[0], sys.version_info[1], sys.executable))"
AGAIN = "Then start goodlength again; what was fetched already is not fetched twice."


class SetUpError(Exception):
    """What stopped the set-up and what to do next, in words for a coach."""


def say(words: str) -> None:
    """Print a line on the standard error, whatever letters the console can draw."""
    coding = getattr(sys.stderr, "encoding", None) or "ascii"
    sys.stderr.write(words.encode(coding, "replace").decode(coding) + "\n")
    sys.stderr.flush()


def environment_folder() -> Path:
    """Return the folder of the environment: GOODLENGTH_ENV, or .venv beside the program."""
    return Path(os.environ.get("GOODLENGTH_ENV") or ROOT / ".venv").absolute()


def python_of(folder: Path) -> Path:
    """Return the interpreter of an environment."""
    return folder / "Scripts" / "python.exe" if WINDOWS else folder / "bin" / "python"


def clean_variables() -> Dict[str, str]:
    """Return the variables for a child process, without those that lead Python or pip elsewhere."""
    clean = {name: value for name, value in os.environ.items() if name not in DIVERTING + MISLEADING}
    clean.update(PYTHONIOENCODING="utf-8", PIP_DISABLE_PIP_VERSION_CHECK="1", PIP_NO_INPUT="1")
    return clean


def answer_of(command: List[str]) -> Optional[str]:
    """Return what a command printed; None if it cannot run, fails or does not end."""
    try:
        done = subprocess.run(
            command,
            check=False,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=60,
            env=clean_variables(),
        )
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return None
    return done.stdout.decode("utf-8", "replace").strip() if done.returncode == 0 else None


# ---- which Python -------------------------------------------------------------------------------------


def newest_served() -> Tuple[int, int]:
    """Return the newest version of Python for which this system has all packages."""
    intel_mac = sys.platform == "darwin" and platform.machine() == "x86_64"
    return NEWEST_ON_INTEL_MAC if intel_mac else NEWEST


def served(command: List[str]) -> Optional[str]:
    """Return the interpreter behind a command if the locks serve its version and it can make environments."""
    answer = answer_of([*command, "-c", "import venv; " + ASK])
    found = re.match(r"(\d+)\.(\d+)\|(.+)", answer or "")
    if found is None or not OLDEST <= (int(found.group(1)), int(found.group(2))) <= newest_served():
        return None
    return found.group(3)


def candidates() -> Iterator[List[str]]:
    """Yield commands that may be a Python, the likeliest first."""
    versions = [f"3.{minor}" for minor in (13, 12, 11, 14)]
    yield from ([name] for name in [os.environ.get("PYTHON", ""), sys.executable] if name)
    if WINDOWS:
        yield from (["py", "-" + version] for version in versions)
        for home in (
            os.environ.get("LOCALAPPDATA", "") + r"\Programs\Python",
            os.environ.get("PROGRAMFILES", ""),
        ):
            yield from ([str(Path(home, "Python" + v.replace(".", ""), "python.exe"))] for v in versions)
    yield from (["python" + version] for version in versions)
    yield from (["python3"], ["python"])
    homes = ("/Library/Frameworks/Python.framework/Versions/{}/bin", "/opt/homebrew/bin", "/usr/local/bin")
    for home in () if WINDOWS else homes:
        yield from ([home.format(v) + "/python" + v] for v in versions)
    pyenv = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    yield from ([str(python_of(found))] for v in versions for found in sorted(pyenv.glob(v + ".*")))
    yield from ([str(found)] for found in fetched_pythons())


def fetched_pythons() -> List[Path]:
    """Return the interpreters that were fetched for goodlength alone."""
    return sorted((ROOT / ".python").glob("*/python.exe" if WINDOWS else "*/bin/python3"))


def choose_python() -> str:
    """Return an interpreter that can make the environment, fetching one where none is found."""
    for command in candidates():
        found = served(command)
        if found is not None:
            return found
    return fetch_python()


def fetch_python() -> str:
    """Return a Python fetched with the tool `uv` into .python, beside the program; nothing else changes."""
    own = ".".join(map(str, sys.version_info[:2]))
    say(f"No Python {served_words()} was found here (this is Python {own}).")
    tool = find_uv() or install_uv()
    if tool is not None:
        say("Fetching a Python for goodlength alone (about 30 MB; nothing else on this computer changes) ...")
        run_uv(tool)
        for path in fetched_pythons():
            found = served([str(path)])
            if found is not None:
                return found
    raise SetUpError(f"goodlength needs Python {served_words()}. {how_to_get_python()}")


def served_words() -> str:
    """Return the versions of Python that serve, as "3.11 to 3.14"."""
    return "{}.{} to {}.{}".format(*OLDEST, *newest_served())


def how_to_get_python() -> str:
    """Return how to install a Python on this system."""
    if WINDOWS:
        where, door = "Windows", "start.cmd"
    elif sys.platform == "darwin":
        where, door = "macOS", "start.command"
    else:
        return "On Debian or Ubuntu: apt-get install python3 python3-venv python3-pip, then run this again."
    return f"Install Python {FETCHED} from python.org (Downloads, {where}), then double-click {door} again."


def find_uv() -> Optional[str]:
    """Return the tool `uv` if this computer has it."""
    homes = [
        os.environ.get("PATH", ""),
        str(Path.home() / ".local" / "bin"),
        str(Path.home() / ".cargo" / "bin"),
    ]
    return shutil.which("uv", path=os.pathsep.join(homes))


def install_uv() -> Optional[str]:
    """Return `uv` installed from its lock into .uv, beside the program; None where that cannot be done."""
    folder, lock = ROOT / ".uv", ROOT / "requirements" / "uv.lock"
    tool = python_of(folder).with_name("uv.exe" if WINDOWS else "uv")
    if not tool.exists() and lock.exists():
        made = answer_of([sys.executable, "-m", "venv", str(folder)]) is not None
        install = ["-m", "pip", "install", "--require-hashes", "--only-binary", ":all:", "-r", str(lock)]
        if not made or answer_of([str(python_of(folder)), *install]) is None:
            shutil.rmtree(str(folder), ignore_errors=True)
    return str(tool) if tool.exists() else None


def run_uv(tool: str) -> None:
    """Let `uv` fetch a Python; its own words go to the console."""
    variables = clean_variables()
    variables.update(UV_PYTHON_INSTALL_DIR=str(ROOT / ".python"), UV_PYTHON_INSTALL_BIN="0")
    variables.update(UV_PYTHON_INSTALL_REGISTRY="0")
    with contextlib.suppress(OSError):
        subprocess.run(
            [tool, "python", "install", FETCHED], check=False, env=variables, stdin=subprocess.DEVNULL
        )


# ---- the environment ----------------------------------------------------------------------------------


class Environment:
    """The folder of goodlength's own packages, and how far it stands."""

    def __init__(self, folder: Path, lock: Path) -> None:
        """Take the folder, which need not exist, and the lock that it is to hold."""
        self.folder, self.lock = folder, lock
        self.python = python_of(folder)
        self.marker = folder / ("filled-" + lock.name)
        self.unfinished = folder / "filling"
        self.log = folder / "set-up.log"

    def wanted(self) -> str:
        """Return what the stamp says when this very lock, project and place are installed."""
        sum_ = hashlib.sha256()
        for path in (self.lock, ROOT / "pyproject.toml"):
            sum_.update(path.read_bytes())
        sum_.update(str(ROOT).encode("utf-8", "surrogateescape"))
        return sum_.hexdigest()

    def is_ready(self) -> bool:
        """Return whether everything stands as the lock names it."""
        try:
            return self.python.exists() and self.marker.read_text(encoding="ascii") == self.wanted()
        except (OSError, ValueError):
            return False

    def works(self) -> bool:
        """Return whether the environment's Python runs, has pip, and was not left half filled."""
        if not self.python.exists() or self.unfinished.exists():
            return False
        asked = served([str(self.python)])
        return asked is not None and answer_of([str(self.python), "-m", "pip", "--version"]) is not None

    def remove(self) -> None:
        """Delete the environment."""
        if not self.folder.exists():
            return
        try:
            shutil.rmtree(str(self.folder))
        except OSError as error:
            raise SetUpError(file_in_use_words(error)) from error

    def make(self) -> None:
        """Make the environment anew, with pip in it."""
        if self.unfinished.exists():
            say("The last set-up was cut off half-way; it begins afresh.")
        python = choose_python()
        check_room(self.folder.parent)
        say("Making goodlength's own environment (first time only) ...")
        self.remove()
        made = answer_of([python, "-m", "venv", str(self.folder)]) is not None
        if made and self.works():
            return
        self.remove()
        self._make_without_ensurepip(python)

    def _make_without_ensurepip(self, python: str) -> None:
        """Let the system's own pip fill the environment: Debian keeps ensurepip in a package of its own."""
        made = answer_of([python, "-m", "venv", "--without-pip", str(self.folder)]) is not None
        lock = ["--require-hashes", "--only-binary", ":all:", "-r", str(ROOT / "requirements" / "pip.lock")]
        if (
            made
            and answer_of([python, "-m", "pip", "--python", str(self.folder), "install", *lock]) is not None
        ):
            return
        self.remove()
        raise SetUpError(
            "Python's venv cannot make an environment with pip here, and no pip was found to help. "
            "On Debian or Ubuntu: apt-get install python3-venv (or python3-pip), then run this again. "
            f"Elsewhere: install Python {FETCHED} from python.org, then run this again."
        )

    def fill(self) -> None:
        """Install the lock's packages and goodlength itself."""
        with contextlib.suppress(FileNotFoundError):
            self.marker.unlink()
        count = len(re.findall(r"(?m)^[A-Za-z0-9][^\s=]*==", self.lock.read_text(encoding="utf-8")))
        say(f"Installing what {self.lock.name} names (a minute or two; hashes are checked) ...")
        self.unfinished.touch()
        with self.log.open("w", encoding="utf-8") as log:
            locked = ["--require-hashes", "--only-binary", ":all:", "-r", str(self.lock)]
            self._pip(locked, log, count)
            self._pip(["--no-deps", "--no-build-isolation", "-e", str(ROOT)], log, 0)
        self.unfinished.unlink()
        say("Preparing the ball's flight (once; half a minute) ...")
        warm = [str(self.python), "-c", "from goodlength.ball import warm; warm()"]
        subprocess.run(warm, check=False, stdin=subprocess.DEVNULL, env=clean_variables())
        self.marker.write_text(self.wanted(), encoding="ascii")

    def _pip(self, words: List[str], log: IO[str], count: int) -> None:
        """Run pip, showing how far it is; its failure is a sentence."""
        command = [str(self.python), "-m", "pip", "install", "--no-compile", "--progress-bar", "off"]
        pip = subprocess.Popen(
            command + words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=clean_variables(),
        )
        assert pip.stdout is not None
        shown, lines = Progress(count), []  # type: List[str]
        for raw in pip.stdout:
            line = raw.decode("utf-8", "replace")
            lines.append(line)
            log.write(line)
            shown.read(line)
        shown.end()
        if pip.wait() != 0:
            self.unfinished.unlink()
            raise SetUpError(pip_words("".join(lines), self.log))


class Progress:
    """How far pip is, in words: one line that changes on a terminal, some lines elsewhere."""

    def __init__(self, count: int) -> None:
        """Take the number of packages that the lock names, 0 to show nothing."""
        self.count, self.started, self.shown = count, 0, 0
        self.live = sys.stderr.isatty()

    def read(self, line: str) -> None:
        """Take a line of pip's in."""
        found = re.match(r"\s*(?:Collecting|Requirement already satisfied:) ([A-Za-z0-9._-]+)", line)
        if self.count and found:
            self.started += 1
            self._show(f"  {self.started} of about {self.count} packages: {found.group(1)}")
        elif self.count and line.startswith("Installing collected packages"):
            self.shown = 0
            self._show("  unpacking them (half a minute) ...")

    def _show(self, words: str) -> None:
        if self.live:
            sys.stderr.write("\r" + words.ljust(70)[:78])
            sys.stderr.flush()
        elif self.shown == 0 or self.started >= self.shown + 10:
            say(words)
        else:
            return
        self.shown = self.started

    def end(self) -> None:
        """Leave the line that changes."""
        if self.live and self.shown:
            sys.stderr.write("\n")


# ---- what stopped it, in words --------------------------------------------------------------------------

NO_NETWORK = (
    r"NewConnectionError|NameResolutionError|name resolution|getaddrinfo failed|Network is unreachable|"
    r"Connection refused|ConnectTimeout|ReadTimeout|Read timed out|ProxyError|Failed to establish|"
    r"Could not fetch URL|Connection aborted|RemoteDisconnected|IncompleteRead|No route to host"
)
NO_SPACE = r"No space left on device|Errno 28\b|Errno 122\b|WinError 112\b|not enough space"
FILE_IN_USE = (
    r"WinError (?:5|32)\b|being used by another process|Access is denied|Permission denied|Errno 13\b"
)


def pip_words(output: str, log: Path) -> str:
    """Return why pip failed and what to do, from what it printed."""
    missing = re.search(r"No matching distribution found for (\S+)", output)
    if re.search(NO_SPACE, output):
        return f"The disk is full. Free about 2 GB on the disk with {log.parent}. {AGAIN}"
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A package that arrived is not the one that goodlength names (its hash differs): not installed. "
            "Start goodlength again; if it says the same, try another network."
        )
    if re.search(NO_NETWORK, output):
        return (
            "The packages could not be fetched: there is no network, or it stops this computer. "
            "Connect to the internet (only this first start needs it). " + AGAIN
        )
    if missing:
        return no_wheel_words(missing.group(1))
    if re.search(FILE_IN_USE, output):
        return file_in_use_words(None)
    return f"The packages could not be installed. Please send us {log}, which says why. {AGAIN}"


def no_wheel_words(package: str) -> str:
    """Return what to do where no package was made for this system."""
    version = ".".join(map(str, sys.version_info[:2]))
    system = f"{sys.platform}, {platform.machine() or 'unknown processor'}, Python {version}"
    return (
        f"The package {package} is not made for this computer ({system}). "
        "goodlength runs on 64-bit Windows 10 or later, macOS 14 or later, and Linux on x86-64 or ARM "
        "(glibc 2.28 or later). Update the system, or use another computer."
    )


def file_in_use_words(error: Optional[OSError]) -> str:
    """Return what to do when files of the environment cannot be replaced."""
    which = f" ({error.filename})" if error is not None and error.filename else ""
    return (
        f"Files of goodlength cannot be replaced{which}: it is still open, or this folder may not be "
        f"changed. Close goodlength's window and every window that shows this folder. {AGAIN}"
    )


def system_words(error: OSError, folder: Path) -> str:
    """Return what the system refused, and what to do."""
    if error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", -1)):
        return f"The disk is full. Free about 2 GB on the disk with {folder}. {AGAIN}"
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return read_only_words(folder)
    return f"The set-up stopped: {error}. Start goodlength again."


def read_only_words(folder: Path) -> str:
    """Return what to do where nothing may be written."""
    return (
        f"goodlength may not write in the folder {folder}. "
        "Copy goodlength's whole folder to a place of yours, such as your documents, and start it there."
    )


def check_place(folder: Path) -> None:
    """Raise `SetUpError` if the environment cannot stand at this place."""
    if not (ROOT / "pyproject.toml").exists():
        raise SetUpError("goodlength's folder is not whole. Unpack all of it, and start it from there.")
    if WINDOWS and len(str(folder)) + 1 + LONGEST_INSIDE > LONGEST_ON_WINDOWS:
        most = LONGEST_ON_WINDOWS - LONGEST_INSIDE - 1
        raise SetUpError(
            f"The path of the folder {folder} is too long for Windows "
            f"({len(str(folder))} letters; at most {most}). "
            "Move goodlength's folder to a shorter one, such as C:\\goodlength, and start it there."
        )
    parent = folder.parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
        trial = parent / f".goodlength-trial-{os.getpid()}"
        trial.touch()
        trial.unlink()
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise
        raise SetUpError(read_only_words(parent)) from error


def check_room(folder: Path) -> None:
    """Raise `SetUpError` if the disk has no room for the environment."""
    free = shutil.disk_usage(str(folder)).free
    if free < SPACE_B:
        raise SetUpError(
            f"goodlength needs {SPACE_B / 1e9:.1f} GB on the disk with {folder}; "
            f"{free / 1e9:.1f} GB are free. Free some space. {AGAIN}"
        )


# ---- one set-up at a time -------------------------------------------------------------------------------


def try_lock(file: IO[bytes]) -> bool:
    """Return whether this process holds the lock now; the system frees it, however the process ends."""
    try:
        if WINDOWS:
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:  # a disk without locks: go on as if alone
        return True
    return True


@contextlib.contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Wait while another window sets the same environment up."""
    path = folder.with_name(folder.name + "-set-up.lock")
    with path.open("ab") as file:
        if not try_lock(file):
            say("Another window is setting goodlength up; waiting for it ...")
            while not try_lock(file):
                time.sleep(0.5)
        yield


def set_up(folder: Path, lock: Path) -> None:
    """Make the environment hold what the lock names."""
    environment = Environment(folder, lock)
    check_place(folder)
    with alone(folder):
        if environment.is_ready():
            return
        if not environment.works():
            environment.make()
        environment.fill()


def main(words: List[str]) -> int:
    """Return 0 once the environment stands, 1 with a sentence if it cannot, 3 if `--ready` finds none."""
    names = [word for word in words if word != "--ready"]
    if len(names) != 1:
        say(__doc__ or "")
        return 2
    folder, lock = environment_folder(), Path(names[0]).absolute()
    if "--ready" in words:
        return 0 if Environment(folder, lock).is_ready() else NOT_READY
    try:
        set_up(folder, lock)
    except SetUpError as stopped:
        say(str(stopped))
    except KeyboardInterrupt:
        say("Stopped. Start goodlength again; the set-up goes on.")
    except OSError as error:
        say(system_words(error, folder))
    else:
        return 0
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
