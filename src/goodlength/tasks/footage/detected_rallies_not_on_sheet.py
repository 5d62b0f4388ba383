"""Detected rallies that are not on the sheet yet: neither recorded, nor deleted there as none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.record.effective_answers import layer_of
from goodlength.record.entry_value_types import SpanValue
from goodlength.record.model import Entry, EntryKind
from goodlength.tasks.footage.rally_detection import ListedRallies, ListedRally

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


def rallies_to_come(opened: OpenMatch, detected: ListedRallies) -> tuple[ListedRally, ...]:
    """Return the detected rallies that no recorded one has taken, and that nobody has deleted as none."""
    if not detected.played:
        return ()
    taken = [
        (rally.start_us, rally.end_us or rally.start_us)
        for rally in opened.match.rallies
        if rally.start_us is not None
    ]
    deleted = deleted_spans(opened)
    return tuple(
        rally
        for rally in detected.played
        if not any(start < rally.end_us and end > rally.start_us for start, end in taken)
        and not any(_is_deleted(rally, span) for span in deleted)
    )


def _is_deleted(rally: ListedRally, deleted: tuple[int, int]) -> bool:
    """Return whether a detected rally is one that was deleted.

    It lies over half within the deleted times; what the coach keeps or adds, though, only if it has the same.
    """
    start, end = deleted
    if rally.state == "kept":
        return (rally.start_us, rally.end_us) == deleted
    return 2 * (min(rally.end_us, end) - max(rally.start_us, start)) > rally.end_us - rally.start_us


def deleted_spans(opened: OpenMatch) -> list[tuple[int, int]]:
    """Return start and end, us of match time, of detected rallies that were deleted, and of pauses in which
    the coach saw none.
    """
    return list(deleted_by_key(opened).values())


def deleted_by_key(opened: OpenMatch) -> dict[str, tuple[int, int]]:
    """Return `deleted_spans` by the key that each is deleted under."""
    removed = {entry.rally for entry in opened.entries if entry.what is EntryKind.REMOVE}
    if not removed:
        return {}
    layer, gone = layer_of(opened.info.observer), opened.undone
    standing: dict[tuple[str, EntryKind], Entry] = {}
    for entry in opened.entries:
        if entry.rally in removed and entry.id not in gone and layer_of(entry.observer) == layer:
            standing[entry.rally, entry.what] = entry
    found = {}
    for key in removed:
        removal, span = standing.get((key, EntryKind.REMOVE)), standing.get((key, EntryKind.SPAN))
        time = span.content if span is not None else None
        if removal is None or removal.value is not True or not isinstance(time, SpanValue):
            continue
        if time.how == "heard":
            found[key] = (time.start_us, time.end_us or time.start_us)
    return found
