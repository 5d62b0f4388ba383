"""Routes of the score draft from detected rallies: compute, check, accept."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.files.json_types import Json
from goodlength.forms.footage.score_draft_json import draft_form
from goodlength.tasks.footage.player_tracking import feet_at_serves
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.keyboard_shortcuts import DRAFT_KEYS, with_player
from goodlength.web.views.match_page_header import match_page, steps_form
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()


class DraftIn(BaseModel):
    """Scores, or what the coach says of one rally: who won ("a", "b", "let", "" as proposed) or none."""

    model_config = ConfigDict(extra="forbid")
    scores: str | None = Field(None, max_length=200)
    rally: str | None = None
    told: str | None = None
    state: str | None = None


@router.get("/matches/{match_id}/draft", include_in_schema=False)
def draft_page(request: Request, opened: CurrentMatch) -> Response:
    """Return the page on which a draft is looked at."""
    data = sheet_data(opened)
    return match_page(
        request,
        data,
        "match/score_draft.html",
        "record",
        found=data.detected,
        seen=sum(1 for rally in data.detected.played if rally.seen),
        watched=len(feet_at_serves(opened)),
        can_play=bool(data.films.parts),
        keys=with_player(DRAFT_KEYS),
    )


@router.post("/api/matches/{match_id}/draft")
def work_out(opened: CurrentMatch, body: DraftIn) -> Response:
    """Return the draft with what is said now; where none can be made, words say why."""
    if body.rally is not None:
        tasks.correct_rally(opened, body.rally, outcome=body.told, state=body.state)
    return json_answer(_form(opened, body.scores))


@router.post("/api/matches/{match_id}/draft/accept")
def accept(opened: CurrentMatch) -> Response:
    """Write the draft on the sheet."""
    return json_answer(_with_steps(tasks.accept_draft(opened).opened))


@router.post("/api/matches/{match_id}/draft/take-back")
def take_back(opened: CurrentMatch) -> Response:
    """Take an accepted draft off the sheet."""
    return json_answer(_with_steps(tasks.withdraw_draft(opened).opened))


def _with_steps(opened: OpenMatch) -> dict[str, Any]:
    """Return the draft, and the steps above the page as they stand now."""
    return {**_form(opened, None), "steps": steps_form(sheet_data(opened))}


def _form(opened: OpenMatch, scores: str | None) -> dict[str, Any]:
    a, b = opened.names
    written = tasks.rallies_in_draft(opened)
    empty: dict[str, Json] = {"rallies": [], "lost": [], "first": [], "written": written}
    try:
        form = draft_form(tasks.draft_match(opened, scores))
    except GoodlengthError as error:
        words = "All detected rallies are already on the sheet." if written else error.page_words
        form = {**empty, "words": words, "scores": scores or ""}
    return {**form, "short": {"a": a, "b": b}}
