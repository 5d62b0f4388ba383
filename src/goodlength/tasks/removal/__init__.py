"""What goes when something is removed: its files, its links, and the bin it can be taken back from."""

from goodlength.tasks.removal.bin import bin_items, empty_bin, sweep, take_from_bin
from goodlength.tasks.removal.handout_links import withdraw_links

__all__ = [
    "bin_items",
    "empty_bin",
    "sweep",
    "take_from_bin",
    "withdraw_links",
]
