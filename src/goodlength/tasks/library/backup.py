"""Backup, restore and move of a library: one file, verified after writing, nothing overwritten.

```
 library in use ── consistent copy ──> archive.part ── read back, every sum ──> archive.zip
 archive.zip ── names and sums checked ──> folder.part ── opened, checked ──> folder
```
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import socket
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from goodlength.errors import Conflict, InputError, NoSpace, NotFound, NotOurLibrary, StoreError
from goodlength.files import library_layout
from goodlength.files.library_layout import DATABASE
from goodlength.files.locked_json_file import JsonFile
from goodlength.jobs.progress_callback import Progress
from goodlength.tasks.library.library_identity import forget_identity, library_identity, renew_identity
from goodlength.tasks.library.untrusted_backup_unpacking_limits import (
    FORM,
    MANIFEST,
    ManifestJson,
    read_manifest,
    refuse_without_room,
)

if TYPE_CHECKING:
    from goodlength.record.store import Library

PACKED = (".mp4", ".mkv", ".mov", ".npz", ".zip", ".pdf")  # packed already: stored as they are
CHUNK = 1 << 20


@dataclass(frozen=True)
class BackupReport:
    """A back-up written and read back: where it lies, what it holds."""

    path: str
    size: int
    files: int
    players: int
    matches: int
    entries: int
    with_films: bool

    @property
    def words(self) -> str:
        """What was written, and what was not."""
        films = (
            "uploads, clips and browser-friendly copies are in it"
            if self.with_films
            else "videos are not in it: back them up separately"
        )
        return (
            f"{self.path}: {self.matches} matches with {self.entries} answers, {self.players} players; "
            f"{films}. It was read back and compared part by part. It contains names: keep it as safe "
            "as the library."
        )


@dataclass(frozen=True)
class RestoreReport:
    """A library brought back: its folder, and what was found when it was opened."""

    folder: str
    players: int
    matches: int
    made: str
    problems: tuple[str, ...]


def back_up(
    library: Library, target: str | Path, *, films: bool = False, progress: Progress | None = None
) -> BackupReport:
    """Write a library into one zip file, consistent though it is in use, and read it back.

    Parameters
    ----------
    target : str or Path
        The file to write (.zip), or a folder, and then its name holds the day and time.
    films : bool
        Uploads, clips and copies that play too; originals that lie elsewhere are never taken.

    Raises
    ------
    Conflict
        If the file is there already: nothing is overwritten.
    NoSpace
        If it cannot be written whole; nothing half written stays.
    """
    path = _target(Path(target).expanduser())
    with _space(path), _scratch(path.parent) as scratch:
        copy, part = scratch / DATABASE, scratch / "part.zip"
        library.copy_to(copy)
        counts = _counts(copy)
        chosen = [(DATABASE, copy), *library_layout.backed_up(library.folder, films=films)]
        sums = _written(part, chosen, library.folder, counts, films, progress)
        _read_back(part, sums)
        part.replace(path)
    _to_disk(path.parent)
    return BackupReport(str(path), path.stat().st_size, len(chosen), *counts, films)


def restore(archive: str | Path, folder: str | Path) -> RestoreReport:
    """Bring a back-up back into a folder that holds no library yet.

    Every part is compared with its sum before the folder gets its name; the library is opened, brought to
    the newest form and checked. Paths that lay in the old folder are turned to the new one.

    Raises
    ------
    NotFound, NotOurLibrary
        No such file, or it is no back-up of goodlength, or damaged; no folder is left behind.
    NoSpace
        It does not fit on the disk.
    Conflict
        The folder holds something already.
    """
    where, target = Path(archive).expanduser(), Path(folder).expanduser().absolute()
    manifest = read_manifest(where)
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise Conflict(f"{target} is not empty. Name a new folder; nothing is overwritten.")
    refuse_without_room(where, target)
    part = target.with_name(f".{target.name}.restoring")
    if part.exists():
        shutil.rmtree(part)
    with _space(target):
        try:
            _unpacked(where, manifest, part)
            if target.exists():
                target.rmdir()
            part.replace(target)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    try:
        return _opened(target, manifest["folder"], manifest["made_utc"])
    except BaseException as error:
        shutil.rmtree(target, ignore_errors=True)
        if isinstance(error, StoreError):
            raise NotOurLibrary(
                f"{where} holds a library that cannot be used, so nothing was restored. {error}"
            ) from error
        raise


def move_library(library: Library, folder: str | Path, *, progress: Progress | None = None) -> RestoreReport:
    """Move a library with all its files to a new folder; the old one is left beside, renamed.

    Close the page first. The old folder ends in ".moved-" and the moment: delete it when the new one works.

    Raises
    ------
    Conflict
        The new folder holds something, or lies in the old one, or another program runs long jobs here.
    NoSpace
        There is no room; the old library is untouched.
    """
    if library.on_server:
        raise InputError("A library on a database server is moved with that server's own tools.")
    old, target = library.folder.absolute(), Path(folder).expanduser().absolute()
    if target == old or old in target.parents:
        raise Conflict(f"{target} lies in the library's own folder. Name a place outside it.")
    _nobody_works(old)
    with _space(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        with _scratch(target.parent) as scratch:
            archive = scratch / "move.zip"
            back_up(library, archive, films=True, progress=progress)
            moved = restore(archive, target)
    with type(library).open(target, create=False) as there:
        renew_identity(there, library_identity(library))  # the same library, so what waits for it finds it
    library.close()
    aside = old.with_name(f"{old.name}.moved-{datetime.now(UTC):%Y%m%d-%H%M%S}")
    old.replace(aside)
    return replace(
        moved,
        problems=(*moved.problems, f"The old folder is kept as {aside}; delete it once all works."),
    )


def _target(path: Path) -> Path:
    if path.is_dir():
        path = path / f"goodlength-{datetime.now(UTC):%Y-%m-%d-%H%M%S}.zip"
    if path.suffix.lower() != ".zip":
        if not path.suffix:
            raise NotFound(f"The folder {path} does not exist. Make it first, or name a .zip file.")
        raise InputError(f"A back-up is a .zip file, or a folder to put one in; got {path}.")
    if path.exists():
        raise Conflict(f"{path} is there already. Name another file; nothing is overwritten.")
    if not path.parent.is_dir():
        raise NotFound(f"There is no folder {path.parent}. Make it first, or name another.")
    return path


@contextmanager
def _scratch(place: Path) -> Iterator[Path]:
    """A hidden folder for copies on the way; those that killed programs of this machine left are removed.

    They hold a whole library: names and all.
    """
    host = re.sub(r"[^A-Za-z0-9]", "", socket.gethostname()) or "here"
    for old in place.glob(f".goodlength-{host}-*"):
        found = re.match(rf"\.goodlength-{host}-(\d+)-", old.name)
        if found and old.is_dir() and not _runs(int(found[1])):
            shutil.rmtree(old, ignore_errors=True)
    with tempfile.TemporaryDirectory(dir=place, prefix=f".goodlength-{host}-{os.getpid()}-") as name:
        yield Path(name)


def _runs(number: int) -> bool:
    """Return whether a process of that number runs on this machine; where it cannot be known, it is
    taken to.
    """
    if os.name != "posix":
        return True
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


@contextmanager
def _space(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise NoSpace(
            f"{path} cannot be written ({error.strerror or error}). Free some space or name another disk; "
            "the library is as it was."
        ) from error


def _written(
    part: Path,
    chosen: list[tuple[str, Path]],
    folder: Path,
    counts: tuple[int, int, int],
    films: bool,
    progress: Progress | None,
) -> dict[str, str]:
    """Return the archive; gives the sum of each part."""
    sums: dict[str, str] = {}
    total = sum(path.stat().st_size for _, path in chosen) or 1
    done = 0
    with zipfile.ZipFile(part, "x", allowZip64=True) as zipped:
        for name, path in chosen:
            kind = zipfile.ZIP_STORED if path.suffix in PACKED else zipfile.ZIP_DEFLATED
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = kind
            found = hashlib.sha256()
            with path.open("rb") as source, zipped.open(entry, "w", force_zip64=True) as sink:
                while chunk := source.read(CHUNK):
                    found.update(chunk)
                    sink.write(chunk)
                    done += len(chunk)
                    if progress is not None:
                        progress(min(0.95, done / total), "writing")
            sums[name] = found.hexdigest()
        players, matches, entries = counts
        about = {
            "form": FORM,
            "made_utc": datetime.now(UTC).isoformat(timespec="seconds"),
            "folder": str(folder),
            "players": players,
            "matches": matches,
            "entries": entries,
            "films": films,
            "sha256": sums,
        }
        zipped.writestr(MANIFEST, json.dumps(about, ensure_ascii=False, indent=1))
    with part.open("r+b") as file:  # open for writing: Windows puts no other file on the disk
        os.fsync(file.fileno())
    return sums


def _read_back(part: Path, sums: dict[str, str]) -> None:
    with zipfile.ZipFile(part) as zipped:
        for name, wanted in sums.items():
            if _sum(zipped, name) != wanted:
                raise NoSpace(f"The back-up could not be read back as written ({name}). Try another disk.")


def _sum(zipped: zipfile.ZipFile, name: str) -> str:
    found = hashlib.sha256()
    with zipped.open(name) as source:
        while chunk := source.read(CHUNK):
            found.update(chunk)
    return found.hexdigest()


def _unpacked(archive: Path, manifest: ManifestJson, part: Path) -> None:
    part.mkdir(parents=True)
    with zipfile.ZipFile(archive) as zipped:
        for name, wanted in manifest["sha256"].items():
            target = part / PurePosixPath(name)
            target.parent.mkdir(parents=True, exist_ok=True)
            found = hashlib.sha256()
            try:
                with zipped.open(name) as source, target.open("xb") as sink:
                    while chunk := source.read(CHUNK):
                        found.update(chunk)
                        sink.write(chunk)
            except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
                raise NotOurLibrary(
                    f"{archive} is damaged at {name} ({error}). Use an older back-up."
                ) from None
            if found.hexdigest() != wanted:
                raise NotOurLibrary(f"{archive} is damaged at {name}. Use an older back-up.")


def _opened(folder: Path, old: str, made: str) -> RestoreReport:
    """Open what was unpacked, turn its own paths to the new place, look it over."""
    from goodlength.record.store import Library
    from goodlength.tasks.library.library_opening_and_check import library_check

    with Library.open(folder, create=False) as library:
        forget_identity(library)
        for info in library.matches():
            for file in library.footage(info.id):
                if file.copied and (turned := _turned(file.path, old, folder)):
                    library.save_footage(replace(file, path=turned))
            for clip in library.clips(info.id):
                if turned := _turned(clip.path, old, folder):
                    library.save_clip(replace(clip, path=turned))
        _turn_jobs(folder, old)
        state = library_check(library)
        players = len(library.players())
    return RestoreReport(str(folder), players, state.matches, made, state.problems)


def _turn_jobs(folder: Path, old: str) -> None:
    """Turn the paths in lists of recordings and things made, and in the bin, to the new folder."""
    items = [
        path
        for name in ("item.json", "files/jobs/*.json")
        for path in library_layout.bin_folder(folder).glob(f"*/{name}")
    ]
    for path in (*sorted(library_layout.job_folder(folder).glob("*.json")), *items):
        plain = JsonFile(path).shown()
        turned = _all_turned(plain, old, folder)
        if turned != plain:
            JsonFile(path).write(turned)


def _all_turned(value: Any, old: str, new: Path) -> Any:
    if isinstance(value, dict):
        return {key: _all_turned(item, old, new) for key, item in value.items()}
    if isinstance(value, list):
        return [_all_turned(item, old, new) for item in value]
    return (_turned(value, old, new) or value) if isinstance(value, str) else value


def _turned(path: str, old: str, new: Path) -> str | None:
    """Return a path that lay in the old folder, in the new one; None for one that lay elsewhere."""
    for separator in ("/", "\\"):
        head = old.rstrip(separator) + separator
        if path.startswith(head):
            return str(new / PurePosixPath(path[len(head) :].replace("\\", "/")))
    return None


def _counts(database: Path) -> tuple[int, int, int]:
    """Players, matches and answers of the copy, which is opened and checked for it."""
    from goodlength.record.store import Library

    scratch = database.parent / "look"
    scratch.mkdir()
    shutil.copy2(database, scratch / DATABASE)
    try:
        with Library.open(scratch, create=False) as library:
            damage = library.check(rows=False)  # a damaged answer is taken along; restoring names it
            if damage:
                raise NotOurLibrary(
                    f"The library is damaged: {damage[0]}.", command="goodlength library check"
                )
            infos = library.matches()
            entries = sum(len(library.entries(info.id)) for info in infos)
            return len(library.players()), len(infos), entries
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _nobody_works(folder: Path) -> None:
    """Refuse while another program owns the library's long jobs: the page is open."""
    from goodlength.jobs.job_queue import Jobs

    with Jobs(folder) as jobs:
        if not jobs.owner:
            raise Conflict("The page is open on this library. Close it first, then move the library.")


def _to_disk(folder: Path) -> None:
    """Have the folder's own entry written, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
