"""Routes of the ball's path: the page, one rally as drawn, and what the coach corrects of it."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import Response

from goodlength.media_time import clock_words, seconds
from goodlength.show.draw.court.unfolded_flight import draw_court_sheet
from goodlength.tasks.ball.ball_following_and_corrections import (
    follow_rally_again,
    mark_ball,
    move_strike,
    remove_shot,
    undo_corrections,
)
from goodlength.tasks.ball.ball_path_queries import (
    FollowedRallyLine,
    RallyDrawing,
    followed_lines,
    rally_drawing,
    take_next_path,
    why_no_paths,
)
from goodlength.tasks.draft.answer_proposals_from_ball_path import path_proposals
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.keyboard_shortcuts import PATH_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.measured_serve_view import path_serve_json

router = APIRouter()
Number = Annotated[StrictInt, Field(ge=1, le=10_000)]


class RallyVersionIn(BaseModel):
    """The version of a rally as the page shows it; a correction of any other is refused."""

    model_config = ConfigDict(extra="forbid")
    version: Annotated[StrictInt, Field(ge=0, le=2**53)]


class ShotIn(RallyVersionIn):
    """A shot of a rally by its number."""

    shot: Number


class StrikeIn(ShotIn):
    """Where a shot's strike belongs: the match time of a sound."""

    to_us: Annotated[StrictInt, Field(ge=0, le=2**53)]


class BallMarkIn(RallyVersionIn):
    """A click on the ball: match time, and shares of the picture's width and height."""

    us: Annotated[StrictInt, Field(ge=0, le=2**53)]
    x: Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]
    y: Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


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
    words = f"{name}, {clock_words(seconds(line.from_us))}"
    return {
        "key": line.key,
        "words": f"{words}, out of date" if line.out_of_date else words,
        "start_us": line.from_us,
    }


@router.get("/api/matches/{match_id}/paths/{rally}")
def get_paths(opened: CurrentMatch, rally: str) -> Response:
    """Return the followed ball of one rally."""
    return _answer(rally_drawing(opened, rally))


@router.post("/api/matches/{match_id}/paths/{rally}/next")
def next_path(opened: CurrentMatch, rally: str, body: ShotIn) -> Response:
    """Take the next-best path of a shot."""
    return _answer(take_next_path(opened, rally, body.shot, body.version))


@router.post("/api/matches/{match_id}/paths/{rally}/strike")
def change_strike(opened: CurrentMatch, rally: str, body: StrikeIn) -> Response:
    """Move a shot's strike to another sound."""
    return _answer(move_strike(opened, rally, body.shot, body.to_us, body.version))


@router.post("/api/matches/{match_id}/paths/{rally}/no-shot")
def no_shot(opened: CurrentMatch, rally: str, body: ShotIn) -> Response:
    """Say that no shot was struck there."""
    return _answer(remove_shot(opened, rally, body.shot, body.version))


@router.post("/api/matches/{match_id}/paths/{rally}/mark")
def mark(opened: CurrentMatch, rally: str, body: BallMarkIn) -> Response:
    """Set a mark on the ball that the path must pass."""
    return _answer(mark_ball(opened, rally, body.us, body.x, body.y, body.version))


@router.post("/api/matches/{match_id}/paths/{rally}/undo")
def undo(opened: CurrentMatch, rally: str, body: RallyVersionIn) -> Response:
    """Take back what the coach corrected in a rally."""
    return _answer(undo_corrections(opened, rally, body.version))


@router.post("/api/matches/{match_id}/paths/{rally}/again")
def again(opened: CurrentMatch, rally: str, body: RallyVersionIn) -> Response:
    """Follow a rally again with camera, players and sounds as they are now."""
    return _answer(follow_rally_again(opened, rally, body.version))


@router.get("/api/matches/{match_id}/proposals")
def get_proposals(opened: CurrentMatch) -> Response:
    """Return what the ball's path proposes for Record; empty where nothing is sure enough."""
    rallies = [
        {
            "start_us": rally.start_us,
            "end_us": rally.end_us,
            "answers": [
                {"what": answer.what.value, "value": answer.value, "chance": answer.chance}
                | ({} if answer.if_winner is None else {"if_winner": answer.if_winner.value})
                | ({} if answer.if_server is None else {"if_server": answer.if_server.value})
                for answer in rally.answers
            ],
            "ended": rally.ended,
        }
        for rally in path_proposals(opened)
        if rally.answers or rally.ended
    ]
    return json_answer({"rallies": rallies})


def _answer(rally: RallyDrawing) -> Response:
    plain = asdict(replace(rally, serve=None, clicked=None))
    del plain["clicked"]
    return json_answer({**plain, "serve": path_serve_json(rally.serve, rally.clicked)})
