"""Routes of two serves side by side, played together from a common moment."""

from __future__ import annotations

import json

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import Response

from goodlength.errors import DamagedFile
from goodlength.record.model import Rally
from goodlength.record.rally_sentences import served_words
from goodlength.tasks.sharing import serve_pair_alignment_and_mirroring
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.routes.sharing.rally_playback_and_clips import refusal_of
from goodlength.web.views.keyboard_shortcuts import SIDE_BY_SIDE_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()
BEFORE_S, AFTER_S = 1.0, 1.5  # shown round contact, as in the film that is made


class PairIn(BaseModel):
    """Two rallies, and what the coach set of them."""

    model_config = ConfigDict(extra="forbid")
    rallies: list[str]
    nudge_us: list[int]
    mirrored: bool


@router.get("/matches/{match_id}/beside", include_in_schema=False)
def pair_page(request: Request, opened: CurrentMatch) -> Response:
    """Return the page: the first two rallies named that have a time, else those set last."""
    data = sheet_data(opened)
    timed = {
        rally.key: rally
        for rally in data.match.rallies
        if rally.start_us is not None and rally.end_us is not None
    }
    asked = request.query_params.getlist("rally") or serve_pair_alignment_and_mirroring.latest_pair(opened)
    named = [key for key in dict.fromkeys(asked) if key in timed]
    chosen = [*named, *(key for key in timed if key not in named)][:2]
    begin, damaged = None, ""
    if len(chosen) == 2 and data.films.parts:
        try:
            settings = serve_pair_alignment_and_mirroring.opened_side_by_side(opened, chosen)
        except DamagedFile as error:
            settings, damaged = None, error.page_words
        begin = settings and {
            "match": opened.id,
            "parts": [part.as_json() for part in data.films.parts],
            "contacts_us": [timed[key].start_us for key in chosen],
            "before_s": BEFORE_S,
            "after_s": AFTER_S,
            **settings.as_json(),
        }
    return match_page(
        request,
        data,
        "sharing/side_by_side_video.html",
        "show",
        begin=json.dumps(begin) if begin else "",
        why=damaged or data.films.waits or "Choose two rallies that have a time and a video.",
        chosen=chosen,
        choices=[
            (key, _named(rally, served_words(rally, opened.names, opened.kind_words)))
            for key, rally in timed.items()
        ],
        refusal=refusal_of(opened),
        keys=with_player(SIDE_BY_SIDE_KEYS, without=("short",)),
    )


@router.post("/api/matches/{match_id}/beside")
def save_pair(opened: CurrentMatch, body: PairIn) -> Response:
    """Keep a pair as it is set."""
    fields = body.model_dump(exclude={"rallies"})
    return json_answer(
        serve_pair_alignment_and_mirroring.save_side_by_side(opened, body.rallies, fields).as_json()
    )


def _named(rally: Rally, words: str) -> str:
    return f"Game {rally.game}, {rally.before[0]}–{rally.before[1]}" + (f": {words}" if words else "")
