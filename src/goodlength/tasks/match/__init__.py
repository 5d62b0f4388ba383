"""Matches and the answers recorded of them, by one observer or several."""

from goodlength.tasks.match.matches import (
    AppendResult,
    MatchRow,
    answer,
    change_match,
    list_matches,
    new_match,
    record_answers,
    redo,
    remove_match,
    show_match,
    timeline_of,
    undo,
)
from goodlength.tasks.match.observers import add_layer, compare_observers, layers_of
from goodlength.tasks.match.open_match import OpenMatch, open_match

__all__ = [
    "AppendResult",
    "MatchRow",
    "OpenMatch",
    "add_layer",
    "answer",
    "change_match",
    "compare_observers",
    "layers_of",
    "list_matches",
    "new_match",
    "open_match",
    "record_answers",
    "redo",
    "remove_match",
    "show_match",
    "timeline_of",
    "undo",
]
