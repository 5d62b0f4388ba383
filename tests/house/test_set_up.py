"""The set-up behind every door, with made-up interpreters: none found, too old, broken, cut off, no room.

What pip prints was copied from pip 26.3 in each of these cases, and from 23.2 where it differs.
"""

from __future__ import annotations

import ast
import errno
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "scripts" / "set_up.py"
ODD = "Squash Zoë 春 & co (1)'s"

# Answers what the set-up asks of a Python. MODE names what goes wrong; NOTES takes what was asked.
FAKE = """#!{python} -IS
import os, pathlib, shutil, signal, sys, time
words, here = sys.argv[1:], pathlib.Path(sys.argv[0])
mode = pathlib.Path({mode!r}).read_text()
with open({notes!r}, "a") as notes:
    notes.write(here.name + " " + " ".join(words) + chr(10))
if words[0] == "-c":
    if "stderr" in words[1] or "version_info <" in words[1]:
        sys.version_info = (3, {minor}, 0, "final", 0)
        exec(words[1])
    elif "goodlength" not in words[1]:
        print("3.{minor}|" + str(here.absolute()))
elif words[:2] == ["-m", "venv"]:
    if mode == "no-ensurepip" and "--without-pip" not in words:
        sys.exit(1)
    into = pathlib.Path(words[-1]) / "bin"
    into.mkdir(parents=True)
    shutil.copy(here, into / "python")
elif words[:2] == ["-m", "pip"] and "--version" in words:
    sys.exit(mode == "no-pip")
elif words[:2] == ["-m", "pip"] and mode == "killed":
    os.kill(os.getppid(), signal.SIGKILL)
elif words[:2] == ["-m", "pip"] and mode == "slow" and "-r" in words:
    time.sleep(1)
elif words[:2] == ["-m", "pip"] and mode in ("no-pip", "no-ensurepip") and "--python" in words:
    sys.exit(1)
elif words[:2] == ["-m", "pip"] and mode.startswith("says:"):
    print(mode[5:])
    sys.exit(1)
elif words[:2] == ["-m", "pip"] and "-r" in words:
    print("Collecting numpy==2.4.6 (from -r requirements.lock (line 1))")
    print("Installing collected packages: numpy")
elif words[:2] == ["-m", "goodlength"]:
    print("goodlength " + " ".join(words[2:]))
elif words[0].endswith("set_up.py"):
    sys.argv = words
    os.environ["FAKE"] = "1"
    import runpy
    sys.executable, sys.version_info = str(here.absolute()), (3, {minor}, 0, "final", 0)
    runpy.run_path(words[0], run_name="__main__")
"""

NO_NETWORK = (
    "WARNING: Retrying (Retry(total=0, connect=None)) after connection broken by 'NewConnectionError(\"Failed to "
    "establish a new connection: [Errno 111] Connection refused\")': /simple/six/\n"
    "ERROR: Could not find a version that satisfies the requirement six (from versions: none)\n"
    "ERROR: No matching distribution found for six"
)
SAYS = {
    NO_NETWORK: "no network",
    "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device": "disk is full",
    "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.": "try another network",
    "ERROR: No matching distribution found for llvmlite==0.50.0": "llvmlite==0.50.0 is not made for this computer",
    "ERROR: Could not install packages due to an OSError: [WinError 32] The process cannot access the file because "
    "it is being used by another process: 'cv2.pyd'": "still open",
    "ERROR: Could not install packages due to an OSError: [WinError 5] Access is denied: 'cv2.pyd'": "still open",
    "ERROR: Exception: something new": "set-up.log",
}


@pytest.fixture
def set_up() -> ModuleType:
    spec = importlib.util.spec_from_file_location("set_up_script", SCRIPT)
    assert spec is not None and spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


