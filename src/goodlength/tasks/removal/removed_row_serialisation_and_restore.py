"""Database rows of an item in the recycle bin as JSON values, and their restoration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.safe_file_names_from_ids import require_plain_id
from goodlength.record.model import Clip, EntryKind, Footage, MatchInfo
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.record.record_json_conversion import (
    entry_from_plain,
    entry_to_plain,
    info_from_plain,
    info_to_plain,
)
from goodlength.tasks.removal.generated_and_copied_file_removal import derived_files, remove_files
from goodlength.tasks.removal.undo_values_before_change import undo_change

if TYPE_CHECKING:
    from goodlength.record.store import Library

Rows = Mapping[str, Any]

_LOG_LINES = ("set", "plan", "session")  # lines of a practice log


def match_rows(library: Library, info: MatchInfo) -> dict[str, Any]:
    """Return all that the record holds of a match; damaged rows apart, as they are."""
    entries = [entry for entry in library.entries(info.id) if entry.what is not EntryKind.DAMAGED]
    return {
        "info": info_to_plain(info),
        "entries": [entry_to_plain(entry) for entry in entries],
        "footage": [asdict(footage_file) for footage_file in library.footage(info.id)],
        "clips": [clip_plain(clip) for clip in library.clips(info.id)],
        "damaged": library.damaged_rows(info.id),
    }


def clip_plain(clip: Clip) -> dict[str, object]:
    """Return a clip as JSON values."""
    made = clip.made_utc
    return {**asdict(clip), "made_utc": None if made is None else made.isoformat()}


def practice_rows(entry_id: str, undo: PracticeEntry) -> dict[str, str]:
    """Return which line of the practice log was taken back, and by which."""
    return {"entry": entry_id, "undo": undo.id}


def write_rows(library: Library, kind: str, players: tuple[str, ...], rows: Rows) -> None:
    """Write back what the record held; again is the same as once.

    Raises
    ------
    KeyError, TypeError, ValueError
        The rows are not of the form written here.
    InputError
        Something else has taken their place.
    """
    if kind == "change":
        undo_change(library, {"before": rows["before"], "after": rows["after"]})
    elif kind in _LOG_LINES:
        _undo_the_undo(library, players[0], rows)
    elif kind != "recording":
        _WRITERS[kind](library, rows)


def forget_rows(library: Library, kind: str, players: tuple[str, ...], rows: Rows) -> None:
    """Delete for good what the record still holds of a thing in the bin: lines of the practice log."""
    if kind not in _LOG_LINES:
        return
    log = library.practice(players[0])
    entry, stand = rows.get("entry"), [effective_entry.id for effective_entry in effective_entries(log)]
    if entry in [
        practice_entry.id for practice_entry in log if practice_entry.id not in stand
    ]:  # of this player, and taken back
        undone = {practice_entry.id for practice_entry in log if practice_entry.replaces == entry}
        undone |= {practice_entry.id for practice_entry in log if practice_entry.replaces in undone}
        library.remove_practice([str(entry), *sorted(undone)])


def _write_match(library: Library, rows: Rows) -> None:
    info = info_from_plain(rows["info"])
    entries = [entry_from_plain(row, info.id) for row in rows["entries"]]
    if info.id not in {match.id for match in library.matches()}:
        footage = tuple(_footage(library, row) for row in rows["footage"])
        library.bring_in((), info, entries, footage=footage)
    elif not {entry.id for entry in entries} <= {entry.id for entry in library.entries(info.id)}:
        raise InputError(
            f"A match {info.id!r} is in this library already. Remove that one first.",
            page="This match is in the library already. Remove that one first.",
        )
    # else a removal, or putting back, was stopped half way: the record is there
    _write_clips(library, rows)
    library.restore_damaged_rows(info.id, rows.get("damaged", []))


def _write_footage(library: Library, rows: Rows) -> None:
    for row in rows["footage"]:
        library.save_footage(_footage(library, row))
    _mark_damaged(library, rows)


def _write_original(library: Library, rows: Rows) -> None:
    """The original takes the place of the copy with the tracks chosen, which goes."""
    file = _footage(library, rows["footage"][0])
    now = library.footage_file(file.id)
    if now.path != file.path:
        remove_files(derived_files(library, now))
        library.save_footage(file)


def _write_clips(library: Library, rows: Rows) -> None:
    for clip in rows["clips"]:
        made = clip["made_utc"]
        library.save_clip(Clip(**{**clip, "made_utc": made and datetime.fromisoformat(made)}))


def _write_clip(library: Library, rows: Rows) -> None:
    _write_clips(library, rows)
    _mark_damaged(library, rows)


def _mark_damaged(library: Library, rows: Rows) -> None:
    for item in rows.get("damaged", []):
        library.restore_damaged_rows(item["row"]["match"], [item])


def _undo_the_undo(library: Library, player_id: str, rows: Rows) -> None:
    undo, back = str(rows["undo"]), f"back-{rows['undo']}"
    if undo in {entry.id for entry in library.practice(player_id)}:
        at = datetime.now(UTC).replace(microsecond=0)
        if back not in {entry.id for entry in library.practice(player_id)}:
            library.append_practice([PracticeEntry(back, player_id, at, PracticeWhat.UNDO, None, undo)])


def _footage(library: Library, plain: Rows) -> Footage:
    """Return a video as removed; refused where it would decide a path or take the place of another."""
    file = Footage(**plain)
    for path in (file.proxy, file.frames):
        if path is not None and not library_layout.may_be_deleted(library.folder, library.folder / path):
            raise ValueError(f"{path!r:.60} is not a file of a library")
    require_plain_id(file.id, "a video")
    for info in library.matches():
        if info.id != file.match and file.id in {
            footage_file.id for footage_file in library.footage(info.id)
        }:
            raise InputError(
                f"A video {file.id!r} is in another match already. Remove that one first, then put "
                "this back.",
                page="This video is in another match already. Remove it there first, then put this back.",
            )
    return file


_WRITERS: dict[str, Callable[[Library, Rows], None]] = {
    "match": _write_match,
    "video": _write_footage,
    "original": _write_original,
    "clip": _write_clip,
}


def missing_for(library: Library, kind: str, match_id: str, rows: Rows) -> str:
    """Return what must be put back first, in words; empty where nothing must."""
    if kind in ("video", "clip", "original") and match_id not in {info.id for info in library.matches()}:
        return "Its match was removed. Put the match back first."
    if kind == "original":
        try:
            library.footage_file(rows["footage"][0]["id"])
        except (NotFound, LookupError, TypeError):
            return "Its video was removed from the match. Put the video back first."
    return ""
