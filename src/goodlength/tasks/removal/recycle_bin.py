"""Recycle bin: removed items stay for 30 days, can be restored, and are deleted by time or by hand.

```
 a thing ──> bin/ITEM/item.json (what the record held) + bin/ITEM/files/...  ──30 days──> deleted
                 └──> put back: record and files as they were
```

What withdrawn consent covers stays in the bin until consent is given again; erasing a person deletes it.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import Conflict, ConsentMissing, DamagedFile, GoodlengthError, NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.record.model import Clip, Footage, MatchInfo
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.practice_log_entries import PracticeEntry
from goodlength.tasks.people.player_records_and_consent import players_of
from goodlength.tasks.removal.recycle_bin_files import move_back, move_in, names_within
from goodlength.tasks.removal.removed_row_serialisation_and_restore import (
    clip_plain,
    forget_rows,
    match_rows,
    missing_for,
    practice_rows,
    write_rows,
)
from goodlength.tasks.removal.undo_values_before_change import ChangeJson, changed_since, is_here_only

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.record.store.damaged_row_preservation import DamagedRowJson

DAYS = 30
ITEM, FILES = "item.json", "files"
KINDS = ("match", "video", "original", "clip", "plan", "set", "session", "recording", "change")


@dataclass(frozen=True)
class BinItem:
    """A removed thing of one of `KINDS`; `refusal` says why it cannot be put back now.

    A "change" is what stood before something was changed; with `here_only` another device may not undo it.

    `damaged` counts rows that were damaged before the removal; they come back as they are.
    """

    id: str
    kind: str
    title: str
    removed_utc: datetime
    until: datetime
    files: int
    players: tuple[str, ...]
    refusal: str = ""
    damaged: int = 0
    here_only: bool = False


def bin_match(library: Library, info: MatchInfo, files: Iterable[Path]) -> str:
    """Move a match with its record and files into the bin; return the item's id."""
    title = title_of(*players_of(library, info))
    made = _put(library, "match", title, info.players, match_rows(library, info), files, match=info.id)
    library.remove_match(info.id)
    return made


def bin_footage(library: Library, file: Footage, files: Iterable[Path]) -> str:
    """Move a video of a match, with what was made of it, into the bin; return the item's id."""
    info = library.match_info(file.match)
    damaged = _damaged(library, info.id, "footage", file.id)
    rows = {"footage": [asdict(file)], "damaged": damaged}
    made = _put(library, "video", Path(file.path).name, info.players, rows, files, match=info.id)
    library.remove_footage(file.id)
    return made


def bin_original(library: Library, file: Footage, files: Iterable[Path]) -> str:
    """Move the original of a video, whose other track was chosen, into the bin; return the item's id."""
    info = library.match_info(file.match)
    rows = {"footage": [asdict(replace(file, proxy=None))]}
    return _put(library, "original", Path(file.path).name, info.players, rows, files, match=info.id)


def bin_clip(
    library: Library, info: MatchInfo, path: Path, clips: tuple[Clip, ...], files: Iterable[Path]
) -> str:
    """Move something made to be shown, with its list of how it was made, into the bin; return the id."""
    damaged = [row for clip in clips for row in _damaged(library, info.id, "clips", clip.id)]
    rows = {"clips": [clip_plain(clip) for clip in clips], "damaged": damaged}
    made = _put(library, "clip", path.name, info.players, rows, files, match=info.id)
    library.remove_clips([clip.id for clip in clips])
    return made


def bin_practice(library: Library, kind: str, title: str, undo: PracticeEntry) -> str:
    """Take a line of the practice log back, to be found in the bin; return the item's id."""
    rows = practice_rows(str(undo.replaces), undo)
    made = _put(library, kind, title, (undo.player,), rows, ())
    library.append_practice([undo])
    return made


def bin_recording(library: Library, player_id: str, title: str, files: Iterable[Path]) -> str:
    """Move what was made of a recording of practice into the bin; return the item's id."""
    return _put(library, "recording", title, (player_id,), {}, files)


def bin_change(
    library: Library, title: str, players: Iterable[str], rows: ChangeJson, *, match: str = ""
) -> str:
    """Keep what stood before a change; return the item's id."""
    return _put(library, "change", title, players, rows, (), match=match)


def _damaged(library: Library, match_id: str, table: str, row_id: str) -> list[DamagedRowJson]:
    rows = library.damaged_rows(match_id)
    return [row for row in rows if row["table"] == table and row["row"]["id"] == row_id]


def _put(
    library: Library,
    kind: str,
    title: str,
    players: Iterable[str],
    rows: Mapping[str, Any],
    files: Iterable[Path],
    *,
    match: str = "",
) -> str:
    """Write down what is removed, then move its files: stopped half way, all of it can be put back."""
    item_id = new_id()[:12]
    home = _home(library, item_id)
    there = names_within(library.folder, files)
    plain = {
        "kind": kind,
        "title": title,
        "match": match,
        "players": list(players),
        "removed_utc": datetime.now(UTC).isoformat(),
        "rows": dict(rows),
        "files": list(there),
    }
    try:
        JsonFile(home / ITEM).write(plain)
        move_in(there, home / FILES)
    except GoodlengthError:
        if not any(path.is_file() for path in (home / FILES).rglob("*")):
            shutil.rmtree(home, ignore_errors=True)
        raise
    return item_id