class Computer:
    """A computer with a copy of the doors, a folder of commands, and Pythons that do as told."""

    def __init__(self, home: Path) -> None:
        self.home, self.bin = home, home / "bin"
        self.root = home / ODD
        self.env = self.root / ".venv"
        (self.root / "scripts").mkdir(parents=True)
        (self.root / "requirements").mkdir()
        self.bin.mkdir()
        for name in (
            "start",
            "start.command",
            "start.desktop",
            "scripts/environment.sh",
            "scripts/set_up.py",
        ):
            shutil.copy(ROOT / name, self.root / name)
        for name in ("pyproject.toml", "requirements.lock", "requirements/pip.lock", "requirements/uv.lock"):
            (self.root / name).write_text("numpy==2.4.6 --hash=sha256:00\n")
        for name in ("sh", "dirname", "uname", "basename"):
            self.script(name, f'exec {shutil.which(name)} "$@"')
        self.mode("fine")

    def mode(self, mode: str) -> None:
        (self.home / "mode").write_text(mode)

    def python(self, path: Path | str, minor: int = 13) -> Path:
        target = self.bin / path
        target.parent.mkdir(parents=True, exist_ok=True)
        words = {"mode": str(self.home / "mode"), "notes": str(self.home / "notes"), "python": sys.executable}
        target.write_text(FAKE.format(minor=minor, **words))
        target.chmod(0o755)
        return target

    def script(self, path: Path | str, text: str) -> None:
        target = self.bin / path
        target.write_text(f"#!/bin/sh\n{text}\n")
        target.chmod(0o755)

    def variables(self) -> dict[str, str]:
        return {"PATH": str(self.bin), "HOME": str(self.home), "PYTHON": "", "LC_ALL": "C.UTF-8"}

    def run(self, *words: str, door: str = "start", **variables: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["/bin/sh", str(self.root / door), *words],
            env=self.variables() | variables,
            cwd=self.home,
            check=False,
            capture_output=True,
            text=True,
        )

    def notes(self) -> list[str]:
        path = self.home / "notes"
        return path.read_text().splitlines() if path.exists() else []


@pytest.fixture
def computer(tmp_path: Path) -> Computer:
    return Computer(tmp_path)


def test_any_python_3_reads_the_set_up() -> None:
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 6))


