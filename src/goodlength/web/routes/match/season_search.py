"""Search for rallies over every match of the library, and highlights of what was found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origin_words
from goodlength.forms.findings.season_search_json import CAUTION
from goodlength.media_time import clock_words
from goodlength.record.store import Library
from goodlength.tasks.findings.season_search import one_state
from goodlength.tasks.sharing.search_result_highlights import MOST_RALLIES, MatchHighlights, start_highlights
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted, queried, read_form
from goodlength.web.submitted_forms.match_import_and_search_forms import FoundRalliesForm, SearchForm
from goodlength.web.views.keyboard_shortcuts import CLIP_KEYS
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.search_and_import.season_search_view import (
    NAMES,
    conditions_view,
    row_view,
    search_address,
)

router = APIRouter(include_in_schema=False)
AskedRallies = Annotated[Submitted[SearchForm], Depends(queried(SearchForm))]
FoundRallies = Annotated[Submitted[FoundRalliesForm], Depends(posted(FoundRalliesForm))]
SHOWN = 150  # rows on the page, which stays under 200 kB
UNREAD = 25  # matches; the page asks again by itself while more are read
SLOW = 4  # times slower in slow motion


@router.get("/search")
def search(request: Request, library: CurrentLibrary, form: AskedRallies) -> Response:
    """Rallies of every match that fit."""
    return _search(request, library, form, {name: value for name, value in form.texts.items() if value})


@router.post("/search/highlights")
def highlights(request: Request, library: CurrentLibrary, jobs: CurrentJobs, form: FoundRallies) -> Response:
    """Begin highlights of the ticked rallies: a video for each match, which lies with the match's clips."""
    chosen = form.value
    trouble = ""
    done: tuple[MatchHighlights, ...] = ()
    try:
        if not chosen.rally:
            raise InputError("Tick the rallies for the highlights first.")
        done = start_highlights(
            library, chosen.pairs, jobs, covered=chosen.covered, slower=SLOW if chosen.slow else 1
        )
    except GoodlengthError as error:
        trouble = error.page_words
    if len(done) == 1 and not done[0].refusal:
        return RedirectResponse(f"/matches/{quote(done[0].match, safe='')}/show?made=1#made", status_code=303)
    filled = chosen.search
    return _search(request, library, read_form(SearchForm, filled), filled, made=done, made_fault=trouble)


def _search(
    request: Request, library: Library, form: Submitted[SearchForm], given: Mapping[str, str], **shown: Any
) -> Response:
    filled = {name: given[name] for name in NAMES if given.get(name)}
    found, conditions, trouble = None, None, ""
    reading = request.app.state.season.long_reading(UNREAD)
    try:
        if not reading:
            with one_state(library) as season:
                found = tasks.search(library, form.value.question(), limit=SHOWN, season=season)
                conditions = conditions_view(library, filled, season)
    except GoodlengthError as error:
        trouble = error.page_words
    rows = [row_view(row, clock_words) for row in found.rows] if found else []
    context: dict[str, Any] = {"made": (), "made_fault": "", **shown}
    refused = trouble or context["made_fault"]
    return page(
        request,
        "match/season_search.html",
        status=422 if refused else 200,
        found=found,
        rows=rows,
        timed=sum(row["start_us"] is not None for row in rows),
        caution=CAUTION,
        origins=origin_words(found.answers if found else None),
        trouble=trouble,
        reading=reading,
        conditions=conditions or conditions_view(library, filled, None),
        asked=search_address(filled).partition("?")[2],
        shown=SHOWN,
        most=MOST_RALLIES,
        count=count_words,
        keys=CLIP_KEYS,
        **context,
    )
