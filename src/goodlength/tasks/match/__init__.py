"""Matches and the answers recorded of them, by one observer or several."""

from goodlength.tasks.match.lazy_match import OpenMatch, open_match
from goodlength.tasks.match.lazy_player_matches import OpenMatches, open_matches
from goodlength.tasks.match.match_editing_and_answers import (
    AppendResult,
    MatchRow,
    answer,
    change_match,
    find_matches,
    list_matches,
    match_rows_of,
    new_match,
    record_answers,
    redo,
    remove_match,
    show_match,
    store_answers,
    timeline_of,
    undo,
)
from goodlength.tasks.match.observer_comparison import add_layer, compare_observers, layers_of

__all__ = [
    "AppendResult",
    "MatchRow",
    "OpenMatch",
    "OpenMatches",
    "add_layer",
    "answer",
    "change_match",
    "compare_observers",
    "find_matches",
    "layers_of",
    "list_matches",
    "match_rows_of",
    "new_match",
    "open_match",
    "open_matches",
    "record_answers",
    "redo",
    "remove_match",
    "show_match",
    "store_answers",
    "timeline_of",
    "undo",
]
