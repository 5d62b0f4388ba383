"""Routes of a video session with the player: choose clips and cues, show them, note the session."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.files.library_layout import review_list_file
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.rally_sentences import served_words
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.sharing import video_session_playlist
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.submitted_forms.clip_handout_and_passcode_forms import NoteForm, TalkForm, talk_rows
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.undo_message import redirect
from goodlength.web.views.keyboard_shortcuts import PRESENTATION_KEYS, with_player
from goodlength.web.views.match_description_and_result_phrases import day_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
PostedTalk = Annotated[Submitted[TalkForm], Depends(posted(TalkForm))]
PostedNote = Annotated[Submitted[NoteForm], Depends(posted(NoteForm))]
ROWS = video_session_playlist.MOST_CLIPS
AGAIN_AFTER = timedelta(weeks=4)  # proposed, to be changed; common practice, no source
USUAL = ("good", "fix", "good", "fix", "good")


@router.get("/matches/{match_id}/talk")
def review_page(
    request: Request, opened: CurrentMatch, done: Annotated[str, Query(alias="said")] = ""
) -> Response:
    """Return the list: as kept, else the rallies named, else those kept with K."""
    words = {"kept": "Saved.", "shown": "Marked as shown."}.get(done, "")
    return _page(request, opened, message=words)


@router.post("/matches/{match_id}/talk")
def save_list(request: Request, opened: CurrentMatch, form: PostedTalk) -> Response:
    """Keep the list; with "show" go on to showing it."""
    try:
        with tasks.undoable(
            opened.library,
            f"Clips to show of {title_of(*opened.players)}",
            tasks.Watched(files=(review_list_file(opened.library.folder, opened.id),)),
            about=opened.info.players,
            of_match=opened.id,
        ) as change:
            video_session_playlist.save_review_list(opened, form.value.rows, form.value.look_again)
    except GoodlengthError as error:
        return _page(request, opened, message=error.page_words, status=422, typed=form)
    base = f"/matches/{quote(opened.id, safe='')}/talk"
    return redirect(f"{base}/show", "") if form.value.show else redirect(f"{base}?said=kept", change.item)


@router.get("/matches/{match_id}/talk/show")
def show(request: Request, opened: CurrentMatch) -> Response:
    """Return the clips one after the other: the question first, the cue when asked for."""
    data = sheet_data(opened)
    rallies = {rally.key: rally for rally in data.match.rallies}
    items = [
        {
            "start_us": rallies[item.rally].start_us,
            "end_us": rallies[item.rally].end_us,
            "role": item.role,
            "cue": item.cue,
        }
        for item in video_session_playlist.review_list(opened).items
        if rallies[item.rally].start_us is not None and rallies[item.rally].end_us is not None
    ]
    can = bool(items and data.films.parts)
    return match_page(
        request,
        data,
        "sharing/video_review_presentation.html",
        "show",
        begin=json.dumps({"match": opened.id, "items": items}) if can else "",
        why=data.films.waits or "No clip with a time is chosen yet, or there is no video to play.",
        keys=with_player(PRESENTATION_KEYS, without=("short",)),
    )


@router.post("/matches/{match_id}/talk/shown")
def note_session(request: Request, opened: CurrentMatch, form: PostedNote) -> Response:
    """Write down that it was shown, and what the player said."""
    try:
        video_session_playlist.note_review(opened, form.value.note)
    except GoodlengthError as error:
        return _page(request, opened, message=error.page_words, status=422)
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/talk?said=shown", status_code=303)


def _page(
    request: Request,
    opened: OpenMatch,
    *,
    status: int = 200,
    message: str = "",
    typed: Submitted[TalkForm] | None = None,
) -> Response:
    data = sheet_data(opened)
    playlist = video_session_playlist.review_list(opened)
    timed = [rally for rally in data.match.rallies if rally.start_us is not None and rally.end_us is not None]
    rows = talk_rows(typed.texts) if typed is not None else [vars(item) for item in playlist.items]
    if not rows:
        asked = [
            key for key in request.query_params.getlist("rally") if key in {rally.key for rally in timed}
        ]
        chosen = asked or [rally.key for rally in timed if rally.keep]
        rows = [{"rally": key, "role": role, "cue": ""} for key, role in zip(chosen, USUAL, strict=False)]
    again = typed.shown("look_again") if typed is not None else ""
    if not again:
        usual = (date.today() + AGAIN_AFTER) if not playlist.items else None
        day = playlist.follow_up or usual
        again = day.isoformat() if day else ""
    empty = [{"rally": "", "role": USUAL[n % len(USUAL)], "cue": ""} for n in range(len(rows), ROWS)]
    words = {
        rally.key: f"Game {rally.game}, {rally.before[0]}–{rally.before[1]}" for rally in data.match.rallies
    }
    return match_page(
        request,
        data,
        "sharing/video_review_setup.html",
        "show",
        status=status,
        message=message,
        rows=[*rows, *empty],
        choices=[
            (
                rally.key,
                f"{words[rally.key]}: {served_words(rally, opened.names, opened.kind_words) or '–'}",
                rally.start_us,
            )
            for rally in timed
        ],
        can_play=bool(data.films.parts),
        look_again=again,
        advice=playlist.advice if typed is None else (),
        can_show=bool(playlist.items),
        talks=[
            {
                "on": day_words(talk.on),
                "clips": "; ".join(words.get(key, "–") for key in talk.rallies),
                "note": talk.note,
            }
            for talk in reversed(playlist.talks)
        ],
        most=video_session_playlist.MOST_CLIPS,
        longest=video_session_playlist.MOST_CUE,
    )
