"""Two observers of one match: do they write down the same, and what may be built on it?"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from goodlength.errors import InputError, NotFound, UnclearError
from goodlength.record.effective_answers import layer_of
from goodlength.record.model import Entry, EntryKind, Match, Rally
from goodlength.record.rally_columns import rally_table
from goodlength.record.replay import match_from
from goodlength.tasks.people.player_records import names_of, players_of

if TYPE_CHECKING:
    from goodlength.findings.reports.observer_layers import LayerComparison
    from goodlength.record.store import Library


@dataclass(frozen=True)
class Layer:
    """One observer's record of a match, replayed."""

    observer: str
    match: Match

    @property
    def rallies(self) -> tuple[Rally, ...]:
        """Its rallies, without the one still being written down."""
        return tuple(rally for rally in self.match.rallies if rally.key != self.match.open_key)


@dataclass(frozen=True)
class Agreement:
    """Two layers compared. `greyed` are the columns that findings then show without a grade."""

    match: str
    first: Layer
    second: Layer
    layers: LayerComparison
    greyed: frozenset[str]


def layers_of(library: Library, match_id: str) -> tuple[Layer, ...]:
    """Every observer who wrote rallies of a match down, the match's own first."""
    info = library.match_info(match_id)
    entries = library.entries(match_id)
    return _layers(library, match_id, (info.observer, *_others(entries, info.observer)), entries)


def compare_observers(
    library: Library,
    match_id: str,
    first: str | None = None,
    second: str | None = None,
    *,
    with_file: str | Path | None = None,
) -> Agreement:
    """Compare two observers of one match.

    Parameters
    ----------
    library : Library
        Where the match is.
    match_id : str
        Its id.
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
        If there is no such match or observer.
    """
    info = library.match_info(match_id)
    entries = library.entries(match_id)
    if with_file is not None:
        one = _layers(library, match_id, (_named(entries, first or info.observer, match_id),), entries)
        pair = (*one, _of_file(library, match_id, Path(with_file)))
    else:
        pair = _pair(library, match_id, first, second)
    found = _compared(library, pair[0], pair[1], weigh=True)
    return Agreement(match_id, pair[0], pair[1], found, found.reliability.unreliable)


def _compared(library: Library, first: Layer, second: Layer, *, weigh: bool) -> LayerComparison:
    from goodlength.findings.reports.observer_layers import compare_layers

    kinds = library.kinds()
    tables = [rally_table(layer.match, kinds) for layer in (first, second)]
    starts = [[_start_s(rally) for rally in layer.rallies] for layer in (first, second)]
    return compare_layers(tables[0], tables[1], starts[0], starts[1], weigh=weigh)


def doubted_columns(library: Library, match_id: str) -> frozenset[str]:
    """Columns on which the match's own observer and another one did not agree well enough.

    Empty with one observer: nothing is known then, and nothing is held against the record.
    """
    info = library.match_info(match_id)
    others = _others(library.entries(match_id), info.observer)
    if not others:
        return frozenset()
    layers = layers_of(library, match_id)
    own = layers[0]
    greyed: set[str] = set()
    for other in layers[1:]:
        greyed |= _compared(library, own, other, weigh=False).reliability.unreliable
    return frozenset(greyed)


def add_layer(library: Library, match_id: str, file: str | Path, observer: str) -> int:
    """Take another person's exported record of this match in as a layer; gives how many answers were new.

    The match itself is not changed: what the file says stands beside it under the observer's name. The same
    file again adds nothing.

    Raises
    ------
    InputError
        If the name cannot be an observer's, is the match's own, or the file is of other players.
    """
    info = library.match_info(match_id)
    name = observer.strip()
    if not 1 <= len(name) <= 60 or "/" in name:
        raise InputError(
            f"The observer's name cannot be {observer!r:.80}: it has 1 to 60 letters and no stroke (/)."
        )
    if name == info.observer:
        raise InputError(
            f"{name!r} is this match's own observer. Name the other person differently, so that both records "
            "stand side by side."
        )
    return sum(library.append(_as_layer(_read(library, match_id, Path(file)), match_id, name)))


