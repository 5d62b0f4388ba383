"""The library as a whole: open, check, back up, erase, exchange, and the season's calendar."""

from goodlength.tasks.library.backup import BackupReport, RestoreReport, back_up, move_library, restore
from goodlength.tasks.library.library_identity import library_identity
from goodlength.tasks.library.library_opening_and_check import (
    LibraryState,
    library_check,
    library_state,
    library_to_open,
    open_library,
)
from goodlength.tasks.library.match_import_export import (
    ImportResult,
    TableChoice,
    document_of,
    export_match,
    export_player,
    import_match,
    preview_import,
)
from goodlength.tasks.library.player_erasure import ErasureReport, erase_player
from goodlength.tasks.library.season_calendar import (
    CalendarMonth,
    calendar_month,
    groups_of,
    month_of,
    set_group,
)

__all__ = [
    "BackupReport",
    "CalendarMonth",
    "ErasureReport",
    "ImportResult",
    "LibraryState",
    "RestoreReport",
    "TableChoice",
    "back_up",
    "calendar_month",
    "document_of",
    "erase_player",
    "export_match",
    "export_player",
    "groups_of",
    "import_match",
    "library_check",
    "library_identity",
    "library_state",
    "library_to_open",
    "month_of",
    "move_library",
    "open_library",
    "preview_import",
    "restore",
    "set_group",
]
