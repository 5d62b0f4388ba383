"""Routes of detected rallies: the detection job, and the page on which a coach checks them."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, StrictInt
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.forms.footage.detected_rallies_json import rallies_form
from goodlength.tasks.footage.rally_detection import ListedRallies
from goodlength.tasks.footage.second_match_on_same_video import split_match
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentMatch
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.video_file_track_and_split_forms import SplitForm
from goodlength.web.views.keyboard_shortcuts import RALLY_KEYS, with_player
from goodlength.web.views.match_description_and_result_phrases import worn_names
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()
PostedSplit = Annotated[Submitted[SplitForm], Depends(posted(SplitForm))]


class CorrectionIn(BaseModel):
    """A correction of one rally heard; what is left out stays."""

    model_config = ConfigDict(extra="forbid")
    start_us: StrictInt | None = None
    end_us: StrictInt | None = None
    state: str | None = None
    seen: str | None = None
    told: str | None = None


class MarkedIn(BaseModel):
    """A rally marked where nothing was heard."""

    model_config = ConfigDict(extra="forbid")
    start_us: StrictInt
    end_us: StrictInt


@router.post("/matches/{match_id}/hear", include_in_schema=False)
def start_detection(opened: CurrentMatch, jobs: CurrentJobs) -> Response:
    """Begin listening to the footage of a match."""
    tasks.start_rally_detection(opened, jobs)
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/footage#detected-rallies", status_code=303)


@router.post("/matches/{match_id}/split", include_in_schema=False)
def split(opened: CurrentMatch, form: PostedSplit) -> Response:
    """Make a new match of what is filmed from a moment on, and show its details to be corrected."""
    made = split_match(opened, form.value.at or 0)
    return RedirectResponse(f"/matches/{quote(made.id, safe='')}/details", status_code=303)


@router.post("/matches/{match_id}/picture", include_in_schema=False)
def join_picture(opened: CurrentMatch, jobs: CurrentJobs) -> Response:
    """Begin joining the picture to what was heard, or go on where it was paused."""
    tasks.start_picture(opened, jobs)
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/footage#detected-rallies", status_code=303)


@router.post("/matches/{match_id}/picture/cancel", include_in_schema=False)
def cancel_picture(opened: CurrentMatch, jobs: CurrentJobs) -> Response:
    """Stop joining the picture and forget what was measured; the sound's answer stands."""
    tasks.cancel_picture(opened, jobs)
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/footage#detected-rallies", status_code=303)


@router.get("/matches/{match_id}/rallies", include_in_schema=False)
def rallies(request: Request, opened: CurrentMatch) -> Response:
    """Return the page on which rallies heard are looked through."""
    data = sheet_data(opened)
    return match_page(
        request,
        data,
        "footage/detected_rallies.html",
        "footage",
        found=data.detected,
        can_play=bool(data.films.parts),
        waits=data.films.waits,
        worn=worn_names(opened.names, opened.info) if opened.info.clothes_a or opened.info.clothes_b else (),
        keys=with_player(RALLY_KEYS),
    )


@router.get("/api/matches/{match_id}/heard")
def get_rallies(opened: CurrentMatch) -> Response:
    """Return the rallies heard, as the page takes them."""
    return json_answer(_form(opened, tasks.listed_rallies(opened)))


@router.post("/api/matches/{match_id}/heard/{rally_id}")
def correct(opened: CurrentMatch, rally_id: str, body: CorrectionIn) -> Response:
    """Keep a correction of one rally."""
    found = tasks.correct_rally(
        opened,
        rally_id,
        start_us=body.start_us,
        end_us=body.end_us,
        state=body.state,
        seen=body.seen,
        outcome=body.told,
    )
    return json_answer(_form(opened, found))


@router.post("/api/matches/{match_id}/heard")
def mark(opened: CurrentMatch, body: MarkedIn) -> Response:
    """Mark a rally where nothing was heard."""
    return json_answer(_form(opened, tasks.add_rally(opened, body.start_us, body.end_us)))


def _form(opened: OpenMatch, found: ListedRallies) -> dict[str, Any]:
    a, b = opened.names
    return {**rallies_form(found), "short": {"a": a, "b": b}}
