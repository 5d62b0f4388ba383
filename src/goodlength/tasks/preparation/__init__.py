"""What goodlength does by itself with the video of a match, as one queue, and what a person does next."""

from goodlength.tasks.preparation.match_workflow_stage import match_progress
from goodlength.tasks.preparation.new_match_from_video import (
    abandon_match_from_video,
    begin_match_from_video,
    change_match_by_names,
    date_from_video,
    remove_unused_names,
)
from goodlength.tasks.preparation.next_step_for_person import MatchProgress, NextStep, next_step
from goodlength.tasks.preparation.video_preparation_queue import (
    Preparation,
    PreparationQueue,
    preparation_of,
)

__all__ = [
    "MatchProgress",
    "NextStep",
    "Preparation",
    "PreparationQueue",
    "abandon_match_from_video",
    "begin_match_from_video",
    "change_match_by_names",
    "date_from_video",
    "match_progress",
    "next_step",
    "preparation_of",
    "remove_unused_names",
]
