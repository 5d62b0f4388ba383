"""Work on a match that was interrupted when goodlength ended, and that nobody has started again.

A job's file lies in the library, which may come from a stranger: it says what was interrupted, and is never
run again itself. Work is started again from the match, by the task that started it first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.tasks.ball import ball_detection, ball_following_and_corrections
from goodlength.tasks.footage import player_tracking, rally_detection
from goodlength.tasks.preparation.video_preparation_queue import preparation_of

if TYPE_CHECKING:
    from goodlength.jobs.job_queue import Jobs
    from goodlength.tasks.footage.rally_detection import ListedRallies
    from goodlength.tasks.match.lazy_match import OpenMatch

WORK_IN_WORDS = {
    rally_detection.KIND: "Detecting the rallies",
    rally_detection.PICTURE_KIND: "Measuring how the players move",
    player_tracking.KIND: "Tracking the players",
    ball_detection.KIND: "Searching for the ball",
    ball_detection.SAMPLE_KIND: "Looking at a sample for the ball",
    ball_following_and_corrections.KIND: "Following the ball",
}


@dataclass(frozen=True)
class InterruptedWork:
    """One kind of work that was interrupted, in words, and how far it had come, 0 to 1."""

    kind: str
    words: str
    share: float


def interrupted_work(opened: OpenMatch, jobs: Jobs, detected: ListedRallies) -> tuple[InterruptedWork, ...]:
    """Return what was interrupted of a match; empty while its video is prepared, which goes on by itself.

    Of each kind the newest job counts: once it was started again it is not interrupted any more.
    """
    newest: dict[str, InterruptedWork | None] = {}
    states = jobs.states()
    for job in states:  # the newest first
        if (
            job.kind in WORK_IN_WORDS
            and job.kind not in newest
            and (job.args or {}).get("match") == opened.id
        ):
            share = min(max(job.share, 0.0), 1.0)
            work = InterruptedWork(job.kind, WORK_IN_WORDS[job.kind], share)
            newest[job.kind] = work if job.state == "interrupted" else None
    found = tuple(work for work in newest.values() if work is not None)
    return () if found and preparation_of(opened, states, detected).works else found
