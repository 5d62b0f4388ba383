"""tasks: one function per thing a coach asks for; the public Python API (`from goodlength import tasks`).

Arguments are typed, results frozen; `tasks.forms` turns them into the JSON the doors print.
It never holds rules or maths of its own: it asks the rooms below and puts their answers together.
"""

from goodlength.tasks.erasing import Erased, erase_player
from goodlength.tasks.found import find
from goodlength.tasks.handouts import EditedFinding, HandoutDraft, HandoutEdits, draft_handout, make_handout
from goodlength.tasks.library import LibraryState, library_check, open_library
from goodlength.tasks.matches import (
    MatchRow,
    Recorded,
    answer,
    change_match,
    list_matches,
    names_of,
    new_match,
    players_of,
    record_answers,
    redo,
    remove_match,
    show_match,
    timeline_of,
    undo,
)
from goodlength.tasks.players import (
    Expiry,
    add_player,
    change_player,
    consent,
    expiring_consents,
    has_agreed,
    is_junior,
    players,
    require_consent,
)

__all__ = [
    "EditedFinding",
    "Erased",
    "Expiry",
    "HandoutDraft",
    "HandoutEdits",
    "LibraryState",
    "MatchRow",
    "Recorded",
    "add_player",
    "answer",
    "change_match",
    "change_player",
    "consent",
    "draft_handout",
    "erase_player",
    "expiring_consents",
    "find",
    "has_agreed",
    "is_junior",
    "library_check",
    "list_matches",
    "make_handout",
    "names_of",
    "new_match",
    "open_library",
    "players",
    "players_of",
    "record_answers",
    "redo",
    "remove_match",
    "require_consent",
    "show_match",
    "timeline_of",
    "undo",
]
