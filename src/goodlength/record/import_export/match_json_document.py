"""A whole match as one JSON document: details, players, kinds of serve, files, and every entry.

One entry stands on one line, so that a text editor shows what changed and a broken line can be left
out without losing the others. The schema is published in docs/reference/match.schema.json.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from goodlength.errors import InputError, NewerLibrary
from goodlength.files.safe_file_names_from_ids import require_free_name, require_plain_id
from goodlength.record.entry_validation_schemas import entry_faults
from goodlength.record.import_export.coach_annotation_json import (
    MOST_DRAWINGS,
    FrameDrawing,
    drawing_from_plain,
    drawings_to_plain,
)
from goodlength.record.import_export.text_decoding import decode
from goodlength.record.model import Entry, EntryKind, Footage, KindOfServe, MatchInfo, Player
from goodlength.record.record_json_conversion import (
    entry_from_plain,
    entry_to_plain,
    info_from_plain,
    info_to_plain,
    player_from_plain,
    player_to_plain,
)

FORMAT = "goodlength match"
VERSION = 1
_CACHES = {"match": "", "proxy": None, "frames": None}  # made anew where they are needed
_OF_A_MACHINE = {"path", "copied", "look"}  # true only where the file was written


@dataclass(frozen=True)
class Document:
    """Everything that is kept about one match."""

    info: MatchInfo
    players: tuple[Player, Player]
    kinds: tuple[KindOfServe, ...]
    entries: tuple[Entry, ...]
    footage: tuple[Footage, ...] = ()
    drawings: tuple[FrameDrawing, ...] = ()


MOST_ENTRIES = 20_000
MOST_VALUES = 1_000_000  # commas, or lines, in the text


@dataclass(frozen=True)
class Reading:
    """A document read from outside, and what was left out of it, line by line."""

    document: Document
    problems: tuple[str, ...] = ()


def used_kinds(entries: Iterable[Entry], kinds: Sequence[KindOfServe]) -> tuple[KindOfServe, ...]:
    """Return the kinds that a log speaks of, by id; whether one is retired is the library's own affair."""
    used = {entry.value for entry in entries if entry.what is EntryKind.KIND and isinstance(entry.value, str)}
    return tuple(
        KindOfServe(kind.id, kind.words)
        for kind in sorted(kinds, key=lambda serve: serve.id)
        if kind.id in used
    )


def to_json(document: Document) -> str:
    """Return the document as JSON text, the same for the same document every time."""
    readable = [entry for entry in document.entries if entry.what is not EntryKind.DAMAGED]
    damaged = [entry_to_plain(entry) for entry in document.entries if entry.what is EntryKind.DAMAGED]
    head: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "match": info_to_plain(document.info),
        "players": [player_to_plain(player) for player in document.players],
        "kinds": [{"id": kind.id, "words": kind.words} for kind in document.kinds],
        "footage": [_footage_plain(footage) for footage in document.footage],
    }
    if document.drawings:
        head["drawings"] = drawings_to_plain(document.drawings)
    if damaged:
        head["damaged"] = damaged
    text = json.dumps(head, ensure_ascii=False, indent=1)
    lines = ",\n".join(f"  {_one_line(entry_to_plain(entry))}" for entry in readable)
    return f'{text[:-2]},\n "entries": [\n{lines}\n ]\n}}\n'


def _one_line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _footage_plain(footage: Footage) -> dict[str, Any]:
    return {name: value for name, value in asdict(footage).items() if name not in _CACHES}


