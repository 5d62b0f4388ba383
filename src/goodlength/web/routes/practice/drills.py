"""Routes of drills: the library's and the coach's own, with set-up drawings, and the form for a new one."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.practice.planning.drill_library import Drill
from goodlength.record.store import Library
from goodlength.show.draw.court.drill_setup_drawing import (
    drill_floor,
    floor_words,
    wall_box,
    wall_words,
)
from goodlength.show.draw.svg_primitives_and_themes import PAGE
from goodlength.tasks.practice.library_and_custom_drills import SETTING as DRILLS_SETTING
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import NEW_DRILL, DrillForm, RetireForm
from goodlength.web.undo_message import redirect

router = APIRouter(include_in_schema=False)
PostedDrill = Annotated[Submitted[DrillForm], Depends(posted(DrillForm))]
PostedRetirement = Annotated[Submitted[RetireForm], Depends(posted(RetireForm))]

THEMES = (
    ("serve", "Serve"),
    ("serve-and-next", "Serve and the next ball"),
    ("return", "Return of serve"),
    ("length", "Length"),
    ("volley", "Volley"),
    ("movement", "Movement"),
    ("pressure", "Pressure"),
)
_WITH = {"solo": "alone", "pair": "with a partner", "feeder": "with a feeder"}
COMPANIES = (("solo", "alone"), ("pair", "with a partner"), ("feeder", "with a feeder"))
PLACES = (
    ("", "no target area"),
    ("front-wall", "a box on the front wall"),
    ("back-quarter", "the floor behind the service boxes"),
)


def drill_view(drill: Drill, wide: float = 150.0) -> dict[str, object]:
    """Return a drill as pages show it: its set-up drawn, with the same in words."""
    back = drill.place == "back-quarter"
    return {
        "id": drill.id,
        "name": drill.name,
        "theme": dict(THEMES)[drill.theme.value],
        "company": _WITH[drill.company.value],
        "do": drill.do,
        "counts": drill.counts,
        "changes": drill.changes,
        "dose": drill.dose,
        "minutes": drill.minutes,
        "own": drill.own,
        "spots": [spot.words for spot in drill.spots],
        "floor": drill_floor(drill.spots, back_quarters=back, wide=wide, theme=PAGE),
        "wall": wall_box(drill.box, wide=wide + 60, theme=PAGE) if drill.box else "",
        "words": wall_words(drill.box) if drill.box else floor_words(drill.spots, back),
        "taped": drill.place == "front-wall",
        "back": back,
    }


@router.get("/practice/drills")
def drills(
    request: Request, library: CurrentLibrary, saved: Annotated[str, Query(alias="kept")] = ""
) -> Response:
    """Return every drill by what it works on."""
    return _page(request, library, NEW_DRILL, message="Drill saved. Plans can use it." if saved else "")


@router.post("/practice/drills")
def add(request: Request, library: CurrentLibrary, form: PostedDrill) -> Response:
    """Keep a drill of the coach's own."""
    try:
        with _undoable(library) as change:
            tasks.add_drill(library, form.value.drill())
    except GoodlengthError as error:
        return _page(request, library, {**NEW_DRILL, **form.texts}, faults=[error.page_words])
    return redirect("/practice/drills?kept=1", change.item)


@router.post("/practice/drills/retire")
def retire(library: CurrentLibrary, form: PostedRetirement) -> Response:
    """Take a drill of the coach's own out of use."""
    with _undoable(library) as change:
        tasks.retire_drill(library, form.value.drill)
    return redirect("/practice/drills", change.item)


def _undoable(library: Library) -> AbstractContextManager[tasks.UndoableChange]:
    return tasks.undoable(library, "Your drills", tasks.Watched(settings=(DRILLS_SETTING,)))


def _page(
    request: Request, library: Library, asked: Mapping[str, str], message: str = "", faults: Any = None
) -> Response:
    every = [(drill.theme.value, drill_view(drill)) for drill in tasks.drills(library)]
    groups = [(words, [shown for theme, shown in every if theme == key]) for key, words in THEMES]
    return page(
        request,
        "practice/drill_library.html",
        status=422 if faults else 200,
        groups=groups,
        themes=THEMES,
        companies=COMPANIES,
        places=PLACES,
        asked=asked,
        message=message,
        drill_faults=faults,
    )
