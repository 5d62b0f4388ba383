"""Changes that can be undone: what stood before is kept in the bin for 30 days, and put back from there.

```
with undoable(library, "Details of Imogen Vale", players=[player.id]) as change:
    tasks.change_player(library, player.id, name="Imogen Vail")
change.item     id in the bin; empty where nothing changed
```
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.tasks.removal.recycle_bin import bin_change
from goodlength.tasks.removal.undo_values_before_change import ChangeJson, Watched, watched_state

if TYPE_CHECKING:
    from goodlength.record.store import Library


@dataclass
class UndoableChange:
    """A change that was made: its id in the bin, empty where nothing changed."""

    item: str = ""


@contextmanager
def undoable(
    library: Library, title: str, watched: Watched, *, about: Iterable[str] = (), of_match: str = ""
) -> Iterator[UndoableChange]:
    """Keep what stood before the block, so that what the block changes can be undone from the bin.

    Parameters
    ----------
    title : str
        What was changed, as the bin and the line with Undo call it.
    about : iterable of str
        Ids of the players it is about: it goes when one of them is erased.
    of_match : str, optional
        The match it belongs to: while that is removed, the change cannot be undone.
    """
    before = watched_state(library, watched)
    change = UndoableChange()
    yield change
    after = watched_state(library, watched)
    touched = {key for key in before if before[key] != after[key]}
    if touched:
        rows: ChangeJson = {
            "before": {key: before[key] for key in touched},
            "after": {key: after[key] for key in touched},
        }
        named = library.match_info(watched.match).players if watched.match else ()
        people = dict.fromkeys(
            player
            for player in (*about, *watched.players, *named, *([watched.consent] if watched.consent else []))
            if after.get(f"player:{player}", player) is not None  # a stand-in that the change removed
        )
        change.item = bin_change(library, title, people, rows, match=of_match or watched.match)
