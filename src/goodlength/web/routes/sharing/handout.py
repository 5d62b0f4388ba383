"""Routes of the handout: choose and edit its content, make it, download it."""

from __future__ import annotations

import glob
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import FileResponse, HTMLResponse, Response

from goodlength import tasks
from goodlength.errors import ConsentMissing, DamagedFile, GoodlengthError, NoSpace, NotFound, PageFull
from goodlength.files import library_layout
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origins_of
from goodlength.record.model import Clip
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.store.library_store import now_utc
from goodlength.show.handout.handout_types import MOST_FINDINGS
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.people.player_handout_language import SETTING as LANGUAGES_SETTING
from goodlength.tasks.removal.handout_link_withdrawal import LINKS_SETTING
from goodlength.tasks.sharing.exports_withheld_without_consent import handout_refusal_now
from goodlength.tasks.sharing.handout_preview import preview_handout, preview_page
from goodlength.tasks.sharing.handout_text_typed_by_coach import (
    HandoutText,
    read_handout_text,
    save_handout_text,
)
from goodlength.tasks.sharing.video_session_playlist import review_list
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.phone_qr_code_invitation import is_computer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.http.standalone_page_content_policy import handout_policy
from goodlength.web.routes.match.findings import grade_mark
from goodlength.web.routes.sharing.handout_findings_offered_list import handout_choices, outdated_words
from goodlength.web.submitted_forms.clip_handout_and_passcode_forms import HandoutForm, LinkForm
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

if TYPE_CHECKING:
    from goodlength.record.store import Library

router = APIRouter(include_in_schema=False)
preview_router = APIRouter()
PostedHandout = Annotated[Submitted[HandoutForm], Depends(posted(HandoutForm))]
PostedLink = Annotated[Submitted[LinkForm], Depends(posted(LinkForm))]
USUALLY_SHOWN = 5  # findings open on the page; the others are folded away
_MADE = {
    "unlinked": "All links to this handout are turned off.",
    "without-stills": "The handout was created without the stills, because the text fills the page. Shorten "
    "the text, then tick them again.",
    "without-chart": "The handout was created without the chart, because the text fills the page. Shorten "
    "the text, then tick it again.",
    "without-both": "The handout was created without the stills and the chart, because the text fills the "
    "page. Shorten the text, then tick them again.",
}
KINDS = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}


@router.get("/matches/{match_id}/handout")
def handout(request: Request, opened: CurrentMatch, made: str = "") -> Response:
    """Return what the page will say, to be chosen and edited."""
    return _stored_page(request, opened, _MADE.get(made, "The handout was created.") if made else "")


@router.post("/matches/{match_id}/handout")
def make(request: Request, opened: CurrentMatch, form: PostedHandout) -> Response:
    """Make the PDF and the HTML file; what was typed is kept either way."""
    if form.value.language != form.value.was_language:
        return speak(request, opened, form)  # the sentences sent are in the language before
    typed = form.value.text()
    try:
        with _words_undoable(opened) as change:
            save_handout_text(opened, typed)
        if len(typed.chosen) > MOST_FINDINGS:
            raise PageFull(
                f"{len(typed.chosen)} findings are chosen; at most {MOST_FINDINGS} are read and remembered."
            )
        made = tasks.make_handout(opened, folder_of(opened.library), _edits(typed))
    except GoodlengthError as error:
        status = 507 if isinstance(error, NoSpace) else 422
        return _page(request, opened, typed, form_faults=[error.page_words], status=status)
    for path in (made.pdf, made.html):
        _register(opened, path)
    base = f"/matches/{quote(opened.id, safe='')}/handout"
    return redirect(f"{base}?made={_left_out(opened, typed, made)}", change.item)


def _left_out(opened: OpenMatch, typed: HandoutText, made: tasks.HandoutFiles) -> str:
    """Untick what had no room, so that the page does not offer it ticked again, and say what it was."""
    stills, chart = typed.stills and not made.stills, typed.turning and not made.turning
    if not (stills or chart):
        return "1"
    fitted = {"stills": typed.stills and not stills, "turning": typed.turning and not chart}
    save_handout_text(opened, typed.model_copy(update=fitted))
    return "without-both" if stills and chart else "without-stills" if stills else "without-chart"


