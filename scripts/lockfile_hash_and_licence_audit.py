"""What can be audited of the dependencies without a network; a line for each question, 1 at the first no.

Every package is pinned to one version with a sha256 and comes from the index, never from an address; both
locks agree; what is installed is what the lock names, and no file of it was changed since; each says its
licence. What is not looked up is said: whether a version has a published weakness needs a network.

Usage: python scripts/lockfile_hash_and_licence_audit.py [LOCK ...]
"""

from __future__ import annotations

import base64
import hashlib
import importlib.metadata
import json
import re
import sys
from dataclasses import dataclass
from pathlib import Path

from packaging.markers import Marker
from packaging.version import Version

ROOT = Path(__file__).resolve().parent.parent
PAGE_LOCK = ROOT / "package-lock.json"
LOCKS = (ROOT / "requirements.lock", ROOT / "requirements-dev.lock")
OWN = frozenset({"goodlength", "pip", "setuptools", "wheel"})
PINNED = re.compile(
    r"^(?P<name>[A-Za-z0-9][A-Za-z0-9._-]*)==(?P<version>[^\s;\\]+)(?:\s*;(?P<where>[^\\\n]*))?"
)
HASH = re.compile(r"--hash=sha256:[0-9a-f]{64}\b")
UNCHECKED_ADVICE = (
    "published weaknesses: NOT looked up, this needs a network; with one, run: pip-audit -r requirements.lock"
)


@dataclass(frozen=True)
class Pin:
    """One package of a lock, as written, with how many hashes it has."""

    name: str
    version: str
    hashes: int


def read_lock(text: str) -> tuple[dict[str, Pin], list[str]]:
    """The packages of a lock by their plain name, and what is wrong with its lines."""
    pins: dict[str, Pin] = {}
    wrong: list[str] = []
    for block in re.split(r"\n(?=\S)", re.sub(r"(?m)^\s*#.*\n?", "", text)):
        line = block.strip()
        if not line:
            continue
        found = PINNED.match(line)
        if found is None:
            wrong.append(f"not pinned to a version of the index: {line.splitlines()[0][:80]}")
            continue
        hashes = len(HASH.findall(line))
        if not hashes:
            wrong.append(f"without a sha256: {found['name']}")
        if found["where"] and not Marker(found["where"]).evaluate():
            continue  # for another Python or system
        pins[plain(found["name"])] = Pin(found["name"], found["version"], hashes)
    return pins, wrong


def plain(name: str) -> str:
    """A package's name as the index compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def read_page_lock(text: str) -> tuple[int, list[str]]:
    """How many packages the lock of the script tools names, and what is wrong with them."""
    packages = {path: item for path, item in json.loads(text)["packages"].items() if path}
    wrong = [
        f"{'from an address' if 'resolved' in item else 'without a sha512'}: {path}"
        for path, item in packages.items()
        if "resolved" in item or not str(item.get("integrity", "")).startswith("sha512-")
    ]
    return len(packages), wrong


def apart(first: dict[str, Pin], second: dict[str, Pin]) -> list[str]:
    """Packages that two locks name in different versions."""
    return [
        f"{name}: {first[name].version} and {second[name].version}"
        for name in sorted(first.keys() & second.keys())
        if first[name].version != second[name].version
    ]


def installed_wrong(pins: dict[str, Pin]) -> list[str]:
    """Installed packages that the lock does not name, or in another version."""
    wrong = []
    for distribution in importlib.metadata.distributions():
        name = plain(distribution.metadata["Name"])
        if name in OWN:
            continue
        if name not in pins:
            wrong.append(f"installed and in no lock: {name} {distribution.version}")
        elif Version(pins[name].version) != Version(distribution.version):
            wrong.append(f"{name} {distribution.version} is installed; the lock names {pins[name].version}")
    return wrong


def changed_files() -> tuple[int, list[str]]:
    """Files of installed packages whose sum is not the one they were installed with."""
    seen, wrong = 0, []
    for distribution in importlib.metadata.distributions():
        for file in distribution.files or ():
            if file.hash is None or file.hash.mode != "sha256" or plain(distribution.metadata["Name"]) in OWN:
                continue
            path = Path(str(distribution.locate_file(file)))
            seen += 1
            if not path.is_file():
                wrong.append(f"gone: {file}")
                continue
            sum_ = base64.urlsafe_b64encode(hashlib.sha256(path.read_bytes()).digest()).rstrip(b"=").decode()
            if sum_ != file.hash.value.rstrip("="):
                wrong.append(f"changed: {file}")
    return seen, wrong


def without_licence() -> list[str]:
    """Installed packages that name no licence and bring none along."""
    return [
        distribution.metadata["Name"]
        for distribution in importlib.metadata.distributions()
        if not (
            distribution.metadata.get("License-Expression")
            or distribution.metadata.get("License")
            or any(c.startswith("License") for c in distribution.metadata.get_all("Classifier") or ())
            or any("LICEN" in str(file).upper() for file in distribution.files or ())
        )
    ]


def main(locks: list[Path]) -> int:
    """Print each question with its answer; 1 if anything is wrong."""
    read = [(path, *read_lock(path.read_text(encoding="utf-8"))) for path in locks]
    every = {name: pin for _, pins, _ in read for name, pin in pins.items()}
    seen, changed = changed_files()
    answers: list[tuple[str, list[str]]] = [
        (f"{path.name}: {len(pins)} packages, each pinned with a sha256", wrong) for path, pins, wrong in read
    ]
    number, wrong_tools = read_page_lock(PAGE_LOCK.read_text(encoding="utf-8"))
    answers.append((f"{PAGE_LOCK.name}: {number} packages, each pinned with a sha512", wrong_tools))
    if len(read) > 1:
        answers.append(("both locks name the same versions", apart(read[0][1], read[1][1])))
    answers += [
        ("what is installed is what the lock names", installed_wrong(every)),
        (f"{seen} installed files have the sums they came with", changed),
        ("every package names a licence", without_licence()),
    ]
    for question, wrong in answers:
        print(f"{'no ' if wrong else 'yes'}  {question}" + "".join(f"\n       {item}" for item in wrong[:10]))
    print(f"  -  {UNCHECKED_ADVICE}")
    bad = sum(bool(wrong) for _, wrong in answers)
    print(f"audit: {len(answers) - bad} of {len(answers)} answered yes; published weaknesses not looked up")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main([Path(item) for item in sys.argv[1:]] or list(LOCKS)))
