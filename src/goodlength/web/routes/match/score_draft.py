"""The draft of the marker's sheet: worked out from rallies heard, looked at, and accepted."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.files.json_values import Json
from goodlength.forms.score_draft import draft_form
from goodlength.record.names import short_names
from goodlength.tasks.footage.tracking import feet_at_serves
from goodlength.web.http.answers import json_answer
from goodlength.web.views.keys import DRAFT_KEYS
from goodlength.web.views.match_layout import match_page, steps_form
from goodlength.web.views.match_reading import players_of, sheet_data

router = APIRouter()


class DraftIn(BaseModel):
    """Scores, or what the coach says of one rally: who won ("a", "b", "let", "" as proposed) or none."""

    model_config = ConfigDict(extra="forbid")
    scores: str | None = Field(None, max_length=200)
    rally: str | None = None
    told: str | None = None
    state: str | None = None


@router.get("/matches/{match_id}/draft", include_in_schema=False)
def draft_page(request: Request, match_id: str) -> Response:
    """The page on which a draft is looked at."""
    library = request.app.state.library
    data = sheet_data(library, match_id)
    found = tasks.listed_rallies(library, match_id)
    return match_page(
        request,
        data,
        "draft.html",
        "record",
        found=found,
        seen=sum(1 for one in found.played if one.seen),
        watched=len(feet_at_serves(library, match_id)),
        can_play=bool(data.films.parts),
        keys=DRAFT_KEYS,
    )


@router.post("/api/matches/{match_id}/draft")
def work_out(request: Request, match_id: str, body: DraftIn) -> Response:
    """The draft with what is said now; where none can be made, words say why."""
    library = request.app.state.library
    library.match_info(match_id)
    if body.rally is not None:
        tasks.correct_rally(library, match_id, body.rally, told=body.told, state=body.state)
    return json_answer(_form(request, match_id, body.scores))


@router.post("/api/matches/{match_id}/draft/accept")
def accept(request: Request, match_id: str) -> Response:
    """Write the draft on the sheet."""
    tasks.accept_draft(request.app.state.library, match_id)
    return json_answer(_with_steps(request, match_id))


@router.post("/api/matches/{match_id}/draft/take-back")
def take_back(request: Request, match_id: str) -> Response:
    """Take an accepted draft off the sheet."""
    tasks.withdraw_draft(request.app.state.library, match_id)
    return json_answer(_with_steps(request, match_id))


def _with_steps(request: Request, match_id: str) -> dict[str, Any]:
    """The draft, and the steps above the page as they stand now."""
    steps = steps_form(sheet_data(request.app.state.library, match_id))
    return {**_form(request, match_id, None), "steps": steps}


def _form(request: Request, match_id: str, scores: str | None) -> dict[str, Any]:
    library = request.app.state.library
    a, b = players_of(library, library.match_info(match_id))
    short = short_names(a.name, b.name)
    written = tasks.rallies_in_draft(library, match_id)
    empty: dict[str, Json] = {"rallies": [], "lost": [], "first": [], "written": written}
    try:
        form = draft_form(tasks.draft_match(library, match_id, scores))
    except GoodlengthError as error:
        words = "All rallies heard are on the sheet." if written else str(error)
        form = {**empty, "words": words, "scores": scores or ""}
    return {**form, "short": {"a": short[0], "b": short[1]}}
