"""Plans and drills, sets and recordings of practice, progress and its transfer to matches."""

from goodlength.tasks.practice.library_and_custom_drills import (
    add_drill,
    add_drill_from,
    drill_named,
    drills,
    own_drills,
    retire_drill,
)
from goodlength.tasks.practice.planned_sessions import PlannedSession, plan_session, remove_session
from goodlength.tasks.practice.practice_plans_and_log import (
    current_plan,
    log_set,
    log_sets,
    plans_of,
    propose_plan,
    remove_plan,
    save_plan,
    sets_of,
    undo_set,
)
from goodlength.tasks.practice.practice_progress import practice_progress
from goodlength.tasks.practice.practice_recording_attempts import (
    PracticeRecording,
    detect_attempts,
    forget_recording,
    played_recording,
    recording_named,
    recordings_of,
    start_recording,
)
from goodlength.tasks.practice.practice_transfer import TransferResult, practice_transfer

__all__ = [
    "PlannedSession",
    "PracticeRecording",
    "TransferResult",
    "add_drill",
    "add_drill_from",
    "current_plan",
    "detect_attempts",
    "drill_named",
    "drills",
    "forget_recording",
    "log_set",
    "log_sets",
    "own_drills",
    "plan_session",
    "plans_of",
    "played_recording",
    "practice_progress",
    "practice_transfer",
    "propose_plan",
    "recording_named",
    "recordings_of",
    "remove_plan",
    "remove_session",
    "retire_drill",
    "save_plan",
    "sets_of",
    "start_recording",
    "undo_set",
]
