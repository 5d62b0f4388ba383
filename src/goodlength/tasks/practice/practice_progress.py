"""Progress of a player by drill, from the practice log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.practice.statistics.drill_progress import Progress, progress_of
from goodlength.tasks.practice.practice_plans_and_log import sets_of

if TYPE_CHECKING:
    from goodlength.record.store import Library


def practice_progress(library: Library, player_id: str) -> dict[str, Progress]:
    """Return what the log says, drill by drill."""
    return {drill_id: progress_of(sets) for drill_id, sets in sets_of(library, player_id).items()}
