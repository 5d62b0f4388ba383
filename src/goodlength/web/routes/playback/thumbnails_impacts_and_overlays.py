"""Routes of the player: small pictures to scrub by, and when the ball met what."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi import Path as InPath
from starlette.responses import FileResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.jobs.job_queue import Jobs
from goodlength.record.store import Library
from goodlength.tasks.playback import (
    Previews,
    ball_in_picture,
    overlay_at,
    preview_sheet,
    previews_of,
    start_previews,
)
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.remote_file_access_policy import may_be_sent
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary, CurrentMatch
from goodlength.web.page_json_types.video_playback_and_jobs import PreviewSheetsJson
from goodlength.web.views import proxy_or_original_video_files

router = APIRouter()
Sheet = Annotated[int, InPath(ge=0, lt=1000)]


@router.get("/api/footage/{footage_id}/previews")
def get_previews(library: CurrentLibrary, footage_id: str) -> Response:
    """Return where the small pictures of a file lie on their sheets."""
    return json_answer(dict(_form(previews_of(library, footage_id), awaited=True)))


@router.post("/api/footage/{footage_id}/previews")
def make_previews(request: Request, library: CurrentLibrary, jobs: CurrentJobs, footage_id: str) -> Response:
    """Begin making the small pictures of a file, where they are not there."""
    found = previews_of(library, footage_id)
    awaited = found is None and _begin(request, library, jobs, footage_id)
    return json_answer(dict(_form(found, awaited=awaited)))


@router.get("/api/footage/{footage_id}/previews/{sheet}", include_in_schema=False)
def get_sheet(request: Request, library: CurrentLibrary, footage_id: str, sheet: Sheet) -> Response:
    """Return one sheet; its address changes when the pictures are made anew, so it may be kept."""
    headers = {"cache-control": "private, max-age=86400"}
    path = may_be_sent(request, library, preview_sheet(library, footage_id, sheet))
    return FileResponse(path, media_type="image/jpeg", headers=headers)


@router.get("/api/matches/{match_id}/impacts")
def get_impacts(opened: CurrentMatch) -> Response:
    """Return the rallies detected, with their hits, and what else was heard of the ball."""
    played = tasks.listed_rallies(opened).played
    rallies = [
        {"start_us": rally.start_us, "end_us": rally.end_us, "hits_us": list(rally.hits_us)}
        for rally in played
    ]
    impacts = {
        us: what
        for rally in played
        for us, what in (*((us, "racket") for us in rally.hits_us), *rally.impacts)
    }
    return json_answer(
        {"rallies": rallies, "impacts": [{"us": us, "what": impacts[us]} for us in sorted(impacts)]}
    )


@router.get("/api/matches/{match_id}/overlay")
def get_overlay(opened: CurrentMatch, us: Annotated[int, Query(ge=0, le=2**53)]) -> Response:
    """Return court lines and paths as they lie in the picture at a match time."""
    return json_answer(asdict(overlay_at(opened, us)))


@router.get("/api/matches/{match_id}/ball")
def get_ball(opened: CurrentMatch, us: Annotated[int, Query(ge=0, le=2**53)]) -> Response:
    """Return where the ball was found in the rally played at a match time."""
    return json_answer(asdict(ball_in_picture(opened, us)))


def _begin(request: Request, library: Library, jobs: Jobs, footage_id: str) -> bool:
    """Begin with the copy that plays, where there is one; a file that is not there is told elsewhere."""
    file = library.footage_file(footage_id)
    try:
        copy = proxy_or_original_video_files.copy_of(library, file)
        shift = (
            0
            if copy is None
            else proxy_or_original_video_files.table_at(
                proxy_or_original_video_files.table_path(library, file)
            ).shift_us
        )
        played = may_be_sent(
            request, library, proxy_or_original_video_files.played_path(library, file), file.sha256
        )
        return start_previews(library, footage_id, played, shift, jobs)
    except GoodlengthError:
        return False


def _form(found: Previews | None, *, awaited: bool) -> PreviewSheetsJson:
    if found is None:
        nothing: PreviewSheetsJson = {
            "ready": False,
            "awaited": awaited,
            "made": "",
            "times_us": [],
            "across": 0,
            "down": 0,
            "width": 0,
            "height": 0,
        }
        return nothing
    return {
        "ready": True,
        "awaited": False,
        "made": found.made,
        "times_us": list(found.times_us),
        "across": found.across,
        "down": found.down,
        "width": found.width,
        "height": found.height,
    }
