"""What goes when something is removed: its files, its links, and the bin it can be taken back from."""

from goodlength.tasks.removal.handout_link_withdrawal import withdraw_links
from goodlength.tasks.removal.recycle_bin import bin_items, empty_bin, sweep, take_from_bin

__all__ = [
    "bin_items",
    "empty_bin",
    "sweep",
    "take_from_bin",
    "withdraw_links",
]