@pytest.mark.parametrize("minor", [6, 7, 8, 9, 10])
def test_an_old_python_says_a_clear_sentence(minor: int, tmp_path: Path) -> None:
    homes = sorted(Path.home().glob(f".pyenv/versions/3.{minor}.*/bin/python"))
    if not homes:
        pytest.skip(f"no Python 3.{minor} here; pyenv install 3.{minor} wakes this")
    copy = tmp_path / "scripts" / "set_up.py"
    copy.parent.mkdir()
    (tmp_path / "pyproject.toml").touch()
    (tmp_path / "requirements.lock").touch()
    if minor == 6:  # the oldest goes the long way: it makes an environment for the tool that fetches a Python
        (tmp_path / "requirements").mkdir()
        (tmp_path / "requirements" / "uv.lock").touch()
    shutil.copy(SCRIPT, copy)
    done = subprocess.run(
        [str(homes[0]), str(copy), str(tmp_path / "requirements.lock")],
        env={"PATH": str(tmp_path), "HOME": str(tmp_path), "PYTHON": "", "PIP_NO_INDEX": "1"},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert f"this is Python 3.{minor}" in done.stderr
    assert "goodlength needs Python 3.11 to 3.14." in done.stderr and "run this again" in done.stderr
    assert "Traceback" not in done.stderr and not (tmp_path / ".venv").exists()


def test_the_first_start_sets_up_and_the_second_only_looks(computer: Computer) -> None:
    computer.python("python3")
    first = computer.run()
    assert (first.returncode, first.stdout) == (0, "goodlength open --with-demo\n"), first.stderr
    assert "1 of about 1 packages: numpy" in first.stderr
    asked = len(computer.notes())
    second = computer.run("match", "list")
    assert (second.returncode, second.stdout, second.stderr) == (0, "goodlength match list\n", "")
    assert len(computer.notes()) - asked == 2  # --ready, then the command


def test_a_changed_lock_is_installed_without_a_new_environment(computer: Computer) -> None:
    computer.python("python3")
    computer.run()
    (computer.root / "requirements.lock").write_text("numpy==2.5.5 --hash=sha256:00\n")
    before = len(computer.notes())
    assert "Installing" in computer.run().stderr
    assert not [line for line in computer.notes()[before:] if "-m venv" in line]


def test_without_any_python_it_says_what_to_install(computer: Computer) -> None:
    done = computer.run()
    assert done.returncode == 1
    assert "no Python was found" in done.stderr and "apt-get install python3" in done.stderr
    computer.script("uname", "echo Darwin")
    assert "python.org" in computer.run(door="start.command").stderr


def test_without_any_python_the_tool_uv_fetches_one(computer: Computer) -> None:
    fetched = computer.root / ".python" / "cpython-3.13" / "bin" / "python3"
    computer.python(computer.home / "waiting")
    for name in ("mkdir", "cp"):
        computer.script(name, f'exec {shutil.which(name)} "$@"')
    computer.script("uv", f'mkdir -p "{fetched.parent}"; cp "{computer.home}/waiting" "{fetched}"')
    done = computer.run()
    assert done.stdout == "goodlength open --with-demo\n", done.stderr
    assert "Fetching one for goodlength alone" in done.stderr


@pytest.mark.parametrize("minor", [8, 10, 15])
def test_a_python_that_does_not_serve_looks_for_another(computer: Computer, minor: int) -> None:
    computer.python("python3", minor)
    computer.python(".pyenv/versions/3.12.1/bin/python".replace(".pyenv", "../.pyenv"), 12)
    done = computer.run()
    assert done.stdout == "goodlength open --with-demo\n", done.stderr
    assert any("venv" in line for line in computer.notes())


@pytest.mark.parametrize(("machine", "newest"), [("x86_64", "3.13"), ("arm64", "3.14")])
def test_an_intel_mac_takes_a_python_with_a_compiler(
    set_up: ModuleType, monkeypatch: pytest.MonkeyPatch, machine: str, newest: str
) -> None:
    monkeypatch.setattr(set_up.sys, "platform", "darwin")
    monkeypatch.setattr(set_up.platform, "machine", lambda: machine)
    monkeypatch.setattr(set_up, "answer_of", lambda _: "3.14|/there/python")
    assert set_up.served_words() == f"3.11 to {newest}"
    assert (set_up.served(["python3"]) is None) is (newest == "3.13")


def test_a_mac_without_developer_tools_is_not_asked_to_install_them(computer: Computer) -> None:
    """/usr/bin/python3 on a Mac only opens a dialog where these tools are missing."""
    computer.script("xcode-select", "exit 2")
    computer.script("uname", "echo Darwin")
    script = f'root="{computer.root}"; . "$root/scripts/environment.sh"; '
    script += "command() { echo /usr/bin/python3; }; runs_python python3 && echo asked || echo left"
    done = subprocess.run(
        ["/bin/sh", "-c", script], env=computer.variables(), capture_output=True, text=True, check=True
    )
    assert done.stdout == "left\n"


@pytest.mark.parametrize("what", ["broken", "no-pip", "old"])
def test_a_broken_environment_is_made_anew(computer: Computer, what: str) -> None:
    computer.python("python3")
    computer.run()
    (computer.env / "filled-requirements.lock").unlink()
    stray = computer.env / "stray"
    stray.touch()
    if what == "broken":
        (computer.env / "bin" / "python").write_text("#!/nowhere\n")
    elif what == "old":
        computer.python(computer.env / "bin" / "python", 9)
    else:
        shutil.copy(computer.env / "bin" / "python", computer.home / "python3")
        text = (
            (computer.env / "bin" / "python").read_text().replace('sys.exit(mode == "no-pip")', "sys.exit(1)")
        )
        (computer.env / "bin" / "python").write_text(text)
    done = computer.run()
    assert done.stdout == "goodlength open --with-demo\n", done.stderr
    assert not stray.exists()


@pytest.mark.parametrize(("output", "words"), SAYS.items())
def test_each_failure_of_pip_is_a_sentence_with_the_next_step(
    computer: Computer, output: str, words: str
) -> None:
    computer.python("python3")
    computer.mode(f"says:{output}")
    done = computer.run()
    assert (done.returncode, done.stdout) == (1, "")
    assert words in done.stderr.splitlines()[-1]
    assert "Traceback" not in done.stderr
    assert output in (computer.env / "set-up.log").read_text()
    computer.mode("fine")
    again = computer.run()
    assert again.stdout == "goodlength open --with-demo\n"
    assert "cut off" not in again.stderr


def test_killed_half_way_it_begins_afresh(computer: Computer) -> None:
    computer.python("python3")
    computer.mode("killed")
    assert computer.run().returncode != 0
    assert (computer.env / "filling").exists()
    (computer.env / "half a package").touch()
    computer.mode("fine")
    done = computer.run()
    assert "cut off half-way" in done.stderr
    assert done.stdout == "goodlength open --with-demo\n"
    assert not (computer.env / "half a package").exists()


def test_two_windows_set_up_once(computer: Computer) -> None:
    computer.python("python3")
    computer.mode("slow")
    both = []
    for _ in range(2):
        both.append(
            subprocess.Popen(
                ["/bin/sh", str(computer.root / "start")],
                env=computer.variables(),
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
        time.sleep(0.3)
    ends = [process.communicate() for process in both]
    assert [out for out, _ in ends] == ["goodlength open --with-demo\n"] * 2
    assert sum("waiting for it" in err for _, err in ends) == 1
    assert sum("-r" in line.split() for line in computer.notes()) == 1


def test_without_ensurepip_it_says_which_package(computer: Computer) -> None:
    computer.python("python3")
    computer.mode("no-ensurepip")
    done = computer.run()
    assert done.returncode == 1
    assert "apt-get install python3-venv" in done.stderr
    assert not computer.env.exists()


@pytest.mark.parametrize("code", [errno.EROFS, errno.EACCES])
def test_a_folder_that_may_not_be_written_is_named(
    set_up: ModuleType,
    computer: Computer,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    code: int,
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(set_up, "ROOT", computer.root)
    monkeypatch.setenv("GOODLENGTH_ENV", "")
    monkeypatch.setattr(Path, "touch", refuse)
    assert set_up.main([str(computer.root / "requirements.lock")]) == 1
    said = capsys.readouterr().err
    assert str(computer.root) in said and "Copy goodlength's whole folder" in said


@pytest.mark.skipif(os.geteuid() != 0, reason="as root, a real file system of 1 MB is mounted")
def test_a_disk_that_is_full_is_named(computer: Computer, tmp_path: Path) -> None:
    computer.python("python3")
    small = tmp_path / "small disk"
    small.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(small)], check=False).returncode:
        pytest.skip("no file system can be mounted here; a machine that allows it wakes this")
    try:
        done = computer.run(GOODLENGTH_ENV=str(small / "env"))
    finally:
        subprocess.run(["umount", str(small)], check=True)
    assert done.returncode == 1
    assert "goodlength needs 1.6 GB" in done.stderr and "0.0 GB are free" in done.stderr


def test_full_in_the_middle_is_a_sentence_too(
    set_up: ModuleType,
    computer: Computer,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(set_up, "ROOT", computer.root)
    monkeypatch.setattr(set_up.Environment, "fill", refuse)
    monkeypatch.setattr(set_up.Environment, "make", lambda _: None)
    assert set_up.main([str(computer.root / "requirements.lock")]) == 1
    assert "The disk is full. Free about 2 GB" in capsys.readouterr().err


def test_too_long_a_path_for_windows_is_said(
    set_up: ModuleType, computer: Computer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(set_up, "WINDOWS", True)
    monkeypatch.setattr(set_up, "ROOT", computer.root)
    with pytest.raises(set_up.SetUpError, match=r"too long for Windows \(\d+ letters; at most 108\)"):
        set_up.check_place(Path("C:/" + "a" * 120 + "/.venv"))


def test_files_open_once_are_said_and_nothing_is_lost(
    set_up: ModuleType, computer: Computer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows refuses to delete what another program has open."""

    def refuse(path: str, **_: object) -> None:
        raise PermissionError(errno.EACCES, "in use", path)

    monkeypatch.setattr(set_up.shutil, "rmtree", refuse)
    computer.env.mkdir()
    with pytest.raises(set_up.SetUpError, match="it is still open"):
        set_up.Environment(computer.env, computer.root / "requirements.lock").remove()


def test_a_part_of_the_folder_is_not_started(computer: Computer) -> None:
    (computer.root / "scripts" / "set_up.py").unlink()
    done = computer.run(door="start.command")
    assert done.returncode == 1
    assert "not whole" in done.stdout
    (computer.root / "pyproject.toml").unlink()
    shutil.copy(SCRIPT, computer.root / "scripts" / "set_up.py")
    computer.python("python3")
    assert "not whole" in computer.run().stderr


def test_the_mac_door_starts_from_anywhere_and_says_when_it_stops(computer: Computer) -> None:
    computer.python("python3")
    assert computer.run(door="start.command").stdout == "goodlength open --with-demo\n"
    computer.mode("says:nothing known")
    (computer.root / "requirements.lock").write_text("scipy==1 --hash=sha256:00\n")
    assert "double-click start.command again" in computer.run(door="start.command").stdout


def desktop_words(line: str) -> list[str]:
    """Return the words of an Exec line by the rules of the Desktop Entry Specification 1.5."""
    text = line.replace(r"\\", "\\")  # a value of type string
    words, word, quoted, i = [], "", False, 0
    while i < len(text):
        letter = text[i]
        if quoted and letter == "\\" and text[i + 1] in '"`$\\':
            word, i = word + text[i + 1], i + 1
        elif letter == '"':
            quoted = not quoted
        elif letter == " " and not quoted:
            words, word = [*words, word], ""
        else:
            word += letter
        i += 1
    return [*words, word]


def test_the_linux_entry_starts_from_its_own_folder(computer: Computer) -> None:
    computer.python("python3")
    entry = computer.root / "start.desktop"
    command = next(line[5:] for line in entry.read_text().splitlines() if line.startswith("Exec="))
    words = [str(entry) if word == "%k" else word for word in desktop_words(command)]
    assert words[0] == "sh"
    done = subprocess.run(
        ["/bin/sh", *words[1:]],
        env=computer.variables(),
        check=False,
        capture_output=True,
        text=True,
        cwd="/",
    )
    assert done.stdout == "goodlength open --with-demo\n", done.stderr
    validator = shutil.which("desktop-file-validate")
    if validator is not None:
        assert subprocess.run([validator, "--no-hints", str(entry)], check=False).returncode == 0


def test_pip_is_not_led_elsewhere(set_up: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("PIP_TARGET", "PIP_USER", "PYTHONPATH", "PYTHONHOME"):
        monkeypatch.setenv(name, "elsewhere")
    assert not {"PIP_TARGET", "PIP_USER", "PYTHONPATH", "PYTHONHOME"} & set(set_up.clean_variables())


@pytest.mark.parametrize("coding", ["cp437", "cp1252", "ascii"])
def test_the_set_up_speaks_on_any_console(
    set_up: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, coding: str
) -> None:
    with (tmp_path / "out").open("w", encoding=coding) as console:
        monkeypatch.setattr(sys, "stderr", console)
        set_up.say(set_up.read_only_words(tmp_path / ODD))
    assert "Copy goodlength's whole folder" in (tmp_path / "out").read_text(encoding=coding)


def test_the_windows_door_is_written_for_windows() -> None:
    text = (ROOT / "start.cmd").read_bytes()
    assert text.count(b"\n") == text.count(b"\r\n") > 50  # labels are lost in other files
    words = text.decode("ascii")
    labels = re.findall(r"(?m)^:(\w+)", words)
    assert len(labels) == len(set(labels))
    assert set(re.findall(r"(?:goto|call) :(\w+)", words)) <= set(labels)
    assert "start.cmd -text" in (ROOT / ".gitattributes").read_text()


# The stand-in for py.exe under Wine: MODE says whether it runs and whether the set-up ends well.
WINDOWS_PY = """@echo off
if "%2"=="-c" exit /b {runs}
echo set-up: %2 %3
exit /b {ends}
"""


@pytest.mark.skipif(
    "GOODLENGTH_WINE" not in os.environ, reason="set GOODLENGTH_WINE to the program wine to wake it"
)
@pytest.mark.parametrize(
    ("door", "py", "words"),
    [
        ("not whole", None, "choose Extract All"),
        ("whole", None, "Install Python 3.13 from python.org"),
        ("whole", (1, 0), "Install Python 3.13 from python.org"),
        ("whole", (0, 1), "goodlength stopped. What to do stands above"),
        ("whole", (0, 0), "set-up: scripts\\set_up.py requirements.lock"),
    ],
)
def test_the_windows_door_under_wine(
    tmp_path: Path, door: str, py: tuple[int, int] | None, words: str
) -> None:
    root, commands = tmp_path / "Squash Zoë & co (1)", tmp_path / "bin"
    (root / "scripts").mkdir(parents=True)
    commands.mkdir()
    shutil.copy(ROOT / "start.cmd", root)
    if door == "whole":
        (root / "scripts" / "set_up.py").touch()
    if py is not None:
        text = WINDOWS_PY.format(runs=py[0], ends=py[1]).replace("\n", "\r\n")
        (commands / "py.cmd").write_bytes(text.encode())
    done = subprocess.run(
        [os.environ["GOODLENGTH_WINE"], "cmd", "/c", ".\\start.cmd"],
        cwd=root,
        env=os.environ
        | {"WINEDEBUG": "-all", "LC_ALL": "C.UTF-8", "WINEPATH": "Z:" + str(commands).replace("/", "\\")},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
    )
    assert words in done.stdout.decode("utf-8", "replace")
