"""Which season files this user's goodlength wrote on this computer: no other is ever opened.

A library's folder may come from a stranger, and DuckDB trusts the files it opens. So the name of each file
ends in a code made from every byte of it and from a secret key, which lies outside every library. A file with
another code, of another computer or another user, is passed over and made anew from the record.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
import stat
import sys
from contextlib import suppress
from pathlib import Path

from goodlength.errors import GoodlengthError
from goodlength.files.atomic_write import atomic_write

KEY_FOLDER = "GOODLENGTH_KEYS"  # the variable that names another folder for the key
KEY_FILE, KEY_BYTES = "season.key", 32
STEM = "rallies"
SEAL_DIGITS = 32
MOST_STATES = 16
MOST_BYTES = 8_000_000_000  # 10,000 matches take about 40 MB
_NAME = re.compile(rf"{STEM}-(\d{{8}})-([0-9a-f]{{{SEAL_DIGITS}}})\.duckdb", re.ASCII)

_keys: dict[Path, bytes] = {}
_checked: dict[tuple[object, ...], bool] = {}


def sealed_name(file: Path, number: int) -> str:
    """Return the name under which a finished file is known again.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    return f"{STEM}-{number:08d}-{seal_of(file)}.duckdb"


def number_of(file: Path) -> int:
    """Return the number in the name of a file that is sealed."""
    return int(file.name.split("-")[1])


def is_sealed(file: Path) -> bool:
    """Return whether this user's goodlength wrote this very file; every byte is read once."""
    name = _NAME.fullmatch(file.name)
    if name is None:
        return False
    try:
        found = file.lstat()
        if not stat.S_ISREG(found.st_mode) or found.st_size > MOST_BYTES:
            return False
        if os.path.lexists(file.with_name(f"{file.name}.wal")):  # DuckDB would read it too
            return False
        at = _version(file, found)
        if at not in _checked:
            _keep(at, fits=hmac.compare_digest(seal_of(file), name.group(2)))
        return _checked[at]
    except OSError:
        return False


def note_sealed(file: Path) -> None:
    """Remember that a file has just got its name from `sealed_name`, so that it is not read once more."""
    with suppress(OSError):
        _keep(_version(file, file.lstat()), fits=True)


def _version(file: Path, found: os.stat_result) -> tuple[object, ...]:
    return key_folder(), file, found.st_mtime_ns, found.st_size, found.st_ino


def _keep(at: tuple[object, ...], *, fits: bool) -> None:
    _checked[at] = fits
    while len(_checked) > MOST_STATES:
        _checked.pop(next(iter(_checked)), None)


def seal_of(file: Path) -> str:
    key = _key()
    with file.open("rb") as content:
        made = hashlib.file_digest(content, lambda: hmac.new(key, digestmod="sha256"))
    return made.hexdigest()[:SEAL_DIGITS]


def _key() -> bytes:
    """Return this user's key, made at first; where it cannot be kept, one of this process alone."""
    path = key_folder() / KEY_FILE
    if path not in _keys:
        _keys[path] = _stored_key(path) or secrets.token_bytes(KEY_BYTES)
    return _keys[path]


def _stored_key(path: Path) -> bytes | None:
    with suppress(OSError, ValueError, GoodlengthError):
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with atomic_write(path) as part:
                part.touch(0o600)
                part.write_text(secrets.token_hex(KEY_BYTES), encoding="ascii")
        key = bytes.fromhex(path.read_text(encoding="ascii"))
        return key if len(key) == KEY_BYTES else None
    return None


def key_folder() -> Path:
    """Return the folder of the key: beside the user's data, never in a library."""
    named = os.environ.get(KEY_FOLDER)
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "goodlength-keys"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "goodlength-keys"
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "goodlength"
