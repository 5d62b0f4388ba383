"""What comes next in a match, and the queue of its preparation, as pages and scripts show them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.requests import Request

from goodlength import tasks
from goodlength.tasks.preparation.preparation_step_state_and_time_left import left_words
from goodlength.web.page_json_types.video_playback_and_jobs import (
    NextStepJson,
    PreparationJson,
    PreparationStepJson,
)

if TYPE_CHECKING:
    from goodlength.tasks.footage.rally_detection import ListedRallies
    from goodlength.tasks.match.lazy_match import OpenMatch
    from goodlength.tasks.preparation import NextStep, Preparation
    from goodlength.tasks.preparation.preparation_step_state_and_time_left import PreparationStep

_STATES = {
    "done": "Done",
    "running": "Running",
    "waiting": "Waiting",
    "paused": "Paused",
    "stopped": "Stopped by you",
    "failed": "Stopped",
    "person": "Needs you",
    "left out": "Left out",
}


@dataclass(frozen=True)
class MatchNext:
    """The queue of a match and what a person does next in it."""

    preparation: Preparation
    step: NextStep


def match_next(
    request: Request, opened: OpenMatch, detected: ListedRallies, here: str, *, plan: bool, handout: bool
) -> MatchNext:
    """Return what comes next in a match.

    `here` names the step that is open; `plan` and `handout` tell that they were saved and made.
    """
    state = request.app.state
    preparation = tasks.preparation_of(opened, state.jobs.states(), detected)
    progress = tasks.match_progress(
        opened,
        detected,
        preparation,
        sending=state.transfers.waits_for_sender(opened.id),
        plan=plan,
        handout=handout,
    )
    return MatchNext(preparation, tasks.next_step(progress, here))


def next_json(match_id: str, step: NextStep) -> NextStepJson:
    """Return the next step as its button."""
    label = f"Next: {step.button}" if step.needed else step.button
    href = f"/matches/{quote(match_id, safe='')}/{step.page}"
    return {
        "name": step.name,
        "label": label,
        "href": href,
        "why": step.why,
        "needed": step.needed,
        "can_skip": step.can_skip,
    }


def preparation_json(match_id: str, found: MatchNext) -> PreparationJson:
    """Return the queue and the next step, for a page that shows them as they change."""
    preparation = found.preparation
    return {
        "works": preparation.works,
        "paused": preparation.paused,
        "left": preparation.left,
        "steps": [_step_json(step, found.step.name) for step in preparation.steps],
        "next": next_json(match_id, found.step),
    }


def _step_json(step: PreparationStep, asked: str) -> PreparationStepJson:
    words = f"{_STATES[step.state]}: {step.words}" if step.words else _STATES[step.state]
    if step.comes and step.left_s is not None:
        left = left_words([step])
        words += f" {left[:1].upper()}{left[1:]}." if words.endswith(".") else f", {left}"
    if step.name == asked == "draft" and step.state == "done":
        words = "Done: for you to check"
    return {
        "name": step.name,
        "title": step.title,
        "state": step.state,
        "words": words,
        "share": step.share,
        "can_leave_out": step.can_leave_out,
        "can_take_in": step.can_take_in,
    }
