"""The sheet for the interval between two games of a match."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.files.library_layout import between_notes_file
from goodlength.forms.findings.between_games_sheet_json import between_form, between_note
from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.findings.between_games_notes import MOST_LETTERS
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.routes.match import findings
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted, queried
from goodlength.web.submitted_forms.match_import_and_search_forms import BetweenForm, BetweenNoteForm
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
AskedGame = Annotated[Submitted[BetweenForm], Depends(queried(BetweenForm))]
PostedNote = Annotated[Submitted[BetweenNoteForm], Depends(posted(BetweenNoteForm))]


@router.get("/matches/{match_id}/between")
def between(request: Request, opened: CurrentMatch, form: AskedGame, done: str = "") -> Response:
    """Return at most three lines for the break, large enough to read at arm's length."""
    return _page(request, opened, form.value, message="Saved." if done else "")


@router.post("/matches/{match_id}/between")
def save_note(request: Request, opened: CurrentMatch, form: PostedNote) -> Response:
    """Save the coach's note after a game."""
    asked = form.value
    try:
        with tasks.undoable(
            opened.library,
            f"Note after game {asked.game} of {title_of(*opened.players)}",
            tasks.Watched(files=(between_notes_file(opened.library.folder, opened.id),)),
            about=opened.info.players,
            of_match=opened.id,
        ) as change:
            tasks.save_between_note(opened, asked.game or 0, asked.note)
    except GoodlengthError as error:
        return _page(request, opened, asked, typed=asked.note, message=error.page_words, status=422)
    whose = f"of={asked.of}&" if asked.of == "opponent" else ""
    address = f"/matches/{quote(opened.id, safe='')}/between?{whose}game={asked.game}&done=1"
    return redirect(address, change.item)


def _page(
    request: Request,
    opened: OpenMatch,
    asked: BetweenForm,
    *,
    typed: str | None = None,
    message: str = "",
    status: int = 200,
) -> Response:
    whose = asked.of if asked.of in ("coached", "opponent") else "coached"
    games = [game.n for game in opened.match.games]
    shown = asked.game if typed is None or asked.game in games else None  # nothing typed is lost
    data = sheet_data(opened)
    report = tasks.between_games(opened, whose, shown)
    sheet = between_form(report)
    over = opened.match.winner is not None and report.game == games[-1]
    game = asked.game if asked.game in games else report.game or (games[-1] if games else 0)
    notes = tasks.between_notes(opened)
    return match_page(
        request,
        data,
        "match/between_games.html",
        "findings",
        status=status,
        sheet=sheet,
        playable=findings.playable_rallies(data),
        whose=whose,
        note=between_note(over=over),
        grade_mark=findings.grade_mark,
        games=games,
        game=game,
        own_note=notes.get(game, "") if typed is None else typed,
        other_notes=[(n, text) for n, text in notes.items() if n != game],
        most_letters=MOST_LETTERS,
        message=message,
        names=[player.name for player in opened.players],
        coached=opened.info.coached.place,
    )
