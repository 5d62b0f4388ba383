"""The report on an opponent, from every match on record."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from goodlength.errors import GoodlengthError, NotFound
from goodlength.forms.findings.opponent_report_json import brief_form
from goodlength.tasks.ball.player_measured_serves import path_files_version
from goodlength.tasks.findings.opponent_report import brief_about
from goodlength.tasks.findings.season_search import player_version
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.routes.match.findings import bold_counts, grade_mark
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, queried
from goodlength.web.submitted_forms.match_import_and_search_forms import SinceForm

router = APIRouter(include_in_schema=False)
AskedSince = Annotated[Submitted[SinceForm], Depends(queried(SinceForm))]


@router.get("/players/{player_id}/brief")
def brief(request: Request, library: CurrentLibrary, player_id: str, form: AskedSince) -> Response:
    """Return one page about an opponent."""
    library.player(player_id)
    found, trouble, since = None, "", form.shown("since")
    only_watched = form.value.answers == "watched"
    reading = request.app.state.season.long_reading()
    try:
        if reading:
            raise NotFound(reading)
        key = (
            "brief",
            form.value.since,
            only_watched,
            *player_version(library, player_id),
            path_files_version(library.folder),
        )
        found = request.app.state.found.keep(
            key,
            lambda: brief_form(
                brief_about(library, player_id, since=form.value.since, only_watched=only_watched)
            ),
        )
    except GoodlengthError as error:
        trouble = error.page_words
    return page(
        request,
        "match/opponent_brief.html",
        status=422 if trouble and since else 200,
        brief=found,
        trouble=trouble,
        since=since,
        only_watched=only_watched,
        player=library.player(player_id),
        grade_mark=grade_mark,
        bold=bold_counts,
    )