def from_json(data: bytes | str, *, keep_going: bool = False) -> Reading:
    """Return a document from JSON text, every fault named with its line or entry.

    Parameters
    ----------
    data : bytes or str
        The text; as bytes with or without a byte-order mark.
    keep_going : bool
        Leave broken entries out instead of refusing the whole; each is named in `problems`.

    Raises
    ------
    InputError
        If it is not such a document, or any part cannot be read and `keep_going` is false.
    NewerLibrary
        If it was written by a later version.
    """
    text = decode(data).text if isinstance(data, bytes) else data
    _refuse_more_than_a_match(text)
    plain, problems = _parsed(text, keep_going)
    if not isinstance(plain, dict) or plain.get("format") != FORMAT:
        raise InputError(
            'The file is JSON, but not a match of goodlength (it has no "format": "goodlength match"). '
            "Choose a file that goodlength exported as JSON.",
            command="goodlength match export ID --to FILE.json",
            page="This file is not a match exported by goodlength. Export the match again on its "
            "Details page, then choose that file.",
        )
    if not isinstance(plain.get("version"), int) or plain["version"] > VERSION:
        raise NewerLibrary(
            f"The file has form {plain.get('version')!r}; this version reads up to {VERSION}. "
            "Update goodlength, or export it again from the older one."
        )
    if len(_list(plain, "entries")) > MOST_ENTRIES:
        raise _too_much()
    info = info_from_plain(plain.get("match"))
    require_free_name(require_plain_id(info.id, "the match"), "the match")
    players = _players(plain.get("players"), info)
    kinds = tuple(_kind(item) for item in _list(plain, "kinds"))
    footage = tuple(_footage(item, info.id) for item in _list(plain, "footage"))
    entries, faults = _entries(_list(plain, "entries"), info.id)
    drawings, drawing_faults = _drawings(_list(plain, "drawings"))
    problems += faults + drawing_faults
    if problems and not keep_going:
        more = f"; and {len(problems) - 10} more" if len(problems) > 10 else ""
        raise InputError(
            f"The file cannot be read whole, so nothing was written: {'; '.join(problems[:10])}{more}. "
            "Correct these, or choose to skip the entries with errors."
        )
    return Reading(Document(info, players, kinds, entries, footage, drawings), tuple(problems))


def _refuse_more_than_a_match(text: str) -> None:
    """Stop before a file is read that would fill the memory: the commas say how much it holds."""
    if text.count(",") > MOST_VALUES or text.count("\n") > MOST_VALUES:
        raise _too_much()


def _too_much() -> InputError:
    return InputError(
        f"The file holds more than one match can: at most {MOST_ENTRIES:,} answers are read. "
        "Nothing was written. Choose the file of one match."
    )


def _parsed(text: str, keep_going: bool) -> tuple[Any, list[str]]:
    try:
        return json.loads(text), []
    except RecursionError:
        raise InputError("The file is nested too deeply to be a match of goodlength.") from None
    except json.JSONDecodeError as error:
        fault = f"line {error.lineno}: {error.msg[:1].lower()}{error.msg[1:]}"
        if not keep_going:
            raise InputError(
                f"The file is not JSON as it stands ({fault}), so nothing was written. "
                "Correct that line, or choose to skip the entries with errors.",
                page="The file is damaged, so nothing was written. Export the match again, or skip "
                "the lines with errors.",
            ) from None
    return _without_broken_lines(text)


def _without_broken_lines(text: str) -> tuple[Any, list[str]]:
    """Read again, leaving out lines of entries that cannot be read."""
    sound_lines: list[str] = []
    rows: list[str] = []
    problems: list[str] = []
    inside = False
    for n, line in enumerate(text.splitlines(), 1):
        stripped = line.strip().rstrip(",")
        if stripped == '"entries": [':
            inside = True
        elif inside and stripped == "]":
            inside = False
            sound_lines.append('"entries": [' + ",".join(rows) + "]")
        elif inside:
            try:
                json.loads(stripped)
                rows.append(stripped)
            except json.JSONDecodeError:
                problems.append(f"line {n}: this entry cannot be read and was skipped")
        else:
            sound_lines.append(line)
    if inside:  # cut off before the end of the list
        problems.append("the file ends before its last entry")
        sound_lines.append('"entries": [' + ",".join(rows) + "]}")
    try:
        return json.loads("\n".join(sound_lines)), problems
    except json.JSONDecodeError as error:
        raise InputError(
            f"The file is damaged outside its entries (near {error.msg}), so nothing can be read from it. "
            "Use another copy.",
            page="The file is damaged, so nothing can be read from it. Export the match again, or use "
            "another copy.",
        ) from None


