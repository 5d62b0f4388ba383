"""The bin: removed matches and videos, kept in the library for 30 days so that a removal can be undone.

```
 remove ──> bin/ID/item.json + bin/ID/files/... ──> put back | deleted after 30 days, by hand, by erasing
```
"""

from __future__ import annotations

import filecmp
import re
import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import Conflict, ConsentMissing, DamagedFile, InputError, NotFound
from goodlength.files import layout
from goodlength.files.json_file import JsonFile
from goodlength.files.names import require_plain_id
from goodlength.record.ids import new_id
from goodlength.record.model import Clip, EntryKind, Footage, MatchInfo
from goodlength.record.names import title_of
from goodlength.record.serialisation import (
    entry_from_plain,
    entry_to_plain,
    info_from_plain,
    info_to_plain,
)
from goodlength.tasks.people.player_records import players_of

if TYPE_CHECKING:
    from goodlength.record.store import Library

DAYS = 30
ITEM, FILES = "item.json", "files"


@dataclass(frozen=True)
class BinItem:
    """A removed thing: `kind` is "match" or "video"; `held` says why it cannot be put back now."""

    id: str
    kind: str
    title: str
    removed_utc: datetime
    until: datetime
    files: int
    players: tuple[str, ...]
    held: str = ""


def bin_match(library: Library, info: MatchInfo, files: Iterable[Path]) -> str:
    """Move a match with its record and files into the bin; return the item's id."""
    entries = [one for one in library.entries(info.id) if one.what is not EntryKind.DAMAGED]
    rows = {
        "info": info_to_plain(info),
        "entries": [entry_to_plain(one) for one in entries],
        "footage": [asdict(one) for one in library.footage(info.id)],
        "clips": [_clip_plain(one) for one in library.clips(info.id)],
    }
    made = _put(library, "match", title_of(*players_of(library, info)), info, rows, files)
    library.remove_match(info.id)
    return made


def bin_footage(library: Library, file: Footage, files: Iterable[Path]) -> str:
    """Move a video of a match, with what was made of it, into the bin; return the item's id."""
    info = library.match_info(file.match)
    rows = {"footage": [asdict(file)]}
    made = _put(library, "video", Path(file.path).name, info, rows, files)
    library.remove_footage(file.id)
    return made


def _put(
    library: Library,
    kind: str,
    title: str,
    info: MatchInfo,
    rows: Mapping[str, Any],
    files: Iterable[Path],
) -> str:
    """Write down what is removed, then move its files: stopped half way, all of it can be put back."""
    item_id = new_id()[:12]
    home = _home(library, item_id)
    there = [path for path in files if path.is_file() and layout.may_be_deleted(library.folder, path)]
    names = [path.resolve().relative_to(library.folder.resolve()).as_posix() for path in there]
    JsonFile(home / ITEM).write(
        {
            "kind": kind,
            "title": title,
            "match": info.id,
            "players": list(info.players),
            "removed_utc": datetime.now(UTC).isoformat(),
            "rows": dict(rows),
            "files": names,
        }
    )
    for name, path in zip(names, there, strict=True):
        target = home / FILES / name
        target.parent.mkdir(parents=True, exist_ok=True)
        path.replace(target)
    return item_id


def bin_items(library: Library) -> tuple[BinItem, ...]:
    """Return what lies in the bin, the newest first."""
    found = []
    for file in layout.bin_folder(library.folder).glob(f"*/{ITEM}"):
        plain = JsonFile(file).shown()
        with suppress(KeyError, TypeError, ValueError, OverflowError):
            removed = datetime.fromisoformat(plain["removed_utc"])
            if removed.tzinfo is None or not all(isinstance(one, str) for one in plain["files"]):
                continue
            found.append(
                BinItem(
                    file.parent.name,
                    str(plain["kind"]),
                    str(plain["title"]),
                    removed,
                    removed + timedelta(days=DAYS),
                    len(plain["files"]),
                    tuple(plain["players"]),
                    _held(library, plain),
                )
            )
    return tuple(sorted(found, key=lambda one: one.removed_utc, reverse=True))


def _held(library: Library, plain: Mapping[str, Any]) -> str:
    """Why a thing cannot be put back now, in words; empty when it can."""
    players = {player.id: player for player in library.players()}
    gone = [one for one in plain["players"] if one not in players]
    if gone:
        return "A player of it is no longer in this library."
    withdrawn = [
        players[one].name
        for one in plain["players"]
        if (agreed := players[one].consent) is not None and not agreed.purposes
    ]
    if withdrawn:
        return f"{' and '.join(withdrawn)} withdrew consent. It stays in the bin until consent is given."
    if plain["kind"] == "video" and plain["match"] not in {info.id for info in library.matches()}:
        return "Its match was removed. Put the match back first."
    return ""


