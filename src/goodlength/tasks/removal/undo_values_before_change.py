"""What stood before a change, as JSON values: read, compared and put back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict
from uuid import uuid4

from goodlength.errors import NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.model import KindOfServe, Player
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.record.record_json_conversion import (
    consent_from_plain,
    consent_to_plain,
    info_from_plain,
    info_to_plain,
    player_from_plain,
    player_to_plain,
)

if TYPE_CHECKING:
    from goodlength.record.store import Library


_HERE_ONLY = frozenset({"setting", "kinds", "consent"})


class ChangeJson(TypedDict):
    """What a change touched, before and after it, by kind and name."""

    before: dict[str, object]
    after: dict[str, object]


@dataclass(frozen=True)
class Watched:
    """What a change may touch: settings by name, players, a consent, a match's details, kinds, JSON files.

    `group` names a player whose group it is, `videos` a match whose videos' order and start times.
    """

    settings: tuple[str, ...] = ()
    players: tuple[str, ...] = ()
    consent: str = ""
    match: str = ""
    kinds: bool = False
    files: tuple[Path, ...] = ()
    group: str = ""
    videos: str = ""


def undo_change(library: Library, rows: ChangeJson) -> None:
    """Put back what stood before a change.

    Raises
    ------
    KeyError, TypeError, ValueError
        The rows are not of the form written here.
    """
    players_first = sorted(rows["before"].items(), key=lambda row: not row[0].startswith("player:"))
    for key, value in players_first:  # a match needs its players to be there
        what, _, name = key.partition(":")
        _WRITERS[what](library, name, value)


def is_here_only(rows: ChangeJson) -> bool:
    """Return whether a change is of settings, kinds of serve or a consent: undone on this computer only."""
    return any(key.partition(":")[0] in _HERE_ONLY for key in rows["before"])


def changed_since(library: Library, rows: ChangeJson) -> bool:
    """Return whether what a change left was changed again, so that undoing it would undo more."""
    try:
        return any(_READERS[what](library, name) != value for what, name, value in _parts(rows["after"]))
    except NotFound:
        return True


def _parts(state: Mapping[str, object]) -> Iterator[tuple[str, str, object]]:
    for key, value in state.items():
        what, _, name = key.partition(":")
        yield what, name, value


def watched_state(library: Library, watched: Watched) -> dict[str, object]:
    """Return what is watched as JSON values, by kind and name."""
    keys = [f"setting:{name}" for name in watched.settings]
    keys += [f"player:{player_id}" for player_id in watched.players]
    keys += [f"consent:{watched.consent}"] if watched.consent else []
    keys += [f"match:{watched.match}"] if watched.match else []
    keys += ["kinds:"] if watched.kinds else []
    keys += [f"group:{watched.group}"] if watched.group else []
    keys += [f"videos:{watched.videos}"] if watched.videos else []
    keys += [
        f"file:{path.resolve().relative_to(library.folder.resolve()).as_posix()}" for path in watched.files
    ]
    return {key: _READERS[what](library, name) for key in keys for what, _, name in [key.partition(":")]}


def _player(library: Library, player_id: str) -> Player | None:
    """Return a player; None where the change took them out of the library."""
    try:
        return library.player(player_id)
    except NotFound:
        return None


def _read_player(library: Library, player_id: str) -> Any:
    player = _player(library, player_id)
    return None if player is None else player_to_plain(replace(player, consent=None))


def _write_player(library: Library, player_id: str, value: Any) -> None:
    player = _player(library, player_id)
    agreed = None if player is None else player.consent
    library.save_player(replace(player_from_plain(value), consent=agreed))


def _read_consent(library: Library, player_id: str) -> Any:
    player = _player(library, player_id)
    return None if player is None else consent_to_plain(player.consent)


def _write_consent(library: Library, player_id: str, value: Any) -> None:
    agreed = None if value is None else consent_from_plain(value)
    library.save_player(replace(library.player(player_id), consent=agreed))


def _read_kinds(library: Library, _name: str) -> Any:
    return [[kind.id, kind.words, kind.retired] for kind in library.kinds()]


def _write_kinds(library: Library, _name: str, value: Any) -> None:
    library.save_kinds([KindOfServe(str(key), str(words), retired=bool(gone)) for key, words, gone in value])


def _read_group(library: Library, player_id: str) -> Any:
    library.player(player_id)
    log = effective_entries(library.practice(player_id))
    return ([""] + [entry.value for entry in log if entry.what is PracticeWhat.GROUP])[-1]


def _write_group(library: Library, player_id: str, value: Any) -> None:
    at = datetime.now(UTC).replace(microsecond=0)
    library.append_practice([PracticeEntry(str(uuid4()), player_id, at, PracticeWhat.GROUP, str(value)[:40])])


def _read_videos(library: Library, match_id: str) -> Any:
    library.match_info(match_id)
    return [[file.id, file.place, file.starts_us] for file in library.footage(match_id)]


def _write_videos(library: Library, match_id: str, value: Any) -> None:
    files = {file.id: file for file in library.footage(match_id)}
    for footage_id, place, starts_us in value:
        if not isinstance(place, int) or not isinstance(starts_us, int | None) or footage_id not in files:
            raise ValueError(
                f"{footage_id!r:.60} does not name a video of the match with a place and a start time"
            )
    for footage_id, place, starts_us in value:
        library.save_footage(replace(files[footage_id], place=place, starts_us=starts_us))


def _read_file(library: Library, name: str) -> Any:
    return JsonFile(_changed_file(library, name)).shown()


def _write_file(library: Library, name: str, value: Any) -> None:
    path = _changed_file(library, name)
    if value:
        JsonFile(path).write(value)
    else:
        path.unlink(missing_ok=True)


def _changed_file(library: Library, name: str) -> Path:
    path = library.folder / name
    if not library_layout.may_be_deleted(library.folder, path) or path.suffix != ".json":
        raise ValueError(f"{name!r:.60} is not a file that a change is made to")
    return path


_READERS: Mapping[str, Callable[[Library, str], Any]] = {
    "setting": lambda library, name: library.settings().get(name),
    "player": _read_player,
    "consent": _read_consent,
    "match": lambda library, name: info_to_plain(library.match_info(name)),
    "kinds": _read_kinds,
    "file": _read_file,
    "group": _read_group,
    "videos": _read_videos,
}
_WRITERS: Mapping[str, Callable[[Library, str, Any], None]] = {
    "setting": lambda library, name, value: library.set_setting(name, value),
    "player": _write_player,
    "consent": _write_consent,
    "match": lambda library, _name, value: library.save_match(info_from_plain(value)),
    "kinds": _write_kinds,
    "file": _write_file,
    "group": _write_group,
    "videos": _write_videos,
}
