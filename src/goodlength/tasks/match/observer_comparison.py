"""Compare two observers of one match, and state what may be concluded from it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound, UnclearError
from goodlength.record.effective_answers import layer_of
from goodlength.record.entry_log_replay import match_from
from goodlength.record.model import Entry, EntryKind, Match
from goodlength.tasks.match.lazy_match import OpenMatch, open_match
from goodlength.tasks.match.observer_record_replay import Layer, compare, other_observers, replay_layers

if TYPE_CHECKING:
    from goodlength.findings.reports.observer_alignment import LayerComparison
    from goodlength.record.store import Library


@dataclass(frozen=True)
class Agreement:
    """Two layers compared. `greyed` are the columns that findings then show without a grade."""

    match: str
    first: Layer
    second: Layer
    layers: LayerComparison
    greyed: frozenset[str]


def layers_of(opened: OpenMatch) -> tuple[Layer, ...]:
    """Return every observer who wrote rallies of a match down, the match's own first."""
    own = opened.info.observer
    return _layers(opened, own, *other_observers(opened.entries, own))


def compare_observers(
    opened: OpenMatch,
    first: str | None = None,
    second: str | None = None,
    *,
    with_file: str | Path | None = None,
) -> Agreement:
    """Compare two observers of one match.

    Parameters
    ----------
    opened : OpenMatch
    first, second : str, optional
        Names of the observers; the match's own, and the only other one, where left out.
    with_file : str or Path, optional
        In place of a second layer: the same match as another person exported it (.json). Nothing is kept.

    Raises
    ------
    InputError
        If there is no second layer, or the file is of other players.
    UnclearError
        If there is more than one other observer and none was named.
    NotFound
        If there is no such observer.
    """
    if with_file is not None:
        own = _layers(opened, _named(opened, first or opened.info.observer))
        pair = (*own, _of_file(opened, Path(with_file)))
    else:
        pair = _pair(opened, first, second)
    found = compare(pair[0], pair[1], opened.kinds, weigh=True)
    return Agreement(opened.id, pair[0], pair[1], found, found.reliability.unreliable)


def add_layer(library: Library, match_id: str, file: str | Path, observer: str) -> int:
    """Take another person's exported record of this match in as a layer; gives how many answers were new.

    The match itself is not changed: what the file says stands beside it under the observer's name. The same
    file again adds nothing.

    Raises
    ------
    InputError
        If the name cannot be an observer's, is the match's own, or the file is of other players.
    """
    opened = open_match(library, match_id)
    name = observer.strip()
    if not 1 <= len(name) <= 60 or "/" in name:
        raise InputError(
            f"The observer's name cannot be {observer!r:.80}: it needs 1 to 60 letters, without a slash (/)."
        )
    if name == opened.info.observer:
        raise InputError(
            f"{name!r} is this match's own observer. Name the other person differently, so that both records "
            "stand side by side."
        )
    return sum(library.append(_as_layer(_read(opened, Path(file)), match_id, name)))


def _as_layer(read: tuple[Match, tuple[Entry, ...]], match_id: str, name: str) -> list[Entry]:
    """Return entries of a file under another observer's name, with ids of their own that stay the same."""
    match, entries = read
    layer = match.info.observer

    def renamed(entry_id: str) -> str:
        return hashlib.sha256(f"{match_id}/{name}/{entry_id}".encode()).hexdigest()[:32]

    return [
        replace(
            entry,
            id=renamed(entry.id),
            match=match_id,
            observer=name + entry.observer[len(layer) :],
            replaces=None if entry.replaces is None else renamed(entry.replaces),
        )
        for entry in entries
        if layer_of(entry.observer) == layer and entry.what not in (EntryKind.MATCH, EntryKind.DAMAGED)
    ]


def _read(opened: OpenMatch, file: Path) -> tuple[Match, tuple[Entry, ...]]:
    """Return a match from an exported file, as its own observer wrote it, held against the players here."""
    from goodlength.record.import_export import from_json

    if file.suffix.lower() != ".json":
        raise InputError(
            f"{file.name} is not a .json file. Choose a match that was exported as JSON.",
            command="goodlength match export ID --to FILE.json",
            page="This is not an exported match. Choose a file exported on the Details page.",
        )
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise NotFound(f"Cannot find {file}. Check its name and folder.") from None
    except OSError as error:
        raise NotFound(f"{file} cannot be read ({error.strerror or error}). Name another file.") from error
    document = from_json(data).document
    here = [player.name for player in opened.players]
    there = [player.name for player in document.players]
    if [name.casefold() for name in here] != [name.casefold() for name in there]:
        raise InputError(
            f"{file.name} is of {there[0]} v {there[1]}, this match of {here[0]} v {here[1]}. Both records "
            "must name the same two players in the same order."
        )
    return match_from(document.info, document.entries, kinds=opened.kinds), document.entries


def _of_file(opened: OpenMatch, file: Path) -> Layer:
    match, _ = _read(opened, file)
    return Layer(f"{match.info.observer} ({file.name})", match)


def _pair(opened: OpenMatch, first: str | None, second: str | None) -> tuple[Layer, ...]:
    own, entries = opened.info.observer, opened.entries
    text = _named(opened, first or own)
    if second is None:
        others = [name for name in (own, *other_observers(entries, own)) if name != text]
        others = [name for name in others if _wrote(entries, name)]
        if not others:
            raise InputError(
                f"Only {text!r} has logged this match, so there is nothing to compare. Let another "
                "person log it in a library of their own, export it as .json, and name it with --with.",
                page="Only one person has logged this match. Let another person log it in their own "
                "library and export it, then add that file here.",
            )
        if len(others) > 1:
            raise UnclearError(
                f"More than one other observer: {', '.join(others)}. Name one with --second.",
                page="More than two observers logged this match. Choose the two to compare.",
            )
        second = others[0]
    two = _named(opened, second)
    if text == two:
        raise InputError(f"{text!r} cannot be compared with the same record. Name two observers.")
    return _layers(opened, text, two)


def _wrote(entries: tuple[Entry, ...], name: str) -> bool:
    return any(entry.rally and layer_of(entry.observer) == name for entry in entries)


def _layers(opened: OpenMatch, *observers: str) -> tuple[Layer, ...]:
    return replay_layers(opened.info, opened.entries, opened.names, opened.kinds, observers)


def _named(opened: OpenMatch, name: str) -> str:
    entries = opened.entries
    if _wrote(entries, name):
        return name
    there = sorted({layer_of(entry.observer) for entry in entries if entry.rally})
    raise NotFound(
        f"No observer {name!r} has logged match {opened.id!r}; there "
        + (f"are: {', '.join(there)}." if there else "is nobody yet.")
    )