@router.post("/matches/{match_id}/handout/language")
def speak(request: Request, opened: CurrentMatch, form: PostedHandout) -> Response:
    """Choose the language of the player's handouts; what was typed is kept."""
    try:
        with _words_undoable(opened) as change:
            tasks.choose_language(opened.library, opened.coached.id, form.value.language)
            save_handout_text(opened, form.value.text())
    except GoodlengthError as error:
        return _page(request, opened, form.value.text(), form_faults=[error.page_words])
    return redirect(f"/matches/{quote(opened.id, safe='')}/handout", change.item)


def _words_undoable(opened: OpenMatch) -> AbstractContextManager[tasks.UndoableChange]:
    """Keep what was typed before, and the language, to be undone; typed for the first time it is not."""
    file = library_layout.handout_folder(opened.library.folder) / (
        f"{library_layout.handout_stem(opened.id)}.json"
    )
    watched = tasks.Watched(settings=(LANGUAGES_SETTING,), files=(file,) if file.is_file() else ())
    title = f"Words of the handout of {title_of(*opened.players)}"
    return tasks.undoable(opened.library, title, watched, about=opened.info.players, of_match=opened.id)


@router.get("/matches/{match_id}/handout/preview")
def preview_frame(request: Request, opened: CurrentMatch) -> Response:
    """Return the handout of what was typed last time, as the page that the preview begins with."""
    try:
        stored = read_handout_text(opened)
    except DamagedFile:
        stored = None
    edits = _edits(stored) if stored else tasks.HandoutEdits(week=True)
    text = preview_page(opened, edits, here=is_computer(request))
    policy = handout_policy(text, frame_ancestors="'self'")
    return HTMLResponse(
        text,
        headers={
            "cache-control": "no-store",
            "content-security-policy": policy,
            "x-frame-options": "SAMEORIGIN",
        },
    )


@preview_router.post("/api/matches/{match_id}/handout/preview")
def preview(request: Request, opened: CurrentMatch, form: PostedHandout) -> Response:
    """Return the handout as it would be made of what is typed now; nothing is saved."""
    edits = _edits(form.value.text())
    return json_answer(asdict(preview_handout(opened, edits, here=is_computer(request))))


@router.post("/matches/{match_id}/handout/link")
def link(request: Request, opened: CurrentMatch, form: PostedLink) -> Response:
    """Return a link to this handout for the player's own phone, or all such links taken back."""
    library, match_id = opened.library, opened.id
    if form.value.back:
        watched = tasks.Watched(settings=(LINKS_SETTING,))
        title = f"Links to the handout of {title_of(*opened.players)}"
        with tasks.undoable(library, title, watched, about=opened.info.players, of_match=match_id) as change:
            tasks.withdraw_links(library, match_id)
        return redirect(f"/matches/{quote(match_id, safe='')}/handout?made=unlinked", change.item)
    try:
        made = tasks.make_link(library, match_id)
    except GoodlengthError as error:
        return _stored_page(request, opened, form_faults=[error.page_words])
    message = f"The player's link, good for seven days on this network: {request.base_url}handed/{made.token}"
    return _stored_page(request, opened, message)


@router.get("/matches/{match_id}/handout/file/{kind}")
def file(opened: CurrentMatch, kind: str) -> Response:
    """Return the page that was made, to be saved."""
    path = folder_of(opened.library) / f"{library_layout.handout_stem(opened.id)}.{kind}"
    if kind not in KINDS or not path.is_file():
        raise NotFound("There is no handout yet. Create it on the Handout page of the match.")
    _let_out(opened, path.with_suffix(".html"))
    return FileResponse(path, media_type=KINDS[kind], filename=f"handout.{kind}")


@router.get("/matches/{match_id}/handout/version/{version_id}")
def version(opened: CurrentMatch, version_id: str) -> Response:
    """Return a page that was made before, as PDF."""
    path = folder_of(opened.library) / f"{library_layout.handout_stem(opened.id)}.v{version_id}.pdf"
    if not (version_id.isascii() and version_id.isdigit()) or not path.is_file():
        raise NotFound("That version is no longer stored.")
    _let_out(opened, path.with_suffix(".html"))
    return FileResponse(path, media_type=KINDS["pdf"], filename="handout.pdf")


