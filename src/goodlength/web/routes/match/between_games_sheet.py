"""The sheet for the interval between two games of a match."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from goodlength import tasks
from goodlength.forms.findings.between_games_sheet_json import between_form, between_note
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.routes.match.findings import grade_mark
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, queried
from goodlength.web.submitted_forms.match_import_and_search_forms import BetweenForm
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
AskedGame = Annotated[Submitted[BetweenForm], Depends(queried(BetweenForm))]


@router.get("/matches/{match_id}/between")
def between(request: Request, opened: CurrentMatch, form: AskedGame) -> Response:
    """Return at most three lines for the break, large enough to read at arm's length."""
    asked = form.value
    whose = asked.of if asked.of in ("coached", "opponent") else "coached"
    sheet = between_form(tasks.between_games(opened, whose, asked.game))
    over = opened.match.winner is not None and sheet["game"] == opened.match.games[-1].n
    return match_page(
        request,
        sheet_data(opened),
        "match/between_games.html",
        "findings",
        sheet=sheet,
        whose=whose,
        note=between_note(over=over),
        grade_mark=grade_mark,
        games=[game.n for game in opened.match.games],
        names=[player.name for player in opened.players],
        coached=opened.info.coached.place,
    )