def bin_items(library: Library) -> tuple[BinItem, ...]:
    """Return what lies in the bin, the newest first."""
    files = library_layout.bin_folder(library.folder).glob(f"*/{ITEM}")
    found = [item for file in files if (item := _item(library, file)) is not None]
    return tuple(sorted(found, key=lambda item: item.removed_utc, reverse=True))


def bin_item(library: Library, item_id: str) -> BinItem | None:
    """Return one thing in the bin; None where it is not there."""
    if not re.fullmatch(r"[0-9a-f]{12}", item_id):
        return None
    return _item(library, _home(library, item_id) / ITEM)


def _item(library: Library, file: Path) -> BinItem | None:
    """Return what a file of the bin says; None where it cannot be read."""
    plain = JsonFile(file).shown()
    with suppress(KeyError, TypeError, ValueError, OverflowError, AttributeError):
        removed = datetime.fromisoformat(plain["removed_utc"])
        if removed.tzinfo is not None and all(isinstance(name, str) for name in plain["files"]):
            return BinItem(
                file.parent.name,
                str(plain["kind"]),
                str(plain["title"]),
                removed,
                removed + timedelta(days=DAYS),
                len(plain["files"]),
                tuple(plain["players"]),
                _restore_refusal(library, plain),
                len(plain["rows"].get("damaged", [])),
                plain["kind"] == "change" and is_here_only(plain["rows"]),
            )
    return None


def bin_contents(library: Library, player_id: str) -> list[dict[str, Any]]:
    """Return all that the bin holds of a person, as JSON values: what the record held, and names of files."""
    return [
        {"id": item.id, **JsonFile(_home(library, item.id) / ITEM).shown()}
        for item in bin_items(library)
        if player_id in item.players
    ]


def _restore_refusal(library: Library, plain: Mapping[str, Any]) -> str:
    """Return why a thing cannot be put back now, in words; empty when it can."""
    players = {player.id: player for player in library.players()}
    gone = [item for item in plain["players"] if item not in players]
    if gone:
        return "A player of it is no longer in this library."
    if plain["kind"] == "change":
        if plain["match"] and plain["match"] not in {info.id for info in library.matches()}:
            return "Its match was removed. Put the match back first."
        if changed_since(library, plain["rows"]):
            return "It was changed again since. Undo the newer change first."
        return ""
    withdrawn = [
        players[item].name
        for item in plain["players"]
        if (agreed := players[item].consent) is not None and not agreed.purposes
    ]
    if withdrawn:
        return f"{' and '.join(withdrawn)} withdrew consent. It stays in the bin until consent is given."
    return missing_for(library, plain["kind"], plain["match"], plain["rows"])


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
    NoSpace
        The disk is full; what is not back yet lies in the bin.
    Conflict
        It is back, but other files have taken the place of some of its own; those stay in the bin.
    """
    item = bin_item(library, item_id)
    if item is None:
        raise NotFound("This is not in the bin any more. It is kept for 30 days after it was removed.")
    if item.refusal:
        raise ConsentMissing(item.refusal)
    home = _home(library, item_id)
    plain = JsonFile(home / ITEM).read()
    rows = plain["rows"]
    try:
        write_rows(library, item.kind, item.players, rows)
    except (LookupError, TypeError, ValueError) as error:
        raise DamagedFile(
            f"What lies in {home} cannot be read ({error}). It is left as it is.",
            page=f"{item.title} cannot be put back: what the bin holds of it cannot be read. It is left "
            "as it is. Restore the library from a backup.",
        ) from error
    if taken := move_back(library.folder, home / FILES, plain["files"]):
        raise Conflict(
            f"{item.title} is back, but {len(taken)} of its files stay in the bin, as another file has taken "
            f"their place: {', '.join(taken[:3])}. Move that file away and put it back again."
        )
    shutil.rmtree(home, ignore_errors=True)
    return item


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
            count += _delete(library, item)
    if player_id is not None:
        count += _delete_unreadable(library)
    return count


def _delete(library: Library, item: BinItem) -> bool:
    """Delete one thing for good; return whether it is gone."""
    home = _home(library, item.id)
    with suppress(NotFound, LookupError, TypeError):
        forget_rows(library, item.kind, item.players, JsonFile(home / ITEM).shown()["rows"])
    shutil.rmtree(home, ignore_errors=True)
    return not home.exists()


def _delete_unreadable(library: Library) -> int:
    """Delete things of which nobody can say whose they are; return how many."""
    known = {item.id for item in bin_items(library)}
    strays = [path for path in library_layout.bin_folder(library.folder).glob("*") if path.name not in known]
    for stray in strays:
        shutil.rmtree(stray, ignore_errors=True)
    return len(strays)


def sweep(library: Library, older_than_s: float = 3600.0) -> int:
    """Remove imports looked at and left, parts of writes, and what lay in the bin for 30 days."""
    return library_layout.swept(library.folder, older_than_s) + empty_bin(library, older_than_days=DAYS)


def _home(library: Library, item_id: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{12}", item_id):
        raise NotFound("This is not in the bin.")
    return library_layout.bin_folder(library.folder) / item_id
