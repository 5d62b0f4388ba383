"""Routes of the detection audit: twenty detected rallies, one question a card."""

from __future__ import annotations

import json
from urllib.parse import quote

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import RedirectResponse, Response

from goodlength.forms.footage.detection_audit_json import review_form
from goodlength.tasks.footage.rally_detection_audit import (
    adapt_thresholds,
    answer_review,
    begin_review_again,
    review_detection,
    review_figures,
    undo_thresholds,
)
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.keyboard_shortcuts import REVIEW_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()


class ReviewAnswerIn(BaseModel):
    """One answer of a review; empty takes it back."""

    model_config = ConfigDict(extra="forbid")
    question: str
    answer: str


@router.get("/matches/{match_id}/review", include_in_schema=False)
def review(request: Request, opened: CurrentMatch) -> Response:
    """Return the page on which a coach reviews twenty detected rallies."""
    data = sheet_data(opened)
    return match_page(
        request,
        data,
        "footage/detection_audit.html",
        "footage",
        found=data.detected,
        can_play=bool(data.films.parts),
        waits=data.films.waits,
        names=opened.names,
        keys=with_player(REVIEW_KEYS),
    )


@router.get("/api/matches/{match_id}/review")
def get_review(opened: CurrentMatch) -> Response:
    """Return the cards, and what they show so far."""
    return json_answer({**review_form(review_detection(opened)), "short": _short(opened.names)})


@router.post("/api/matches/{match_id}/review/{card_id}")
def answer(opened: CurrentMatch, card_id: str, body: ReviewAnswerIn) -> Response:
    """Keep one answer."""
    found = answer_review(opened, card_id, body.question, body.answer)
    return json_answer({**review_form(found), "short": _short(opened.names)})


@router.get("/matches/{match_id}/review/figures", include_in_schema=False)
def figures(opened: CurrentMatch) -> Response:
    """Return the file of figures, to be saved and sent by hand."""
    text = json.dumps(review_figures(opened), indent=1)
    name = 'attachment; filename="goodlength-review.json"'
    return Response(text, media_type="application/json", headers={"content-disposition": name})


@router.post("/matches/{match_id}/review/adapt", include_in_schema=False)
def adapt(opened: CurrentMatch) -> Response:
    """Use the thresholds that the answers suggest."""
    adapt_thresholds(opened)
    return _back(opened)


@router.post("/matches/{match_id}/review/undo", include_in_schema=False)
def undo(opened: CurrentMatch) -> Response:
    """Put the usual thresholds back."""
    undo_thresholds(opened)
    return _back(opened)


@router.post("/matches/{match_id}/review/again", include_in_schema=False)
def again(opened: CurrentMatch) -> Response:
    """Begin again with other rallies."""
    begin_review_again(opened)
    return _back(opened)


def _back(opened: OpenMatch) -> Response:
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/review", status_code=303)


def _short(names: tuple[str, str]) -> dict[str, str]:
    return {"a": names[0], "b": names[1]}
