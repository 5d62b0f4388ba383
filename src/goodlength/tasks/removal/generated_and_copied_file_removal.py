"""Files that goodlength made or copied in for a match or a player, and their removal."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.model import Footage

if TYPE_CHECKING:
    from goodlength.record.store import Library

if TYPE_CHECKING:
    from goodlength.record.store import Library


def files_only_of(library: Library, match_ids: Iterable[str]) -> tuple[Path, ...]:
    """Return files that goodlength made for these matches or copied in, and that no other match uses.

    Originals that lie elsewhere are never among them.
    """
    going = set(match_ids)
    doomed: dict[Path, None] = {}
    shared: set[Path] = set()
    for info in library.matches():
        found = _files_of(library, info.id)
        if info.id in going:
            doomed.update(dict.fromkeys(found))
        else:
            shared |= set(found)
    return tuple(path for path in doomed if path not in shared)


def _files_of(library: Library, match_id: str) -> list[Path]:
    found = [path for file in library.footage(match_id) for path in derived_files(library, file)]
    made = [path for path in library_layout.match_files(library.folder, match_id) if path.is_file()]
    listed = (_inside(library.folder, clip.path) for clip in library.clips(match_id))
    clips = [path for path in listed if library_layout.may_be_deleted(library.folder, path)]
    return list(dict.fromkeys((*found, *made, *clips)))


def clips_elsewhere(library: Library, match_ids: Iterable[str]) -> tuple[str, ...]:
    """Return clips of these matches that were saved outside the library's folder and are there."""
    listed = (
        _inside(library.folder, clip.path) for match_id in match_ids for clip in library.clips(match_id)
    )
    ours = library.folder.resolve()
    found = (path for path in listed if ours not in path.resolve().parents and path.is_file())
    return tuple(dict.fromkeys(map(str, found)))


def derived_files(library: Library, file: Footage) -> list[Path]:
    """Return proxy and frame tables of one recording, and the recording itself where it was copied in.

    Only files whose names goodlength gave, in folders it owns: a record imported from elsewhere may name
    files anywhere, the database among them.
    """
    found = [path for path in library_layout.footage_files(library.folder, file.id) if path.is_file()]
    found += [_inside(library.folder, path) for path in (file.proxy, file.frames) if path]
    if file.copied:
        found.append(_inside(library.folder, file.path))
    return [path for path in dict.fromkeys(found) if library_layout.may_be_deleted(library.folder, path)]


def _inside(folder: Path, path: str) -> Path:
    """Return a path as kept: absolute, or within the library folder."""
    return Path(path) if Path(path).is_absolute() else folder / path


def remove_files(paths: Iterable[Path]) -> tuple[str, ...]:
    """Delete files that are there; gives those that could not be deleted."""
    left = []
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            left.append(str(path))
    return tuple(left)


def practice_files_of(folder: Path, player_id: str) -> list[Path]:
    """Return files made from a player's recordings of practice that are there, and the lists that name
    them.
    """
    found: dict[Path, None] = {}
    for note in library_layout.job_folder(folder).glob("*.json"):
        args = JsonFile(note).shown().get("args")
        if isinstance(args, dict) and args.get("player") == player_id:
            found[note] = None
            found.update(dict.fromkeys(path for path in files_of_args(folder, args) if path.is_file()))
    return list(found)


def files_of_args(folder: Path, args: dict[str, object]) -> list[Path]:
    """Return files in the library made from a practice recording, by its job's arguments."""
    proxy, keep = Path(str(args.get("proxy", ""))), Path(str(args.get("keep", "")))
    found = [keep, proxy, proxy.with_suffix(".frames.npz")] if proxy.name and keep.name else []
    return [path for path in found if library_layout.may_be_deleted(folder, path)]
