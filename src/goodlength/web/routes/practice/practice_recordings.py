"""Routes of practice recordings: detect attempts in a file, and mark each hit or miss."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import clock_words
from goodlength.practice.statistics.drill_progress import PracticeOrder
from goodlength.record.store import Library
from goodlength.tasks.practice.practice_recording_attempts import (
    noted_content,
    recording_frames,
)
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.phone_qr_code_invitation import is_computer
from goodlength.web.http.range_requests import FootageResponse
from goodlength.web.http.remote_file_access_policy import may_be_sent
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.routes.practice.practice_log import ORDERS
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import RecordingForm
from goodlength.web.undo_message import redirect
from goodlength.web.views.keyboard_shortcuts import ATTEMPT_KEYS, NO_MATCH, with_player
from goodlength.web.watched_folder_offers import watched_folder

router = APIRouter(include_in_schema=False)
PostedRecording = Annotated[Submitted[RecordingForm], Depends(posted(RecordingForm))]


@router.get("/practice/{player_id}/recordings")
def recordings(request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str) -> Response:
    """Return the recordings of a player, and a new one."""
    return _list(request, library, jobs, player_id)


@router.post("/practice/{player_id}/recordings")
def add(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, form: PostedRecording
) -> Response:
    """Begin listening to a file."""
    try:
        choices = form.value
        made = tasks.start_recording(library, player_id, choices.drill, choices.path, jobs)
    except GoodlengthError as error:
        typed, chosen, faults = form.shown("path"), form.shown("drill"), {"path": error.page_words}
        return _list(request, library, jobs, player_id, typed=typed, chosen=chosen, faults=faults)
    return RedirectResponse(_address(player_id, made), status_code=303)


@router.get("/practice/{player_id}/recordings/{recording_id}")
def recording(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, recording_id: str
) -> Response:
    """Return one recording: being listened to, or its attempts to be marked at speed."""
    practice_recording = tasks.recording_named(jobs, player_id, recording_id)
    standing = {s.id for s in tasks.sets_of(library, player_id).get(practice_recording.drill, ())}
    ever = [
        entry.id
        for entry in library.practice(player_id)
        if entry.id.startswith(f"heard-{practice_recording.id}-")
    ]
    drill = tasks.drill_named(library, practice_recording.drill)
    return page(
        request,
        "practice/detected_attempts.html",
        person=library.player(player_id),
        base=f"/practice/{quote(player_id, safe='')}",
        one=practice_recording,
        name=Path(practice_recording.path).name,
        drill=drill,
        logged=any(each in standing for each in ever),
        set_id=f"heard-{practice_recording.id}-{len(ever)}",
        attempts=[
            {**attempt, "clock": clock_words(attempt["strike_s"])} for attempt in practice_recording.attempts
        ],
        orders=ORDERS,
        order=PracticeOrder.BLOCKED.value,
        today=date.today().isoformat(),
        keys=with_player(ATTEMPT_KEYS, without=NO_MATCH),
    )


@router.get("/api/practice/{player_id}/recordings/{recording_id}/frames")
def frames(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, recording_id: str
) -> Response:
    """Return when the frames of a recording begin, as the page plays it, to whoever may have the file."""
    recording = tasks.recording_named(jobs, player_id, recording_id)
    may_be_sent(request, library, tasks.played_recording(jobs, recording), noted_content(jobs, recording))
    return json_answer(recording_frames(jobs, recording).to_json())


@router.api_route("/api/practice/{player_id}/recordings/{recording_id}/media", methods=["GET", "HEAD"])
def media(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, recording_id: str
) -> Response:
    """Return the recording as the page plays it."""
    recording = tasks.recording_named(jobs, player_id, recording_id)
    path, noted = tasks.played_recording(jobs, recording), noted_content(jobs, recording)
    return FootageResponse(may_be_sent(request, library, path, noted))


@router.post("/practice/{player_id}/recordings/{recording_id}/forget")
def forget(library: CurrentLibrary, jobs: CurrentJobs, player_id: str, recording_id: str) -> Response:
    """Remove a recording, into the bin."""
    item = tasks.forget_recording(library, jobs, player_id, recording_id)
    return redirect(f"/practice/{quote(player_id, safe='')}/recordings", item)


def _address(player_id: str, recording_id: str) -> str:
    return f"/practice/{quote(player_id, safe='')}/recordings/{quote(recording_id, safe='')}"


def _list(request: Request, library: Library, jobs: Jobs, player_id: str, **shown: Any) -> Response:
    context: dict[str, Any] = {"typed": "", "chosen": "", "faults": {}, **shown}
    rows = [
        {
            "href": _address(player_id, practice_recording.id),
            "name": Path(practice_recording.path).name,
            "words": practice_recording.words,
            "drill": tasks.drill_named(library, practice_recording.drill).name,
            "busy": practice_recording.state in ("queued", "running"),
        }
        for practice_recording in tasks.recordings_of(jobs, player_id)
    ]
    return page(
        request,
        "practice/practice_recordings.html",
        status=422 if context["faults"] else 200,
        person=library.player(player_id),
        base=f"/practice/{quote(player_id, safe='')}",
        names=[(drill.id, drill.name) for drill in tasks.drills(library)],
        rows=rows,
        watched=watched_folder(library, here=is_computer(request)),
        at_computer=is_computer(request),
        **context,
    )