def _as_layer(read: tuple[Match, tuple[Entry, ...]], match_id: str, name: str) -> list[Entry]:
    """Entries of a file under another observer's name, with ids of their own that stay the same."""
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


def _read(library: Library, match_id: str, file: Path) -> tuple[Match, tuple[Entry, ...]]:
    """A match from an exported file, as its own observer wrote it, held against the players here."""
    from goodlength.record.exchange import from_json

    if file.suffix.lower() != ".json":
        raise InputError(
            f"{file.name} is no .json file. Make one with: goodlength match export ID --to FILE.json"
        )
    try:
        data = file.read_bytes()
    except OSError as error:
        raise NotFound(f"{file} cannot be read ({error.strerror or error}). Name another file.") from error
    document = from_json(data).document
    info = library.match_info(match_id)
    here = [player.name for player in players_of(library, info)]
    there = [player.name for player in document.players]
    if [name.casefold() for name in here] != [name.casefold() for name in there]:
        raise InputError(
            f"{file.name} is of {there[0]} v {there[1]}, this match of {here[0]} v {here[1]}. Both records "
            "must name the same two players in the same order."
        )
    return match_from(document.info, document.entries, kinds=library.kinds()), document.entries


def _of_file(library: Library, match_id: str, file: Path) -> Layer:
    match, _ = _read(library, match_id, file)
    return Layer(f"{match.info.observer} ({file.name})", match)


def _pair(library: Library, match_id: str, first: str | None, second: str | None) -> tuple[Layer, ...]:
    info = library.match_info(match_id)
    entries = library.entries(match_id)
    one = _named(entries, first or info.observer, match_id)
    if second is None:
        others = [name for name in (info.observer, *_others(entries, info.observer)) if name != one]
        others = [name for name in others if _wrote(entries, name)]
        if not others:
            raise InputError(
                f"Only {one!r} has written this match down, so there is nothing to compare. Let another "
                "person record it in a library of their own, export it as .json, and name it with --with."
            )
        if len(others) > 1:
            raise UnclearError(f"More than one other observer: {', '.join(others)}. Name one with --second.")
        second = others[0]
    two = _named(entries, second, match_id)
    if one == two:
        raise InputError(f"{one!r} cannot be compared with the same record. Name two observers.")
    return _layers(library, match_id, (one, two), entries)


def _others(entries: tuple[Entry, ...], own: str) -> tuple[str, ...]:
    """Observers beside the match's own who wrote about a rally, in the order they began."""
    names = dict.fromkeys(layer_of(entry.observer) for entry in entries if entry.rally)
    return tuple(name for name in names if name != own)


def _wrote(entries: tuple[Entry, ...], name: str) -> bool:
    return any(entry.rally and layer_of(entry.observer) == name for entry in entries)


def _named(entries: tuple[Entry, ...], name: str, match_id: str) -> str:
    if _wrote(entries, name):
        return name
    there = sorted({layer_of(entry.observer) for entry in entries if entry.rally})
    raise NotFound(
        f"No observer {name!r} has written about match {match_id!r}; there "
        + (f"are: {', '.join(there)}." if there else "is nobody yet.")
    )


def _layers(
    library: Library, match_id: str, names: tuple[str, ...], entries: tuple[Entry, ...]
) -> tuple[Layer, ...]:
    info, kinds = library.match_info(match_id), library.kinds()
    called = names_of(library, info)
    return tuple(
        Layer(name, match_from(info, entries, called, kinds, observer=name)) for name in dict.fromkeys(names)
    )


def _start_s(rally: Rally) -> float:
    return float(np.nan) if rally.start_us is None else rally.start_us / 1e6
