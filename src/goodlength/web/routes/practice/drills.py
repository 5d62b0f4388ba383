"""Drills: the library and the coach's own, each with its set-up drawn, and the form for a new one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

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
from goodlength.show.draw.svg_primitives import PAGE
from goodlength.web.http.dependencies import CurrentLibrary
from goodlength.web.http.posted_form import Posted, PostedForm
from goodlength.web.page_rendering import page

router = APIRouter(include_in_schema=False)

THEMES = (
    ("serve", "Serve"),
    ("serve-and-next", "Serve and the next ball"),
    ("return", "Return of serve"),
    ("length", "Length"),
    ("volley", "Volley"),
    ("movement", "Movement"),
    ("pressure", "Pressure"),
)
COMPANIES = (("solo", "nobody (solo)"), ("pair", "a partner"), ("feeder", "a feeder"))
PLACES = (
    ("", "no target area"),
    ("front-wall", "a box on the front wall"),
    ("back-quarter", "the floor behind the service boxes"),
)
EMPTY = {
    "name": "",
    "theme": "serve",
    "company": "solo",
    "do": "",
    "counts": "",
    "changes": "",
    "place": "",
    "sets": "3",
    "attempts": "12",
    "rest_s": "45",
    "minutes": "10",
    "left_m": "",
    "low_m": "",
    "wide_m": "",
    "tall_m": "",
    "spot1": "",
    "x1": "",
    "y1": "",
    "spot2": "",
    "x2": "",
    "y2": "",
    "body_target": "",
    "mixed": "",
}


def drill_view(one: Drill, wide: float = 150.0) -> dict[str, object]:
    """Return a drill as pages show it: its set-up drawn, with the same in words."""
    back = one.place == "back-quarter"
    return {
        "id": one.id,
        "name": one.name,
        "theme": dict(THEMES)[one.theme.value],
        "company": dict(COMPANIES)[one.company.value],
        "do": one.do,
        "counts": one.counts,
        "changes": one.changes,
        "dose": one.dose,
        "minutes": one.minutes,
        "own": one.own,
        "spots": [spot.words for spot in one.spots],
        "floor": drill_floor(one.spots, back_quarters=back, wide=wide, look=PAGE),
        "wall": wall_box(one.box, wide=wide + 60, look=PAGE) if one.box else "",
        "words": wall_words(one.box) if one.box else floor_words(one.spots, back),
        "taped": one.place == "front-wall",
        "back": back,
    }


@router.get("/practice/drills")
def drills(request: Request, library: CurrentLibrary, kept: str = "") -> Response:
    """Return every drill by what it works on."""
    return _page(request, library, EMPTY, said="Drill saved. Plans can use it." if kept else "")


@router.post("/practice/drills")
def add(request: Request, library: CurrentLibrary, form: Posted) -> Response:
    """Keep a drill of the coach's own."""
    try:
        tasks.add_drill(library, drill_from(form))
    except GoodlengthError as error:
        return _page(request, library, {**EMPTY, **form.texts}, faults=[error.page_words])
    return RedirectResponse("/practice/drills?kept=1", status_code=303)


@router.post("/practice/drills/retire")
def retire(library: CurrentLibrary, form: Posted) -> Response:
    """Take a drill of the coach's own out of use."""
    tasks.retire_drill(library, form.texts.get("drill", ""))
    return RedirectResponse("/practice/drills", status_code=303)


def drill_from(form: PostedForm) -> Mapping[str, object]:
    """Return the plain values of a drill as the form holds them; fields left empty are not said."""
    said = {name: text.strip() for name, text in form.texts.items()}
    box = {name: said.get(name, "") for name in ("left_m", "low_m", "wide_m", "tall_m")}
    spots = [
        {"words": said.get(f"spot{n}", ""), "x_m": said.get(f"x{n}", ""), "y_m": said.get(f"y{n}", "")}
        for n in (1, 2)
        if said.get(f"x{n}") or said.get(f"y{n}") or said.get(f"spot{n}")
    ]
    return {**said, "id": None, "box": box if any(box.values()) else None, "spots": spots}


def _page(
    request: Request, library: Library, asked: Mapping[str, str], said: str = "", faults: Any = None
) -> Response:
    every = [(drill.theme.value, drill_view(drill)) for drill in tasks.drills(library)]
    groups = [(words, [shown for theme, shown in every if theme == key]) for key, words in THEMES]
    return page(
        request,
        "practice_drills.html",
        status=422 if faults else 200,
        groups=groups,
        themes=THEMES,
        companies=COMPANIES,
        places=PLACES,
        asked=asked,
        said=said,
        drill_faults=faults,
    )
