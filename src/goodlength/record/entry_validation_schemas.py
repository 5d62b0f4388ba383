"""Validation of the value of each entry, and its published schema.

The list is explained for readers in docs/reference/entries.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, Literal

from pydantic import StrictBool, TypeAdapter, ValidationError

from goodlength.errors import InputError
from goodlength.files.typed_value_parsing import needed_words
from goodlength.record.entry_value_types import (
    BoxWord,
    CalledValue,
    ConductValue,
    MeasuredValue,
    Name,
    Place,
    PlaceValue,
    ProposedValue,
    RetiredValue,
    ShotCount,
    ShotValue,
    SideWord,
    SpanValue,
    To,
    Words,
)
from goodlength.record.model import Ending, Entry, EntryKind, Left, ReturnKind, ShotType

MATCH_KEY = ""
VALUES: Mapping[EntryKind, Any] = {
    EntryKind.MATCH: dict[str, Any],
    EntryKind.SPAN: SpanValue,
    EntryKind.SERVER: SideWord,
    EntryKind.BOX: BoxWord,
    EntryKind.KIND: Name,
    EntryKind.AIM: Words,
    EntryKind.RECEIVER_PLACE: Literal["usual", "up", "back", "wide"],
    EntryKind.FAULT_WHY: Words,
    EntryKind.MEASURED: MeasuredValue,
    EntryKind.HOW_TAKEN: ReturnKind,
    EntryKind.RETURN_STROKE: ShotType,
    EntryKind.RETURN_TO: To,
    EntryKind.LEFT: Left,
    EntryKind.WINNER: SideWord,
    EntryKind.ENDING: Ending,
    EntryKind.ENDING_STROKE: ShotType,
    EntryKind.ENDING_VOLLEY: StrictBool,
    EntryKind.ENDING_PLACE: Place,
    EntryKind.ENDING_WHY: Literal["choice", "execution"],
    EntryKind.SET_TO: Literal[9, 10, 15, 17],
    EntryKind.CALLED: CalledValue,
    EntryKind.SHOT: ShotValue | ShotCount,
    EntryKind.NOTE: Words,
    EntryKind.KEEP: StrictBool,
    EntryKind.PROPOSED: ProposedValue,
    EntryKind.CONDUCT: ConductValue,
    EntryKind.RETIRED: RetiredValue,
    EntryKind.PLACE: PlaceValue,
    EntryKind.REMOVE: StrictBool,
    EntryKind.UNDO: type(None),
}
NEEDS_VALUE = frozenset(
    {EntryKind.MATCH, EntryKind.CONDUCT, EntryKind.RETIRED, EntryKind.PLACE, EntryKind.REMOVE}
)


@cache
def _adapter(what: EntryKind) -> TypeAdapter[Any]:
    return TypeAdapter(VALUES[what])


def value_faults(what: EntryKind, value: Any) -> list[str]:
    """Return what is wrong with the value of an entry, one sentence each; empty when it may be kept."""
    if what is EntryKind.DAMAGED:
        return ["a damaged line cannot be written again"]
    if value is None:
        return [f"{what.value} needs a value"] if what in NEEDS_VALUE else []
    try:
        _adapter(what).validate_python(value)
    except ValidationError as error:
        return [_in_words(what, value, error)]
    return []


def _in_words(what: EntryKind, value: Any, error: ValidationError) -> str:
    first = error.errors(include_url=False)[0]
    spot = ".".join(str(part) for part in first["loc"])
    spot = f" (at {spot})" if spot else ""
    return f"{what.value} is {value!r:.80}{spot}; {needed_words(first)}"


def entry_faults(entry: Entry) -> list[str]:
    """Return everything wrong with one entry, its value included."""
    faults = value_faults(entry.what, entry.value)
    if entry.what is EntryKind.UNDO and not entry.replaces:
        faults.append("an undo must name in `replaces` the entry it takes back")
    if entry.what not in (EntryKind.MATCH, EntryKind.UNDO) and entry.rally == MATCH_KEY:
        faults.append(f"{entry.what.value} needs the key of its rally")
    if len(entry.id) > 100 or len(entry.rally) > 100 or len(entry.observer) > 100:
        faults.append("ids, rally keys and observers have at most 100 letters")
    if entry.at_utc.tzinfo is None:
        faults.append("the time needs its zone")
    return faults


def check_entries(entries: Iterable[Entry]) -> None:
    """Refuse entries of which one may not be written: one InputError names all that may not."""
    faults = [f"entry {entry.id}: {fault}" for entry in entries for fault in entry_faults(entry)]
    if faults:
        shown = "; ".join(faults[:10]) + (f"; and {len(faults) - 10} more" if len(faults) > 10 else "")
        raise InputError(
            f"Nothing was written: {shown}. What each entry may hold is in docs/reference/entries.md."
        )
