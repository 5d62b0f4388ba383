"""What goes when something is removed: its files, its links, and the bin it can be taken back from."""

from goodlength.tasks.removal.handout_link_withdrawal import withdraw_links
from goodlength.tasks.removal.recycle_bin import bin_item, bin_items, empty_bin, sweep, take_from_bin
from goodlength.tasks.removal.undo_values_before_change import Watched
from goodlength.tasks.removal.undoable_change import UndoableChange, undoable

__all__ = [
    "UndoableChange",
    "Watched",
    "bin_item",
    "bin_items",
    "empty_bin",
    "sweep",
    "take_from_bin",
    "undoable",
    "withdraw_links",
]