def _list(plain: dict[str, Any], name: str) -> list[Any]:
    value = plain.get(name, [])
    if not isinstance(value, list):
        raise InputError(f"The file's {name} should be a list; got {value!r:.60}. Nothing was written.")
    return value


def _players(plain: Any, info: MatchInfo) -> tuple[Player, Player]:
    players = [player_from_plain(item) for item in (plain if isinstance(plain, list) else [])]
    if [player.id for player in players] != list(info.players):
        raise InputError(
            f"The file should name the players {info.players[0]!r} and {info.players[1]!r} in that order; "
            f"it names {[player.id for player in players]}. Nothing was written.",
            page="The file names other players than this match. Nothing was written. Choose the file "
            "of the same match.",
        )
    for player in players:
        require_plain_id(player.id, "a player")
    return players[0], players[1]


def _kind(plain: Any) -> KindOfServe:
    if not isinstance(plain, dict) or not all(isinstance(plain.get(name), str) for name in ("id", "words")):
        raise InputError(f"A kind of serve needs an id and words; got {plain!r:.60}. Nothing was written.")
    return KindOfServe(plain["id"], plain["words"])


def file_name(path: str) -> str:
    r"""Return the bare name of a file on another machine, of whichever system.

    Examples
    --------
    >>> file_name("C:\\films\\game 1.mp4"), file_name("/etc/passwd"), file_name("..")
    ('game 1.mp4', 'passwd', 'file')
    """
    name = re.split(r"[/\\]", path)[-1].strip()
    return name if name.strip(". ") and "\x00" not in name else "file"


def _footage(plain: Any, match: str) -> Footage:
    names = {field.name for field in fields(Footage)} - set(_CACHES) - _OF_A_MACHINE
    if (
        not isinstance(plain, dict)
        or not isinstance(plain.get("id"), str)
        or not isinstance(plain.get("path"), str)
    ):
        raise InputError(f"A file of footage needs an id and a path; got {plain!r:.60}. Nothing was written.")
    require_free_name(require_plain_id(plain["id"], "a video"), "a video")
    whole = ("place", "size", "mtime_ns", "first_us", "end_us", "starts_us")
    for name in whole:
        if plain.get(name) is not None and (
            isinstance(plain[name], bool) or not isinstance(plain[name], int)
        ):
            raise InputError(
                f"Footage {plain['id']}: {name} should be a whole number; got {plain[name]!r:.60}."
            )
    return replace(
        Footage(plain["id"], match, file_name(plain["path"])),
        **{name: plain[name] for name in names if name in plain},
    )


def _drawings(plain: list[Any]) -> tuple[tuple[FrameDrawing, ...], list[str]]:
    found, problems = [], []
    if len(plain) > MOST_DRAWINGS:
        raise _too_much()
    for n, value in enumerate(plain, 1):
        try:
            found.append(drawing_from_plain(value, f"drawing {n}"))
        except InputError as error:
            problems.append(str(error).rstrip("."))
    return tuple(found), problems


def _entries(plain: list[Any], match: str) -> tuple[tuple[Entry, ...], list[str]]:
    entries: list[Entry] = []
    problems: list[str] = []
    seen: set[str] = set()
    for n, item in enumerate(plain, 1):
        try:
            entry = entry_from_plain(item, match, f"entry {n}")
            require_plain_id(entry.id, f"entry {n}")
        except InputError as error:
            problems.append(str(error).rstrip("."))
            continue
        faults = entry_faults(entry)
        if entry.id in seen:
            faults.append("its id stands twice")
        if faults:
            problems.append(f"entry {n} ({entry.id}): {'; '.join(faults)}")
            continue
        seen.add(entry.id)
        entries.append(entry)
    return tuple(entries), problems
