"""Routes of a player's pose at a strike: the frame with keypoints, moved by hand, angles at once."""

from __future__ import annotations

from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import Response

from goodlength.errors import GoodlengthError
from goodlength.forms.footage.strike_pose_json import body_form, joints_form
from goodlength.tasks.footage import strike_pose_estimation_and_correction
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.keyboard_shortcuts import BODY_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()
Pixel = Annotated[float, Field(ge=-10_000, le=100_000, allow_inf_nan=False)]
Who = Literal["a", "b"]


class JointIn(BaseModel):
    """Where a joint is in the picture at contact, px; without a place it is taken back to what was found."""

    model_config = ConfigDict(extra="forbid")
    rally: str
    who: Who
    shot: StrictInt = 1
    at_us: StrictInt
    joint: StrictInt
    u: Pixel | None = None
    v: Pixel | None = None


class FeetIn(BaseModel):
    """Where a player's feet are in the picture at contact, px: his joints are looked for there."""

    model_config = ConfigDict(extra="forbid")
    rally: str
    who: Who
    shot: StrictInt = 1
    u: Pixel
    v: Pixel


@router.get("/matches/{match_id}/body", include_in_schema=False)
def body(request: Request, opened: CurrentMatch, rally: str = "", who: str = "", shot: int = 1) -> Response:
    """Return the page on which joints are looked at and moved."""
    data = sheet_data(opened)
    timed = [candidate for candidate in data.match.rallies if candidate.start_us is not None]
    chosen = next((candidate for candidate in timed if candidate.key == rally), timed[0] if timed else None)
    message = ""
    if chosen is not None and who not in ("a", "b"):
        who = strike_pose_estimation_and_correction.striker_of(opened, chosen.key, shot)
    at = None
    if chosen is not None:
        try:
            at = strike_pose_estimation_and_correction.strike_place(opened, chosen.key, shot)
        except GoodlengthError as error:
            message = error.page_words
    return match_page(
        request,
        data,
        "footage/pose_correction.html",
        "show",
        message=message,
        rally=chosen,
        shot=shot,
        who=who,
        names=opened.names,
        at=at,
        keys=with_player(BODY_KEYS, without=("short",)),
        joints=strike_pose_estimation_and_correction.joint_names(),
        others=[
            {
                "href": f"?{urlencode({'rally': rally_item.key, 'who': who})}",
                "name": f"Game {rally_item.game}, {rally_item.before[0]}–{rally_item.before[1]}",
                "here": rally_item is chosen,
            }
            for rally_item in timed
        ],
    )


@router.get("/api/matches/{match_id}/body")
def get_body(opened: CurrentMatch, rally: str, who: Who, shot: int = 1) -> Response:
    """Return the joints around a strike, found now if they were not before."""
    return json_answer(_form(opened, rally, who, shot))


@router.post("/api/matches/{match_id}/body/joint")
def move(opened: CurrentMatch, body: JointIn) -> Response:
    """Keep a joint where it was put, or take it back."""
    place = None if body.u is None or body.v is None else (body.u, body.v)
    strike_pose_estimation_and_correction.correct_joint(
        opened,
        body.rally,
        body.who,
        body.at_us,
        body.joint,
        place,
        shot=body.shot,
    )
    return json_answer(_form(opened, body.rally, body.who, body.shot))


@router.post("/api/matches/{match_id}/body/feet")
def feet(opened: CurrentMatch, body: FeetIn) -> Response:
    """Look for the joints of whoever stands at a place of the picture."""
    return json_answer(_form(opened, body.rally, body.who, body.shot, (body.u, body.v)))


def _form(
    opened: OpenMatch, rally: str, who: str, shot: int, at: tuple[float, float] | None = None
) -> dict[str, Any]:
    """Return the picture at contact alone: joints with score and error, and angles."""
    found = strike_pose_estimation_and_correction.strike_body(opened, rally, who, shot=shot, feet=at)
    joints = found.movement.at(found.at_us)
    shown = {name: part for name, part in body_form(found).items() if name != "movement"}
    return {**shown, "joints": [] if joints is None else joints_form(joints)}
