"""Pages and steps that this version does not have, said plainly."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

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


@router.get("/aim", include_in_schema=False)
def aim(request: Request) -> Response:
    """Where to aim: to come."""
    return page(request, "later.html", later=AIM)
