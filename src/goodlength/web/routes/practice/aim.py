"""Routes of the Aim page: where on the front wall, how hard, outcomes of a hundred, cost of a miss."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.record.store import Library
from goodlength.web.aim_page_first_answer import EXAMPLE_WORDS, example_view, measured_question
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.aim_form import AimedForm, AimForm
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted, queried, read_form
from goodlength.web.views.aim_page_query import answer_to, form_of, matches_asked_of, question_of
from goodlength.web.views.aim_view import answer_view, map_view, path_drawing

router = APIRouter(include_in_schema=False)
AskedAim = Annotated[Submitted[AimForm], Depends(queried(AimForm))]
PostedAim = Annotated[Submitted[AimedForm], Depends(posted(AimedForm))]


@router.get("/aim")
def aim(request: Request, library: CurrentLibrary, form: AskedAim) -> Response:
    """Return the form and the answer; the address holds the whole question.

    Asked nothing, the page opens with the serve that a player was measured at, which its script asks for, or
    with an example calculated beforehand.
    """
    if form.texts:
        return _page(request, library, "practice/aim_target.html", form, asked=True)
    own = measured_question(library)
    opening = read_form(AimForm, own) if own else form
    return _page(request, library, "practice/aim_target.html", opening, asked=False, opens=True)


@router.get("/aim/answer")
def answer(request: Request, library: CurrentLibrary, form: AskedAim) -> Response:
    """Return the answer alone, for the page to put in its place."""
    return _page(request, library, "practice/aim_target_result.html", form, asked=True)


@router.get("/aim/path")
def path(library: CurrentLibrary, form: AskedAim) -> Response:
    """Return the single path of an aim, at once: what the page draws while the aim is being moved."""
    try:
        question = question_of(library, form.value, None)  # one path has no scatter
        svg = path_drawing(question)
    except GoodlengthError as error:
        return JSONResponse({"error": {"kind": "aim", "words": error.page_words}}, status_code=422)
    return HTMLResponse(svg)


@router.get("/aim/map")
def wall_map(request: Request, library: CurrentLibrary, form: AskedAim) -> Response:
    """Return the map of the front wall, with a second serve where one is compared."""
    try:
        question = question_of(library, form.value, matches_asked_of(library, form))
        view = map_view(question, form.value.compare)
    except GoodlengthError as error:
        return JSONResponse({"error": {"kind": "aim", "words": error.page_words}}, status_code=422)
    return page(request, "practice/aim_wall_map.html", map=view)


@router.post("/aim/practise")
def practise(library: CurrentLibrary, form: PostedAim) -> Response:
    """Make the aim a drill of the coach's own, with its box taped on the wall."""
    asked = form.value.asked
    question = question_of(library, asked.value, matches_asked_of(library, asked))
    made = tasks.drill_from_aim(library, answer_to(question))
    player = asked.value.player
    to = f"/practice/{quote(player, safe='')}/log?of={quote(made.id)}" if player else "/practice/drills"
    return RedirectResponse(to, status_code=303)


def _page(
    request: Request,
    library: Library,
    template: str,
    form: Submitted[AimForm],
    *,
    asked: bool,
    opens: bool = False,
) -> Response:
    question, trouble, found, matches = None, "", None, None
    try:
        matches = matches_asked_of(library, form)
        question = question_of(library, form.value, matches)
        found = answer_to(question) if asked else None
    except GoodlengthError as error:
        trouble = error.page_words
    context: dict[str, Any] = {
        "form": form_of(library, form.texts, question, matches),
        "trouble": trouble,
        "asked": urlencode(form.texts),
        "other_fields": [
            (name, value)
            for name, value in form.texts.items()
            if name not in ("across", "above", "pace", "speed", "compare", "moving")
        ],
    }
    example = opens and not form.texts
    context["answer"] = example_view() if example else None if found is None else answer_view(found)
    context["example"] = EXAMPLE_WORDS if example else ""
    context["opens"] = opens and not example
    return page(request, template, status=422 if trouble else 200, **context)
