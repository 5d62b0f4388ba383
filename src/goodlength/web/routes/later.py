"""Pages and steps that this version does not have, said plainly."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

from goodlength.web.frame import match_page
from goodlength.web.reading import sheet_data
from goodlength.web.render import page

router = APIRouter()


@dataclass(frozen=True)
class Later:
    """A page that says what will stand on it, and what can be done until then."""

    name: str
    first: str
    coming: tuple[str, ...]
    until: str


AIM = Later(
    "Aim",
    "This page will say where to aim a serve.",
    (
        "the unfolded court with a serve flown through air, walls and floor",
        "where on the front wall to aim for a box and a kind of serve, in metres and centimetres from lines "
        "one can touch",
        "how often of 100 it would do what is wanted, given the player’s own scatter",
    ),
    "Until then Findings shows what each kind of serve did to the return.",
)
PRACTICE = Later(
    "Practice",
    "This page will hold practice plans and what became of them.",
    (
        "drills with a target and a dose, made from a player’s findings",
        "a log of attempts and hits, kept on the court",
        "whether a figure has changed since, with its range",
    ),
    "Until then the Handout carries your own words to the player.",
)
PLAN = Later(
    "Plan",
    "This step will turn the findings of the match into practice.",
    ("drills to choose from for each finding", "a plan for the week that prints", "a date to look again"),
    "Until then the Handout carries your own words to the player.",
)


@router.get("/aim", include_in_schema=False)
def aim(request: Request) -> Response:
    """Where to aim: to come."""
    return page(request, "later.html", later=AIM)


@router.get("/practice", include_in_schema=False)
def practice(request: Request) -> Response:
    """Plans and logs: to come."""
    return page(request, "later.html", later=PRACTICE)


@router.get("/matches/{match_id}/plan", include_in_schema=False)
def plan(request: Request, match_id: str) -> Response:
    """Practice from findings: to come."""
    data = sheet_data(request.app.state.library, match_id)
    return match_page(request, data, "match_later.html", "plan", later=PLAN)
