"""Routes of the ball's path: the page, one rally as drawn, and another path taken."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import Response

from goodlength.media_time import clock_words, seconds
from goodlength.show.draw.court.unfolded_flight import draw_court_sheet
from goodlength.tasks.ball.ball_paths import (
    FollowedRallyLine,
    RallyDrawing,
    followed_lines,
    rally_drawing,
    take_next_path,
    why_no_paths,
)
from goodlength.web.http.dependencies import CurrentMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.views.keyboard_shortcuts import PATH_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()
Number = Annotated[StrictInt, Field(ge=1, le=10_000)]


class ShotIn(BaseModel):
    """A shot of a rally by its number."""

    model_config = ConfigDict(extra="forbid")
    shot: Number


@router.get("/matches/{match_id}/ball", include_in_schema=False)
def show_paths(request: Request, opened: CurrentMatch) -> Response:
    """Return the page with the ball's path, rally by rally."""
    data = sheet_data(opened)
    lines = followed_lines(opened)
    return match_page(
        request,
        data,
        "footage/ball_paths.html",
        "footage",
        rallies=[_row(line) for line in lines],
        missing="" if lines else why_no_paths(opened),
        names=opened.names,
        can_play=bool(data.films.parts),
        court=draw_court_sheet("The court unfolded, to scale: floor in the middle, walls folded out."),
        keys=with_player(PATH_KEYS),
    )


def _row(line: FollowedRallyLine) -> dict[str, Any]:
    name = f"Rally {line.number}" if line.number else "Detected, not logged"
    return {
        "key": line.key,
        "words": f"{name}, {clock_words(seconds(line.from_us))}",
        "start_us": line.from_us,
    }


@router.get("/api/matches/{match_id}/paths/{rally}")
def get_paths(opened: CurrentMatch, rally: str) -> Response:
    """Return the followed ball of one rally."""
    return _answer(rally_drawing(opened, rally))


@router.post("/api/matches/{match_id}/paths/{rally}/next")
def next_path(opened: CurrentMatch, rally: str, body: ShotIn) -> Response:
    """Take the next-best path of a shot."""
    return _answer(take_next_path(opened, rally, body.shot))


def _answer(rally: RallyDrawing) -> Response:
    return json_answer(asdict(rally))
