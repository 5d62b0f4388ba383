"""Sheets from the record: between games, about an opponent, over every match, two observers compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.forms.findings.between_games_sheet_json import between_form
from goodlength.forms.findings.observer_agreement_json import agree_form
from goodlength.forms.findings.opponent_report_json import brief_form
from goodlength.forms.findings.season_search_json import search_form
from goodlength.media_time import clock_words
from goodlength.record.model import Ending, ReturnKind, ShotType
from goodlength.record.store import Library
from goodlength.tasks.findings.opponent_report import brief_about
from goodlength.tasks.findings.season_search import LEFTS, PHASES, value_words
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.match.observer_comparison import add_layer, compare_observers, layers_of
from goodlength.web.html_forms.form_model import Submitted, file_in, queried, read_sent
from goodlength.web.html_forms.match_forms import BetweenForm, ObserverForm, SearchForm, SinceForm
from goodlength.web.http import uploads
from goodlength.web.http.dependencies import CurrentLibrary, CurrentMatch
from goodlength.web.page_rendering import page
from goodlength.web.routes.match.findings import bold_counts, grade_mark
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

VARIABLE_WORDS = {
    "server": "who served",
    "box": "box served from",
    "kind": "kind of serve",
    "how_taken": "how the return was taken",
    "left": "what the return left",
    "winner": "who won",
    "ending": "how it ended",
}
router = APIRouter(include_in_schema=False)
AskedGame = Annotated[Submitted[BetweenForm], Depends(queried(BetweenForm))]
AskedSince = Annotated[Submitted[SinceForm], Depends(queried(SinceForm))]
AskedRallies = Annotated[Submitted[SearchForm], Depends(queried(SearchForm))]
SHOWN = 200


@router.get("/matches/{match_id}/between")
def between(request: Request, opened: CurrentMatch, form: AskedGame) -> Response:
    """At most three lines for the break, large enough to read at arm's length."""
    asked = form.value
    whose = asked.of if asked.of in ("coached", "opponent") else "coached"
    sheet = between_form(tasks.between_games(opened, whose, asked.game))
    return match_page(
        request,
        sheet_data(opened),
        "match/between_games.html",
        "findings",
        sheet=sheet,
        whose=whose,
        grade_mark=grade_mark,
        games=[one.n for one in opened.match.games],
        names=[player.name for player in opened.players],
        coached=opened.info.coached.place,
    )


@router.get("/players/{player_id}/brief")
def brief(request: Request, library: CurrentLibrary, player_id: str, form: AskedSince) -> Response:
    """One page about an opponent."""
    library.player(player_id)
    found, trouble, since = None, "", form.shown("since")
    try:
        found = brief_form(brief_about(library, player_id, since=form.value.since))
    except GoodlengthError as error:
        trouble = error.page_words
    return page(
        request,
        "match/opponent_brief.html",
        status=422 if trouble and since else 200,
        brief=found,
        trouble=trouble,
        since=since,
        player=library.player(player_id),
        grade_mark=grade_mark,
        bold=bold_counts,
    )


def _clock(start_s: float | None) -> str:
    return "" if start_s is None else clock_words(start_s)


@router.get("/search")
def search(request: Request, library: CurrentLibrary, form: AskedRallies) -> Response:
    """Rallies of every match that fit."""
    said = {name: value for name, value in form.texts.items() if value}
    found, trouble = None, ""
    try:
        if said:
            question = form.value.question()
            found = search_form(question, tasks.search(library, question, limit=SHOWN))
    except GoodlengthError as error:
        trouble = error.page_words
    rows = [{**row, "clock": _clock(row["start_s"])} for row in found["rallies"]] if found else []
    return page(
        request,
        "match/season_search.html",
        status=422 if trouble else 200,
        found=found,
        rows=rows,
        trouble=trouble,
        form=_form(library, said),
        shown=SHOWN,
    )


@router.get("/matches/{match_id}/agree")
def agree(request: Request, opened: CurrentMatch, second: str = "", kept: str = "") -> Response:
    """Two observers of one match, variable by variable."""
    return _agree(request, opened, second, said="The other log was added." if kept else "")


@router.post("/matches/{match_id}/agree")
async def bring(request: Request, opened: CurrentMatch) -> Response:
    """Keep another person's exported record of this match beside this one."""
    library, match_id = opened.library, opened.id
    async with request.form(max_files=1, max_fields=4) as form:
        sent, name = file_in(form, "file"), read_sent(ObserverForm, form).value.observer
        try:
            if sent is None:
                raise InputError("Choose the file the other person exported (.json).")
            path = uploads.target_for(library.folder, sent.filename or "")
            path.parent.mkdir(parents=True, exist_ok=True)
            try:
                path.write_bytes(await sent.read())
                await run_in_threadpool(add_layer, library, match_id, path, name)
            finally:
                path.unlink(missing_ok=True)
        except GoodlengthError as error:
            return await run_in_threadpool(_agree, request, opened, "", fault=error.page_words, name=name)
    address = f"/matches/{quote(match_id, safe='')}/agree?second={quote(name)}&kept=1"
    return RedirectResponse(address, status_code=303)


def _agree(
    request: Request, opened: OpenMatch, second: str, *, fault: str = "", said: str = "", name: str = ""
) -> Response:
    own = opened.info.observer
    others = [layer.observer for layer in layers_of(opened) if layer.observer != own]
    found, trouble = None, ""
    try:
        if others:
            chosen = second if second in others else others[0]
            found = agree_form(compare_observers(opened, own, chosen))
    except GoodlengthError as error:
        trouble = error.page_words
    return match_page(
        request,
        sheet_data(opened),
        "match/observer_agreement.html",
        "findings",
        status=422 if fault else 200,
        found=found,
        others=others,
        own=own,
        fault=fault,
        trouble=trouble,
        said=said,
        name=name,
        second=second,
        clock=clock_words,
        variable_words=VARIABLE_WORDS,
    )


def _form(library: Library, said: Mapping[str, str]) -> dict[str, Any]:
    """Return the lists of the search form, and what is chosen."""
    people = [(player.id, player.name) for player in tasks.players(library)]

    def words(values: Any) -> list[tuple[str, str]]:
        return [("", "Any"), *((str(v), value_words(str(v))) for v in values)]

    return {
        "said": said,
        "lists": [
            ("player", "Player", [("", "Any player"), *people]),
            (
                "role",
                "Role",
                [("", "Either"), ("serving", "serving"), ("receiving", "receiving")],
            ),
            ("outcome", "Result", [("", "Either"), ("won", "won"), ("lost", "lost")]),
            ("opponent", "Against", [("", "Any opponent"), *people]),
            ("kind", "Serve", [("", "Any"), *((kind.id, kind.words) for kind in library.kinds())]),
            ("box", "Box", words(("right", "left"))),
            ("how", "Return type", words(one.value for one in ReturnKind)),
            ("left", "Return quality", words(LEFTS)),
            ("ending", "How it ended", words(one.value for one in Ending)),
            ("stroke", "Last shot", words(one.value for one in ShotType)),
            ("phase", "Part of the game", words(PHASES)),
        ],
    }
