"""What the program wrote in each of two copies of a match, kept apart when one is brought into the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256

from goodlength.record.effective_answers import PROGRAM_TABS, tab_of
from goodlength.record.model import Entry


def with_ids_of_their_own(coming: Sequence[Entry], here: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the entries of a file; steps of the program whose ids stand for others here get new ids.

    The ids of such a step follow from what the match holds, so that two windows take it once. Two copies of
    a match then have the same ids for different steps. The same file brought in again gets the same ids.
    """
    stored = {entry.id: entry for entry in here}
    steps = {
        _step(entry)
        for entry in coming
        if tab_of(entry.observer) in PROGRAM_TABS and stored.get(entry.id, entry) != entry
    }
    written = [entry for entry in coming if _step(entry) in steps]
    if not written:
        return tuple(coming)
    marks = {step: _digest([entry for entry in written if _step(entry) == step]) for step in steps}
    ids = {
        entry.id: f"{_step(entry)}{marks[_step(entry)]}-{entry.id.rpartition('-')[2]}" for entry in written
    }
    return tuple(
        replace(entry, id=ids.get(entry.id, entry.id), replaces=ids.get(entry.replaces or "", entry.replaces))
        for entry in coming
    )


def _step(entry: Entry) -> str:
    """Return what the ids of one step have in common."""
    return entry.id.rpartition("-")[0]


def _digest(step: Sequence[Entry]) -> str:
    written = "\n".join(f"{entry.id} {entry.at_utc.isoformat()} {entry.rally}" for entry in step)
    return sha256(written.encode()).hexdigest()[:8]
