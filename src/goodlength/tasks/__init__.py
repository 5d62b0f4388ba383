"""tasks: one function per thing a coach asks for; the public Python API (`from goodlength import tasks`).

Arguments are typed, results frozen; `tasks.forms` turns them into the JSON the doors print.
It never holds rules or maths of its own: it asks the rooms below and puts their answers together.
"""

from goodlength.tasks import forms
from goodlength.tasks.across import over_matches
from goodlength.tasks.agree import compare_observers, keep_layer, layers_of
from goodlength.tasks.between import between_games
from goodlength.tasks.brief import brief_about
from goodlength.tasks.carried import Carried, carry, carry_form
from goodlength.tasks.drills import add_drill, add_drill_from, drill_named, drills, own_drills, retire_drill
from goodlength.tasks.erasing import Erased, erase_player
from goodlength.tasks.exchange import (
    Brought,
    document_of,
    export_match,
    export_player,
    import_match,
    preview_import,
)
from goodlength.tasks.footage import (
    add_footage,
    cut_clip,
    cut_rally,
    look_at,
    make_proxy,
    note_proxy,
    order_footage,
    place_footage,
    proxy_path,
    proxy_reason,
    remove_footage,
    start_proxy,
)
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
from goodlength.tasks.practice import (
    keep_plan,
    log_set,
    log_sets,
    plan_form,
    plans_of,
    propose_plan,
    sets_of,
    undo_set,
)
from goodlength.tasks.progress import progress, progress_form, progress_words
from goodlength.tasks.season import SeasonFound, SeasonQuestion, matches_of, search

__all__ = [
    "Brought",
    "Carried",
    "EditedFinding",
    "Erased",
    "Expiry",
    "HandoutDraft",
    "HandoutEdits",
    "LibraryState",
    "MatchRow",
    "Recorded",
    "SeasonFound",
    "SeasonQuestion",
    "add_drill",
    "add_drill_from",
    "add_footage",
    "add_player",
    "answer",
    "between_games",
    "brief_about",
    "carry",
    "carry_form",
    "change_match",
    "change_player",
    "compare_observers",
    "consent",
    "cut_clip",
    "cut_rally",
    "document_of",
    "draft_handout",
    "drill_named",
    "drills",
    "erase_player",
    "expiring_consents",
    "export_match",
    "export_player",
    "find",
    "forms",
    "has_agreed",
    "import_match",
    "is_junior",
    "keep_layer",
    "keep_plan",
    "layers_of",
    "library_check",
    "list_matches",
    "log_set",
    "log_sets",
    "look_at",
    "make_handout",
    "make_proxy",
    "matches_of",
    "names_of",
    "new_match",
    "note_proxy",
    "open_library",
    "order_footage",
    "over_matches",
    "own_drills",
    "place_footage",
    "plan_form",
    "plans_of",
    "players",
    "players_of",
    "preview_import",
    "progress",
    "progress_form",
    "progress_words",
    "propose_plan",
    "proxy_path",
    "proxy_reason",
    "record_answers",
    "redo",
    "remove_footage",
    "remove_match",
    "require_consent",
    "retire_drill",
    "search",
    "sets_of",
    "show_match",
    "start_proxy",
    "timeline_of",
    "undo",
    "undo_set",
]