def take_from_bin(library: Library, item_id: str) -> BinItem:
    """Put a removed thing back where it was.

    Raises
    ------
    NotFound
        It is not in the bin.
    ConsentMissing
        A player withdrew consent, or was erased, or its match is not there.
    DamagedFile
        Its file cannot be read.
    Conflict
        It is back, but other files have taken the place of some of its own; those stay in the bin.
    """
    item = next((one for one in bin_items(library) if one.id == item_id), None)
    if item is None:
        raise NotFound("This is not in the bin any more. It is kept for 30 days after it was removed.")
    if item.held:
        raise ConsentMissing(item.held)
    home = _home(library, item_id)
    plain = JsonFile(home / ITEM).read()
    rows = plain["rows"]
    try:
        if not _is_back(library, item.kind, rows):
            _write_rows(library, item.kind, rows)
    except (KeyError, TypeError, ValueError) as error:
        raise DamagedFile(f"What lies in {home} cannot be read ({error}). It is left as it is.") from error
    if taken := _move_back(library, home, plain["files"]):
        raise Conflict(
            f"{item.title} is back, but {len(taken)} of its files stay in the bin, as another file has taken "
            f"their place: {', '.join(taken[:3])}. Move that file away and put it back again."
        )
    shutil.rmtree(home, ignore_errors=True)
    return item


def _is_back(library: Library, kind: str, rows: Mapping[str, Any]) -> bool:
    """Whether the record is there: a removal, or putting back, was stopped half way."""
    if kind == "video":
        return False  # writing it again changes nothing
    info = info_from_plain(rows["info"])
    if info.id not in {one.id for one in library.matches()}:
        return False
    there = {entry.id for entry in library.entries(info.id)}
    return all(entry["id"] in there for entry in rows["entries"])


def _move_back(library: Library, home: Path, names: Iterable[str]) -> list[str]:
    """Move files back to where they were; return those whose place another file has taken."""
    taken = []
    for name in names:
        source, target = home / FILES / name, library.folder / name
        if not source.is_file() or not layout.may_be_deleted(library.folder, target):
            continue
        if target.exists() and not filecmp.cmp(source, target, shallow=False):
            taken.append(name)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        source.replace(target)
    return taken


def _write_rows(library: Library, kind: str, rows: Mapping[str, Any]) -> None:
    footage = tuple(_footage(library, one) for one in rows["footage"])
    if kind == "video":
        for file in footage:
            library.save_footage(file)
        return
    info = info_from_plain(rows["info"])
    if info.id in {one.id for one in library.matches()}:
        raise InputError(f"A match {info.id!r} is in this library already. Remove that one first.")
    entries = [entry_from_plain(one, info.id) for one in rows["entries"]]
    library.bring_in((), info, entries, footage=footage)
    for clip in rows["clips"]:
        made = clip["made_utc"]
        library.save_clip(Clip(**{**clip, "made_utc": made and datetime.fromisoformat(made)}))


def _footage(library: Library, plain: Mapping[str, Any]) -> Footage:
    """A video as removed; refused where it would decide a path or take the place of another."""
    file = Footage(**plain)
    for path in (file.proxy, file.frames):
        if path is not None and not layout.may_be_deleted(library.folder, library.folder / path):
            raise ValueError(f"{path!r:.60} is no file of a library")
    require_plain_id(file.id, "a video")
    for info in library.matches():
        if info.id != file.match and file.id in {one.id for one in library.footage(info.id)}:
            raise InputError(
                f"A video {file.id!r} is in another match already. Remove that one first, then put this back."
            )
    return file


def _clip_plain(clip: Clip) -> dict[str, Any]:
    made = clip.made_utc
    return {**asdict(clip), "made_utc": None if made is None else made.isoformat()}


def empty_bin(
    library: Library, *, item_id: str | None = None, older_than_days: int = 0, player_id: str | None = None
) -> int:
    """Delete what lies in the bin for good; return how many things.

    Parameters
    ----------
    item_id, player_id : str, optional
        Only this one; only those a player is in.
    older_than_days : int
        Only what was removed so many days ago.
    """
    now, count = datetime.now(UTC), 0
    for item in bin_items(library):
        fits = (
            item_id in (None, item.id)
            and (player_id is None or player_id in item.players)
            and now - item.removed_utc >= timedelta(days=older_than_days)
        )
        if fits:
            shutil.rmtree(_home(library, item.id), ignore_errors=True)
            count += 1
    if player_id is not None:
        count += _delete_unreadable(library)
    return count


def _delete_unreadable(library: Library) -> int:
    """Delete things of which nobody can say whose they are; return how many."""
    known = {item.id for item in bin_items(library)}
    strays = [one for one in layout.bin_folder(library.folder).glob("*") if one.name not in known]
    for one in strays:
        shutil.rmtree(one, ignore_errors=True)
    return len(strays)


def sweep(library: Library, older_than_s: float = 3600.0) -> int:
    """Remove imports looked at and left, parts of writes, and what lay in the bin for 30 days."""
    return layout.swept(library.folder, older_than_s) + empty_bin(library, older_than_days=DAYS)


def _home(library: Library, item_id: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{12}", item_id):
        raise NotFound("This is not in the bin.")
    return layout.bin_folder(library.folder) / item_id
