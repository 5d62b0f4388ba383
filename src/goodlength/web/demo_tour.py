"""Tour of the demo's pages: its steps, and where the coach is in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from starlette.requests import Request

from goodlength import demo
from goodlength.errors import NotFound
from goodlength.web.http.phone_qr_code_invitation import is_computer

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "tour"


@dataclass(frozen=True)
class TourStep:
    """One page of the tour: what it is called, what to see there, and its address."""

    name: str
    words: str
    path: str


STEPS = (
    TourStep(
        "Footage",
        "goodlength found the rallies, the court and both players in this video by itself.",
        "/matches/demo/footage",
    ),
    TourStep(
        "Draft",
        "From who serves next it drafts who won each rally. You only check: try it here.",
        "/matches/demo-try/draft",
    ),
    TourStep(
        "Record",
        "One question at a time fills in the marker’s sheet. Open game 1, click a line, and its rally plays.",
        "/matches/demo/record",
    ),
    TourStep(
        "Findings",
        "Each finding has its counts and the rallies behind it. After one match, most stay open.",
        "/matches/demo/findings",
    ),
    TourStep(
        "Clips",
        "Rallies with pictures, highlights and two serves side by side, to look at with the player.",
        "/matches/demo/show",
    ),
    TourStep(
        "Aim",
        "Where to aim a serve, here with the scatter of ten serves measured in the video.",
        "/aim?player=demo-imogen-vale&kind=lob&box=right",
    ),
    TourStep(
        "Practice",
        "The plan, six sessions logged on court, and whether they helped.",
        "/practice/demo-imogen-vale",
    ),
    TourStep(
        "Handout",
        "One page for the player, ready to print or to send. That is the whole way.",
        "/matches/demo/handout",
    ),
)


@dataclass(frozen=True)
class TourView:
    """What a page shows of the tour.

    `state`: "offered" on the list of matches before it was begun or refused, else "on". `number` counts
    steps from 1; `here` is whether the page is the step's own; `next` is empty at the last step.
    """

    state: Literal["offered", "on"]
    count: int = len(STEPS)
    number: int = 0
    name: str = ""
    words: str = ""
    path: str = ""
    here: bool = False
    next: str = ""


def tour_of(settings: Mapping[str, object], request: Request) -> TourView | None:
    """Return what a page shows of the tour; None on other devices, without the demo, and once it is over.

    `settings` are those of the library.
    """
    if not is_computer(request):
        return None
    known, place = settings.get(demo.SETTING), settings.get(SETTING)
    if known is None:
        return None
    if place is None:
        whole = isinstance(known, dict) and bool(known.get(demo.COACHED))
        return TourView("offered") if whole and request.url.path == "/matches" else None
    if not isinstance(place, int) or not 1 <= place <= len(STEPS):
        return None
    step = STEPS[place - 1]
    return TourView(
        "on",
        number=place,
        name=step.name,
        words=step.words,
        path=step.path,
        here=request.url.path == step.path.partition("?")[0],
        next=STEPS[place].name if place < len(STEPS) else "",
    )


def go_to_step(library: Library, number: int) -> str:
    """Note where in the tour the coach is, and return the page of that step.

    Raises
    ------
    NotFound
        The tour has no such step.
    """
    if not 1 <= number <= len(STEPS):
        raise NotFound(f"The tour has {len(STEPS)} steps; there is no step {number}. Start it from Help.")
    library.set_setting(SETTING, number)
    return STEPS[number - 1].path


def end_tour(library: Library) -> None:
    """Note that the tour is over; it can be started again."""
    library.set_setting(SETTING, 0)
