"""Nothing in the program or the set-up works on one system alone."""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

import pytest

from oracles.parsed_source import parsed

ROOT = Path(__file__).resolve().parents[2]
SOURCES = [*sorted((ROOT / "src").rglob("*.py")), ROOT / "scripts" / "set_up.py"]

POSIX_MODULES = {"fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty"}
WINDOWS_MODULES = {"msvcrt", "winreg", "_winapi"}
POSIX_CALLS = {
    "os": {
        *("chown", "fork", "forkpty", "getegid", "geteuid", "getgid", "getpgid", "getuid", "kill", "killpg"),
        *("link", "mkfifo", "nice", "rename", "sched_getaffinity", "setsid", "statvfs", "symlink", "sysconf"),
        *("uname", "wait", "waitpid", "O_DIRECTORY", "O_NOFOLLOW", "WNOHANG"),
    },
    "signal": {"SIGKILL", "SIGHUP", "SIGALRM", "SIGUSR1", "SIGUSR2", "SIGCHLD", "alarm", "pause"},
}
POSIX_METHODS = {"symlink_to", "hardlink_to", "chmod", "rename"}  # `replace` renames over what is there
POSIX_WORDS = {"preexec_fn", "start_new_session", "pass_fds", "shell"}
POSIX_PLACES = ("/tmp", "/dev/", "/var/", "/usr/", "/etc/", "/proc/")
ASKED_FOR = {"/etc/localtime"}  # a zone; only looked at where it is a link
GUARDS = (
    "os.name",
    "sys.platform",
    "hasattr(os",
    "except ImportError",
    ".exists()",
    "is_symlink()",
    "WINDOWS",
)


def faults(source: str) -> Iterator[str]:
    """Yield what works on one system alone and stands in no function that asks which system it is."""
    nodes, lines = list(ast.walk(parsed(source))), source.splitlines()
    guarded = {
        id(inner)
        for node in nodes
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and any(guard in "\n".join(lines[node.lineno - 1 : node.end_lineno]) for guard in GUARDS)
        for inner in ast.walk(node)
    }
    documents = {
        id(node.body[0].value)
        for node in nodes
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body
        if isinstance(node.body[0], ast.Expr) and isinstance(node.body[0].value, ast.Constant)
    }
    for node in nodes:
        if id(node) not in guarded and id(node) not in documents:
            yield from (f"line {getattr(node, 'lineno', 0)}: {fault}" for fault in faults_of(node))


def faults_of(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Import):
        names = {alias.name.split(".")[0] for alias in node.names}
        yield from sorted(names & (POSIX_MODULES | WINDOWS_MODULES))
    elif isinstance(node, ast.ImportFrom):
        yield from sorted({(node.module or "").split(".")[0]} & (POSIX_MODULES | WINDOWS_MODULES))
    elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        if node.attr in POSIX_CALLS.get(node.value.id, ()):
            yield f"{node.value.id}.{node.attr}"
    elif isinstance(node, ast.Call):
        if isinstance(node.func, ast.Attribute) and node.func.attr in POSIX_METHODS and len(node.args) == 1:
            yield f".{node.func.attr}()"
        if text_in_unknown_letters(node):
            yield "a text read or written in the letters of the system"
        yield from (f"{word.arg}=" for word in node.keywords if word.arg in POSIX_WORDS)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value not in ASKED_FOR:
        yield from [node.value] if node.value.startswith(POSIX_PLACES) else []


def text_in_unknown_letters(call: ast.Call) -> bool:
    """Return whether a file's text is read or written without its encoding, which differs on Windows."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else ""
    before = {"read_text": 0, "write_text": 1}.get(name)
    return before is not None and len(call.args) <= before and all(w.arg != "encoding" for w in call.keywords)


@pytest.mark.parametrize(
    "planted",
    [
        "import fcntl",
        "from pwd import getpwuid",
        "import os\nos.fork()",
        "import os\ndef f():\n    os.getuid()",
        "import signal\nx = signal.SIGKILL",
        "run('ls', shell=True)",
        "Popen([], preexec_fn=f)",
        "path = '/tmp/x'",
        "a.symlink_to(b)",
        "part.rename(target)",
        "import os\nos.rename(a, b)",
        "path.read_text()",
        "path.write_text('é')",
    ],
)
def test_a_planted_fault_is_found(planted: str) -> None:
    assert list(faults(planted))


def test_what_asks_for_the_system_is_no_fault() -> None:
    source = "import os\ndef f():\n    if os.name == 'nt':\n        import msvcrt\n    else:\n        import fcntl\n"
    assert not list(faults(source))
    assert not list(
        faults("path.read_text('utf-8')\npath.write_text('é', encoding='utf-8')\ntext.rename(a, b)")
    )


def test_nothing_works_on_one_system_alone() -> None:
    found = [
        f"{path.relative_to(ROOT)}, {fault}"
        for path in SOURCES
        for fault in faults(path.read_text(encoding="utf-8"))
    ]
    assert not found, "\n".join(found)


def test_every_file_can_lie_on_every_disk() -> None:
    """A Mac's and Windows' disks know no capitals; Windows refuses some names and letters."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    files = [PurePosixPath(name) for name in done.stdout.decode().split("\0") if name]
    assert len(files) > 1000
    small = [str(path).casefold() for path in files]
    assert len(set(small)) == len(small)
    devices = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
    parts = {part for path in files for part in path.parts}
    assert not {part for part in parts if part.split(".")[0].casefold() in devices}
    assert not {part for part in parts if set(part) & set('<>:"\\|?*') or part[-1] in ". "}
    assert not [path for path in files if len(str(path)) > 140]
