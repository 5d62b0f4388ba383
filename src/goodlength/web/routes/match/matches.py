"""Routes of matches: list, new, details, import and export, remove."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.media_time import local_zone
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.store import Library
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.playback import drawings_left_out
from goodlength.tasks.preparation.new_match_from_video import UNNAMED
from goodlength.web.coach_settings import read_settings
from goodlength.web.http.route_dependencies import CurrentLibrary, CurrentMatch, CurrentPreparation
from goodlength.web.list_pagination import LONGEST_WORDS, list_page, sorted_heads
from goodlength.web.page_rendering import page
from goodlength.web.routes.library.demo_and_tour import demo_job_of
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.match_import_and_search_forms import NEW_MATCH, MatchForm, match_texts
from goodlength.web.submitted_forms.player_consent_and_settings_forms import SureForm
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_description_and_result_phrases import count_words, day_words, free_space_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.temporary_match_file_download import EXPORTS, exported

router = APIRouter(include_in_schema=False)
PostedMatch = Annotated[Submitted[MatchForm], Depends(posted(MatchForm))]
PostedRemoval = Annotated[Submitted[SureForm], Depends(posted(SureForm))]
_DONE = {
    "demo-added": "The demo was added.",
    "tour-over": "The tour is over. Help starts it again.",
    "demo-removed": "The demo was removed.",
    "imported": "The match was imported.",
    "changed": "Details saved. The score was recalculated.",
}


@router.get("/matches")
def matches(
    request: Request,
    library: CurrentLibrary,
    done: str = "",
    find: str = "",
    sort: str = "",
    number: Annotated[str, Query(alias="page")] = "",
) -> Response:
    """Return a page of the matches, and the forms that bring a new one."""
    asked, message = (find[:LONGEST_WORDS].strip(), number, sort), _DONE.get(done, "")
    return _matches(request, library, NEW_MATCH, {}, asked=asked, message=message)


@router.post("/matches")
def new(request: Request, library: CurrentLibrary, form: PostedMatch) -> Response:
    """Begin a match; players who are not known yet are added."""
    typed, details_form = {**NEW_MATCH, **form.texts}, form.model
    if details_form is None:
        return _matches(request, library, typed, form.faults, status=422)
    try:
        observer, more = read_settings(library).observer, details_form.details()
        with tasks.players_named(library, (details_form.a, details_form.b)) as pair:
            info = tasks.new_match(library, pair, observer=observer, zone=local_zone(), **more)
    except GoodlengthError as error:
        return _matches(request, library, typed, {}, status=422, form_faults=[error.page_words])
    return RedirectResponse(f"/matches/{quote(info.id, safe='')}/footage", status_code=303)


@router.get("/matches/{match_id}")
def match(match_id: str) -> Response:
    """Return a match opens on its record."""
    return RedirectResponse(f"/matches/{quote(match_id, safe='')}/record", status_code=303)


@router.get("/matches/{match_id}/details")
def details(request: Request, opened: CurrentMatch, done: str = "") -> Response:
    """Return the details of a match, its exports, and its end."""
    return _details(request, opened, message=_DONE.get(done, ""))


@router.post("/matches/{match_id}/details")
def change(request: Request, opened: CurrentMatch, form: PostedMatch) -> Response:
    """Change details; what was recorded is replayed under them."""
    library, details_form = opened.library, form.model
    if details_form is None:
        return _details(request, opened, form=form.texts, faults=form.faults, status=422)
    try:
        names = (details_form.a, details_form.b)
        watched = tasks.Watched(match=opened.id, players=opened.info.players)
        with tasks.undoable(library, f"Details of {title_of(*opened.players)}", watched) as change:
            tasks.change_match_by_names(library, opened.id, names, **details_form.details())
    except GoodlengthError as error:
        return _details(request, opened, form=form.texts, form_faults=[error.page_words], status=422)
    return redirect(f"/matches/{quote(opened.id, safe='')}/details?done=changed", change.item)


@router.post("/matches/{match_id}/remove")
def remove(
    library: CurrentLibrary, preparation: CurrentPreparation, match_id: str, form: PostedRemoval
) -> Response:
    """Take a match out; what works on it is stopped first. One of the demo is asked for: no Undo."""
    if library.match_info(match_id).demo and not form.value.sure:
        raise InputError("Nothing was removed: tick the box that says you are sure.")
    preparation.leave(match_id)
    item = tasks.remove_match(library, match_id)
    return redirect("/matches" if item else "/matches?done=demo-removed", item)


@router.get("/matches/{match_id}/export/{kind}")
def export(library: CurrentLibrary, match_id: str, kind: str) -> Response:
    """Return a match as a file."""
    data = exported(library, match_id, kind)
    headers = {"content-disposition": f'attachment; filename="match.{kind}"'}
    return Response(data, media_type=EXPORTS[kind], headers=headers)


def _matches(
    request: Request,
    library: Library,
    typed: Mapping[str, str],
    faults: Mapping[str, str],
    *,
    asked: tuple[str, str, str] = ("", "", ""),
    status: int = 200,
    **shown: Any,
) -> Response:
    everything = library.match_heads()
    words, number, sort = asked
    people = tasks.players(library)
    fitting, order = sorted_heads(tasks.find_matches(library, words) if words else everything, sort, people)
    matches_page = list_page(fitting, "/matches", number, words, order)
    rows = [
        {
            "id": quote(row.id, safe=""),
            "title": row.title,
            "event": row.event,
            "played_on": row.played_on,
            "rallies": row.rallies,
            "demo": row.demo,
            "opens": "record",
        }
        for row in tasks.match_rows_of(library, matches_page.rows)
    ]
    gone = [
        f"{expiring_consent.name}: {day_words(expiring_consent.until)}"
        for expiring_consent in tasks.expiring_consents(library, within_days=0)
    ]
    context: dict[str, Any] = {"message": "", "form_faults": None, **shown}
    return page(
        request,
        "match/match_list.html",
        status=status,
        rows=rows,
        list=matches_page,
        in_library=len(everything),
        fitting=f"{count_words(len(fitting), 'match fits', 'matches fit')}." if fitting else "No match fits.",
        has_demo=any(head.demo for head in everything),
        demo_job=demo_job_of(request.app.state.jobs) or "",
        expired=gone,
        problems=library.problems,
        players=[player for player in people if player.name not in UNNAMED],
        drop_match="",
        named={"a": "", "b": "", "coached": "a"},
        free=free_space_words(library.folder),
        form=typed,
        faults=faults,
        form_open=bool(faults or context["form_faults"]),
        form_action="/matches",
        form_button="Create the match",
        **context,
    )


def _details(request: Request, opened: OpenMatch, *, status: int = 200, **shown: Any) -> Response:
    data = sheet_data(opened)
    context: dict[str, Any] = {
        "message": "",
        "faults": {},
        "form_faults": None,
        **shown,
        "form": {**match_texts(opened.info, opened.players), **shown.get("form", {})},
    }
    return match_page(
        request,
        data,
        "match/match_details.html",
        "",
        status=status,
        players=tasks.players(opened.library),
        demo=data.match.info.demo,
        left_out=drawings_left_out(opened.library, opened.id),
        rallies=count_words(len(data.match.rallies), "rally", "rallies"),
        form_open=True,
        form_action=f"/matches/{quote(opened.id, safe='')}/details",
        form_button="Save",
        **context,
    )
