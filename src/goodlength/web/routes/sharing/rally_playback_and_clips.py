"""Routes of the Show page: play rallies one after the other, and export a clip with consent."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import ConsentMissing, GoodlengthError, InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.library_layout import clip_names_file
from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import seconds
from goodlength.record.model import Clip, Left, Rally
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.rally_sentences import served_words
from goodlength.scoring import Side
from goodlength.show.draw.font_metrics import font_file
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.sharing.clip_names import MOST_LETTERS, clip_name, rename_clip
from goodlength.tasks.sharing.coach_drawing_selection_by_clip_span import has_drawings
from goodlength.tasks.sharing.exports_withheld_without_consent import faces_refusal
from goodlength.tasks.sharing.video_session_playlist import review_list
from goodlength.web.http.phone_qr_code_invitation import address_invitation
from goodlength.web.http.remote_file_access_policy import may_be_sent
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentMatch
from goodlength.web.routes.sharing.handout import folder_of
from goodlength.web.submitted_forms.clip_handout_and_passcode_forms import ClipsForm, NameForm
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.undo_message import redirect
from goodlength.web.views.keyboard_shortcuts import CLIP_KEYS
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
PostedClips = Annotated[Submitted[ClipsForm], Depends(posted(ClipsForm))]
PostedName = Annotated[Submitted[NameForm], Depends(posted(NameForm))]
SHOWN = 3  # things made that play on the page; those before are listed
SLOW = 4  # times slower in slow motion
BUSY = ("queued", "running")
_LEFT_WORDS = {Left.TIGHT: "tight", Left.LOOSE: "loose", Left.ATTACKED: "attacked", Left.NOT_MADE: "missed"}


@router.get("/matches/{match_id}/show")
def show(
    request: Request,
    opened: CurrentMatch,
    jobs: CurrentJobs,
    rallies: str = "",
    made: str = "",
) -> Response:
    """Return all rallies with a time, or those behind a finding."""
    message = _started_words(opened, jobs) if made else ""
    return _page(request, opened, jobs, frozenset(filter(None, rallies.split(","))), message=message)


@router.post("/matches/{match_id}/clips")
def make(request: Request, opened: CurrentMatch, jobs: CurrentJobs, form: PostedClips) -> Response:
    """Begin what was asked for: a clip, a reel, two beside each other, stills, or the page with clips."""
    asked = form.value
    try:
        _start(opened, jobs, asked)
    except GoodlengthError as error:
        return _page(request, opened, jobs, frozenset(asked.shown), message=error.page_words, status=422)
    back = f"/matches/{quote(opened.id, safe='')}/show?made=1"
    if asked.chosen:
        back += f"&rallies={quote(','.join(asked.shown))}"
    return RedirectResponse(f"{back}#made", status_code=303)


def _started_words(opened: OpenMatch, jobs: Jobs) -> str:
    """Say that something was begun only while it is not yet made."""
    made = tasks.exports_of(opened, jobs)
    return (
        "Started. It will appear under Your clips."
        if any(file_item.state in BUSY for file_item in made)
        else ""
    )


def _start(opened: OpenMatch, jobs: Jobs, asked: ClipsForm) -> None:
    what, keys, covered = asked.make, asked.rallies, asked.covered
    drawings = asked.drawings
    if what == "clip" or asked.clip_of:
        tasks.start_clip(opened, keys[0] if keys else "", jobs, covered=covered, drawings=drawings)
    elif what in ("reel", "every"):
        slower = SLOW if asked.slow else 1
        every = what == "every"
        tasks.start_reel(opened, keys, jobs, every=every, covered=covered, slower=slower, drawings=drawings)
    elif what == "pair":
        slower = SLOW if asked.slower else 1
        tasks.start_pair(
            opened, keys, jobs, mirrored=asked.mirrored, slower=slower, covered=covered, drawings=drawings
        )
    elif what == "stills":
        tasks.start_stills(opened, keys, jobs, str(font_file()), covered=covered)
    elif what == "pack":
        if not asked.rally and review_list(opened).items:
            keys = []  # those chosen for the player
        page = folder_of(opened.library) / f"{library_layout.handout_stem(opened.id)}.html"
        tasks.start_pack(opened, keys, page, "For the player", jobs, covered=covered, drawings=drawings)
    else:
        raise InputError("This page cannot make that. Reload it.")


@router.get("/matches/{match_id}/made/{job_id}")
def exported_file(request: Request, opened: CurrentMatch, jobs: CurrentJobs, job_id: str) -> Response:
    """Return what a job made, to be played or saved."""
    path = may_be_sent(request, opened.library, tasks.export_file(opened, jobs, job_id))
    kind = {".mp4": "video/mp4", ".png": "image/png", ".zip": "application/zip"}[path.suffix]
    name = clip_name(opened, jobs.state(job_id).kind, str(path)) + path.suffix
    return FileResponse(path, media_type=kind, filename=name, content_disposition_type="inline")


@router.get("/matches/{match_id}/clips/{clip_id}")
def saved_clip(request: Request, opened: CurrentMatch, jobs: CurrentJobs, clip_id: str) -> Response:
    """Return a clip that was made, to be saved."""
    found = next((clip for clip in opened.library.clips(opened.id) if clip.id == clip_id), None)
    if found is None or not Path(found.path).is_file():
        raise NotFound("That clip no longer exists. Make it again on the page Clips.")
    made = tasks.exports_of(opened, jobs)
    refusals = {file_item.path: file_item.refusal for file_item in made}
    if hold := refusals.get(found.path, faces_refusal(opened)):
        raise ConsentMissing(hold)
    path = may_be_sent(request, opened.library, Path(found.path))
    return FileResponse(path, media_type="video/mp4", filename=clip_name(opened, "clip", str(path)) + ".mp4")


@router.post("/matches/{match_id}/made/{job_id}/name")
def rename(
    request: Request, opened: CurrentMatch, jobs: CurrentJobs, job_id: str, form: PostedName
) -> Response:
    """Name something made as the coach wishes; with nothing typed, by its content again."""
    names = clip_names_file(opened.library.folder, opened.id)
    title, people = f"Name of a clip of {title_of(*opened.players)}", opened.info.players
    try:
        with tasks.undoable(
            opened.library, title, tasks.Watched(files=(names,)), about=people, of_match=opened.id
        ) as change:
            rename_clip(opened, str(tasks.export_file(opened, jobs, job_id)), form.value.name)
    except GoodlengthError as error:
        return _page(request, opened, jobs, frozenset(), message=error.page_words, status=422)
    return redirect(f"/matches/{quote(opened.id, safe='')}/show#made", change.item)


@router.post("/matches/{match_id}/made/{name}/remove")
def remove(request: Request, opened: CurrentMatch, jobs: CurrentJobs, name: str) -> Response:
    """Remove something made, or a clip, into the bin."""
    try:
        item = tasks.remove_clip(opened.library, jobs, opened.id, name)
    except GoodlengthError as error:
        return _page(request, opened, jobs, frozenset(), message=error.page_words, status=422)
    return redirect(f"/matches/{quote(opened.id, safe='')}/show#made", item)


def _chosen_words(timed: int, count: int) -> str:
    """Return how many rallies behind a finding can be shown.

    Examples
    --------
    >>> _chosen_words(3, 5), _chosen_words(0, 2)
    ('3 rallies behind a finding; 2 more have no time', 'The 2 rallies behind this finding have no time yet')
    """
    have = "has" if count - timed == 1 else "have"
    if not timed:
        return f"The {count_words(count, 'rally', 'rallies')} behind this finding {have} no time yet"
    rest = f"; {count - timed} more {have} no time" if count > timed else ""
    return f"{count_words(timed, 'rally', 'rallies')} behind a finding{rest}"


def _page(
    request: Request,
    opened: OpenMatch,
    jobs: Jobs,
    keys: frozenset[str],
    *,
    status: int = 200,
    message: str = "",
) -> Response:
    data = sheet_data(opened)
    made = tasks.exports_of(opened, jobs)
    paths = {file_item.path for file_item in made}
    timed = [rally for rally in data.match.rallies if rally.start_us is not None and rally.end_us is not None]
    shown = [rally for rally in timed if not keys or rally.key in keys]
    films = [
        clip
        for clip in opened.library.clips(opened.id)
        if clip.path.endswith(".mp4") and clip.path not in paths
    ]
    chosen = ""
    if keys:
        chosen = _chosen_words(len(shown), len(keys))
    return match_page(
        request,
        data,
        "sharing/rally_playlist.html",
        "show",
        status=status,
        message=message,
        chosen=bool(keys),
        chosen_words=chosen or "All rallies with a time",
        can_play=bool(data.films.parts),
        no_film=data.films.waits or "There is no video to play.",
        refusal=refusal_of(opened),
        rallies=[_row(rally, opened) for rally in shown],
        keys=CLIP_KEYS,
        longest_name=MOST_LETTERS,
        first_player=opened.names[0],
        made=[
            _export_view(request, opened, candidate)
            for n, candidate in enumerate(made)
            if n < SHOWN or candidate.state in BUSY
        ],
        earlier=[
            _export_view(request, opened, candidate)
            for n, candidate in enumerate(made)
            if n >= SHOWN and candidate.state not in BUSY
        ],
        shown=",".join(rally.key for rally in shown),
        page_made=data.handout_made,
        drawings=has_drawings(opened),
        clips=[_clip(film, data.match.rallies) for film in films],
        count=count_words,
    )


def _export_view(request: Request, opened: OpenMatch, file_item: tasks.ExportedFile) -> dict[str, Any]:
    names = {
        "clip": "Clip",
        "reel": "Highlights",
        "pair": "Side by side",
        "stills": "Stills",
        "pack": "Handout with clips",
    }
    busy = file_item.state in BUSY
    return {
        "id": file_item.id,
        "kind": file_item.kind,
        "name": names[file_item.kind],
        "title": clip_name(opened, file_item.kind, file_item.path),
        "phone": address_invitation(
            request, f"/matches/{quote(opened.id, safe='')}/made/{quote(file_item.id, safe='')}"
        ),
        "busy": busy,
        "words": file_item.words,
        "removable": file_item.state == "done",
        "there": file_item.state == "done" and not file_item.refusal,
        "withheld": file_item.refusal,
    }


def refusal_of(opened: OpenMatch) -> str:
    """Return why no clip may be made, in words; empty where everybody agreed."""
    try:
        tasks.require_consent(opened.players, "clips", "A clip that shows faces")
    except ConsentMissing as error:
        return error.page_words
    return ""


def _row(rally: Rally, opened: OpenMatch) -> dict[str, Any]:
    words = served_words(rally, opened.names, opened.kind_words)
    start, end = rally.start_us or 0, rally.end_us or 0
    names = dict(zip((Side.A, Side.B), opened.names, strict=True))
    return {
        "server": names[rally.server] if rally.server else "",
        "winner": "let" if rally.let else names[rally.winner] if rally.winner else "",
        "kind": opened.kind_words.get(rally.serve.kind or "", ""),
        "left": _LEFT_WORDS[rally.ret.left] if rally.ret.left else "",
        "key": rally.key,
        "game": rally.game,
        "score": f"{rally.before[0]}–{rally.before[1]}",
        "start_us": start,
        "end_us": end,
        "length": f"{seconds(end - start):.1f}\u00a0s",
        "words": words or "–",
        "keep": rally.keep,
    }


def _clip(clip: Clip, rallies: tuple[Rally, ...]) -> dict[str, str]:
    of = next((rally for rally in rallies if rally.key == clip.rally), None)
    words = "" if of is None else f"Game {of.game}, {of.before[0]}–{of.before[1]}"
    return {"id": clip.id, "name": Path(clip.path).name, "words": words}
