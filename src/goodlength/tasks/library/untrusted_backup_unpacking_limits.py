"""Validate an untrusted backup: limits are checked before anything is unpacked.

```
 file ── list of parts: short enough? ── manifest: small, whole, its own names only?
      ── sizes: do they fit the disk, the file, and what libraries are like? ──> may be unpacked
```
"""

from __future__ import annotations

import json
import re
import shutil
import zipfile
import zlib
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any, TypedDict

from goodlength.errors import NoSpace, NotFound, NotOurLibrary
from goodlength.files import library_layout
from goodlength.files.library_layout import DATABASE
from goodlength.files.safe_file_names_from_ids import RESERVED

MANIFEST = "goodlength-backup.json"
FORM = 1
MOST_FILES = 100_000
MOST_MANIFEST = 16 << 20
MOST_LIST = 16 << 20  # bytes of the archive's own list of parts, 160 for each of so many files
MOST_NAME, MOST_DEEP = 400, 8
SPARE = 16 << 20  # left free on the disk
MOST_TIMES, MOST_AT_ONCE = 100, 256 << 20  # a library of text and numbers packs to a fifth, zeros to a 1000th
_END, _LONG_FORM = b"PK\x05\x06", b"PK\x06\x07"
_DAMAGE = (
    OSError,
    ValueError,
    KeyError,
    EOFError,
    NotImplementedError,
    RuntimeError,
    zlib.error,
    zipfile.BadZipFile,
)


class ManifestJson(TypedDict):
    """What a back-up says of itself: the library's folder, when it was made, and the sum of every part."""

    folder: str
    made_utc: str
    sha256: dict[str, str]


def read_manifest(path: Path) -> ManifestJson:
    """Return what a back-up says of itself, held to its form and to limits.

    Raises
    ------
    NotFound, NotOurLibrary
        No such file, or it is no back-up of goodlength, or no sound one.
    """
    if not path.is_file():
        raise NotFound(f"Cannot find {path}. Check the name and folder of the back-up (.zip).")
    try:
        _refuse_endless_list(path)
        with zipfile.ZipFile(path) as zipped:
            found = _parsed(zipped)
            parts = zipped.infolist()
    except _DAMAGE as error:
        raise NotOurLibrary(f"{path} is not a back-up of goodlength, or is damaged ({error}).") from None
    sums = _checked(path, found)
    names = [part.filename for part in parts]
    if len(names) != len(set(names)) or set(names) - {MANIFEST} != set(sums):
        raise NotOurLibrary(f"{path} does not hold what it says it holds; nothing was unpacked.")
    for name in sums:
        _refuse_foreign(path, name)
    _refuse_bomb(path, parts)
    return {"folder": found["folder"], "made_utc": found["made_utc"], "sha256": sums}


def refuse_without_room(path: Path, target: Path) -> None:
    """Stop where what a back-up unpacks to does not fit on the disk.

    Raises
    ------
    NoSpace
        If it does not; nothing was unpacked.
    """
    with zipfile.ZipFile(path) as zipped:
        whole = sum(part.file_size for part in zipped.infolist())
    place = next(folder for folder in (target, *target.parents) if folder.exists())
    free = shutil.disk_usage(place).free
    if whole + SPARE > free:
        raise NoSpace(
            f"{path} unpacks to {_megabytes(whole)} MB, and the disk with {place} has {_megabytes(free)} MB "
            "free. Nothing was unpacked. Free some space, or name a folder on another disk."
        )


def _refuse_endless_list(path: Path) -> None:
    """The list of parts is read whole into memory; its length stands at the end of the file."""
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(max(0, size - (1 << 16) - 22))
        tail = file.read()
    at = len(tail) - 22 if tail[-22:-18] == _END else tail.rfind(_END)
    listed = int.from_bytes(tail[at + 12 : at + 16], "little") if at >= 0 else 0
    if at >= 76 and tail[at - 20 : at - 16] == _LONG_FORM:  # then this counts, whatever stands above
        listed = int.from_bytes(tail[at - 36 : at - 28], "little")
    if listed > MOST_LIST:
        raise ValueError(f"its list of parts is longer than {MOST_LIST >> 20} MB")


def _parsed(zipped: zipfile.ZipFile) -> dict[str, Any]:
    with zipped.open(MANIFEST) as source:
        text = source.read(MOST_MANIFEST + 1)
    if len(text) > MOST_MANIFEST:
        raise ValueError(f"its account of itself is longer than {MOST_MANIFEST >> 20} MB")
    try:
        about = json.loads(text.decode("utf-8"))
    except RecursionError:
        raise ValueError("its account of itself is nested too deeply") from None
    return about if isinstance(about, dict) else {}


def _checked(path: Path, found: dict[str, Any]) -> dict[str, str]:
    """Return the sums, where everything that restoring reads is there and is what it should be."""
    sums = found.get("sha256")
    if not isinstance(sums, dict) or found.get("form") != FORM or DATABASE not in sums:
        raise NotOurLibrary(f"{path} is not a back-up this version can read. A newer goodlength may.")
    if len(sums) > MOST_FILES:
        raise NotOurLibrary(f"{path} names {len(sums)} files; a library has at most {MOST_FILES}.")
    for name in ("folder", "made_utc"):
        if not isinstance(found.get(name), str) or not found[name]:
            raise NotOurLibrary(
                f"{path} is not a complete back-up: it does not say its {name!r}. Nothing was unpacked. "
                "Use another."
            )
    try:
        datetime.fromisoformat(found["made_utc"])
    except ValueError:
        raise NotOurLibrary(
            f"{path} is not a complete back-up: it was made at {found['made_utc'][:40]!r}, which "
            "is not a valid time. "
            "Nothing was unpacked. Use another."
        ) from None
    wrong = [name for name, item in sums.items() if not re.fullmatch(r"[0-9a-f]{64}", str(item))]
    if wrong:
        raise NotOurLibrary(f"{path} is not a complete back-up: {wrong[0][:80]!r} has no sum. Use another.")
    return sums


def _refuse_foreign(path: Path, name: str) -> None:
    pure = PurePosixPath(name)
    odd = pure.is_absolute() or ".." in pure.parts or "\\" in name or ":" in name
    long = len(name) > MOST_NAME or len(pure.parts) > MOST_DEEP
    if odd or long or not _plain_parts(pure) or not library_layout.may_be_restored(name):
        raise NotOurLibrary(f"{path} holds a file that belongs to no library ({name[:80]!a}).")


def _plain_parts(pure: PurePosixPath) -> bool:
    """Return whether each part of a name can be shown, and means on every system what it says."""
    return all(
        part.isprintable() and not part.endswith((".", " ")) and not RESERVED.fullmatch(part)
        for part in pure.parts
    )


def _refuse_bomb(path: Path, parts: Iterable[zipfile.ZipInfo]) -> None:
    """Stop where parts lie over each other in the file, or unpack to more than a library can."""
    packed, whole = 0, 0
    for part in parts:
        packed, whole = packed + part.compress_size, whole + part.file_size
    size = path.stat().st_size
    if packed > size or (whole > MOST_AT_ONCE and whole > MOST_TIMES * size):
        raise NotOurLibrary(
            f"{path} has {_megabytes(size)} MB and would unpack to {_megabytes(whole)} MB; no library packs "
            "so small. Nothing was unpacked. Use a back-up that goodlength made for you."
        )


def _megabytes(count: int) -> str:
    return f"{count / 1e6:,.1f}"