def _let_out(opened: OpenMatch, html: Path) -> None:
    """Refuse what was made before consent was withdrawn."""
    if hold := handout_refusal_now(opened, html):
        raise ConsentMissing(hold)


def _versions(opened: OpenMatch) -> list[tuple[str, str]]:
    """Earlier versions of the page: stamp, and when it was set aside."""
    found = []
    for path in sorted(
        folder_of(opened.library).glob(f"{glob.escape(library_layout.handout_stem(opened.id))}.v*.pdf"),
        reverse=True,
    ):
        version_id = path.stem.rpartition(".v")[2]
        if version_id.isdigit() and len(version_id) >= 14:
            found.append(
                (
                    version_id,
                    f"{version_id[:4]}-{version_id[4:6]}-{version_id[6:8]} "
                    f"{version_id[8:10]}:{version_id[10:12]}:{version_id[12:14]} UTC",
                )
            )
    return found


def folder_of(library: Library) -> Path:
    """Return where handouts lie."""
    return library_layout.handout_folder(library.folder)


def _edits(typed: HandoutText) -> tasks.HandoutEdits:
    chosen = tuple(
        tasks.EditedFinding(key, typed.over(f"headline:{key}"), typed.over(f"words:{key}"))
        for key in typed.chosen
    )
    return tasks.HandoutEdits(
        chosen, typed.own, typed.stills, typed.week, typed.turning, typed.back, typed.watched
    )


def _register(opened: OpenMatch, path: Path) -> None:
    """Let the library know the file, so that it goes when the match or a player is erased."""
    opened.library.save_clip(Clip(path.name, opened.id, str(path), made_utc=now_utc()))


def _stored_page(
    request: Request, opened: OpenMatch, message: str = "", form_faults: Sequence[str] = ()
) -> Response:
    """Return the page with what was typed last time; with the program's text and a fault if it is damaged."""
    try:
        return _page(request, opened, read_handout_text(opened), message=message, form_faults=form_faults)
    except DamagedFile as error:
        faults = [*form_faults, error.page_words]
        return _page(
            request, opened, None, message=message, form_faults=faults, lead="Your text was not loaded"
        )


def _page(
    request: Request,
    opened: OpenMatch,
    typed: HandoutText | None,
    message: str = "",
    form_faults: Sequence[str] = (),
    lead: str = "The handout was not created",
    status: int = 422,
) -> Response:
    data, opponent = sheet_data(opened), opened.opponent
    if typed and typed.watched:
        opened = replace(opened, only_watched=True)
    named = tasks.has_agreed(opponent, "handout")
    code = tasks.player_language(opened.library, opened.coached.id)
    draft = tasks.draft_handout(opened)
    choices = handout_choices(opened, draft, typed)
    return match_page(
        request,
        data,
        "sharing/handout_form.html",
        "handout",
        status=status if form_faults else 200,
        player=opened.coached.name,
        player_id=opened.coached.id,
        findings=choices,
        usual=max(USUALLY_SHOWN, sum(choice.open for choice in choices)),
        nothing_clear=not tasks.usual_findings(draft.found),
        language=code,
        own=typed.own if typed else "",
        stills=bool(typed and typed.stills),
        week=typed.week if typed else True,
        turning=bool(typed and typed.turning),
        back=bool(typed and typed.back),
        origins=origins_of(opened).words,
        watched=opened.only_watched,
        has_plan=bool(data.plans),
        versions=_versions(opened),
        clips_chosen=bool(review_list(opened).items),
        outdated=outdated_words(draft, typed, code),
        shared=request.app.state.sharing is not None,
        refusal=tasks.handout_refusal(opened.coached),
        files=data.handout_made,
        withheld=handout_refusal_now(
            opened, folder_of(opened.library) / f"{library_layout.handout_stem(opened.id)}.html"
        ),
        made_words="It shows the data as they were when you created it. Create it again after a change.",
        named_words=""
        if named
        else f"{opponent.name} has not agreed to be named on handouts, so the page says “the opponent”.",
        grade_mark=grade_mark,
        message=message,
        form_faults=list(form_faults) or None,
        lead=lead,
    )
