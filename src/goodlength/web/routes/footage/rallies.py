"""Rallies heard: listening in a job, and the page on which a coach looks through what was heard."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, StrictInt
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.forms.rallies import rallies_form
from goodlength.record.names import short_names
from goodlength.tasks.footage.rallies import ListedRallies
from goodlength.web.http.answers import json_answer
from goodlength.web.views.keys import RALLY_KEYS
from goodlength.web.views.match_layout import match_page
from goodlength.web.views.match_reading import players_of, sheet_data

router = APIRouter()


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
def start_detection(request: Request, match_id: str) -> Response:
    """Begin listening to the footage of a match."""
    tasks.start_rally_detection(request.app.state.library, match_id, request.app.state.jobs)
    return RedirectResponse(f"/matches/{quote(match_id, safe='')}/footage#heard", status_code=303)


@router.get("/matches/{match_id}/rallies", include_in_schema=False)
def rallies(request: Request, match_id: str) -> Response:
    """The page on which rallies heard are looked through."""
    library = request.app.state.library
    data = sheet_data(library, match_id)
    found = tasks.listed_rallies(library, match_id)
    return match_page(
        request,
        data,
        "rallies.html",
        "footage",
        found=found,
        can_play=bool(data.films.parts),
        waits=data.films.waits,
        keys=RALLY_KEYS,
    )


@router.get("/api/matches/{match_id}/heard")
def get_rallies(request: Request, match_id: str) -> Response:
    """The rallies heard, as the page takes them."""
    return json_answer(_form(request, match_id, tasks.listed_rallies(request.app.state.library, match_id)))


@router.post("/api/matches/{match_id}/heard/{rally_id}")
def correct(request: Request, match_id: str, rally_id: str, body: CorrectionIn) -> Response:
    """Keep a correction of one rally."""
    library = request.app.state.library
    library.match_info(match_id)
    found = tasks.correct_rally(library, match_id, rally_id, **body.model_dump())
    return json_answer(_form(request, match_id, found))


@router.post("/api/matches/{match_id}/heard")
def mark(request: Request, match_id: str, body: MarkedIn) -> Response:
    """Mark a rally where nothing was heard."""
    library = request.app.state.library
    library.match_info(match_id)
    return json_answer(
        _form(request, match_id, tasks.add_rally(library, match_id, body.start_us, body.end_us))
    )


def _form(request: Request, match_id: str, found: ListedRallies) -> dict[str, Any]:
    library = request.app.state.library
    a, b = players_of(library, library.match_info(match_id))
    short = short_names(a.name, b.name)
    return {**rallies_form(found), "short": {"a": short[0], "b": short[1]}}
