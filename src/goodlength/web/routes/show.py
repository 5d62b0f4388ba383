"""Show: rallies of a match one after the other, and a clip of one where everybody agreed."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from goodlength import tasks
from goodlength.clock import seconds
from goodlength.errors import ConsentMissing, GoodlengthError, InputError, NotFound
from goodlength.record.model import Clip, Rally
from goodlength.record.sentences import kind_words, sheet_words
from goodlength.web.frame import match_page
from goodlength.web.parse import Posted
from goodlength.web.reading import sheet_data
from goodlength.web.words import count_words

router = APIRouter(include_in_schema=False)


@router.get("/matches/{match_id}/show")
def show(request: Request, match_id: str, rallies: str = "", made: str = "") -> Response:
    """All rallies with a time, or those behind a finding."""
    said = "The clip is made." if made else ""
    return _page(request, match_id, frozenset(filter(None, rallies.split(","))), said=said)


@router.post("/matches/{match_id}/clips")
def clip(request: Request, match_id: str, form: Posted) -> Response:
    """Cut one rally out of the footage."""
    library = request.app.state.library
    key = form.texts.get("rally", "")
    rally = next((one for one in tasks.show_match(library, match_id).rallies if one.key == key), None)
    try:
        if rally is None:
            raise NotFound(f"There is no rally {key!r} in this match.")
        if rally.start_us is None or rally.end_us is None:
            raise InputError(
                "This rally has no start or no end yet: the keys , and . of the Record page set them."
            )
        tasks.cut_rally(library, match_id, rally.start_us, rally.end_us, rally=rally.key)
    except GoodlengthError as error:
        return _page(request, match_id, frozenset(), said=str(error), status=422)
    return RedirectResponse(f"/matches/{quote(match_id, safe='')}/show?made=1", status_code=303)


@router.get("/matches/{match_id}/clips/{clip_id}")
def taken(request: Request, match_id: str, clip_id: str) -> Response:
    """A clip that was made, to be saved."""
    found = next((one for one in request.app.state.library.clips(match_id) if one.id == clip_id), None)
    if found is None or not Path(found.path).is_file():
        raise NotFound("That clip is not there any more. Make it again on the match's Show page.")
    return FileResponse(found.path, media_type="video/mp4", filename=Path(found.path).name)


def _page(
    request: Request, match_id: str, keys: frozenset[str], *, status: int = 200, said: str = ""
) -> Response:
    library = request.app.state.library
    data = sheet_data(library, match_id)
    words = kind_words(data.kinds)
    timed = [rally for rally in data.match.rallies if rally.start_us is not None and rally.end_us is not None]
    shown = [rally for rally in timed if not keys or rally.key in keys]
    films = [one for one in library.clips(match_id) if one.path.endswith(".mp4")]
    chosen = ""
    if keys:
        chosen = f"{count_words(len(shown), 'rally', 'rallies')} behind a finding"
        chosen += f"; {len(keys) - len(shown)} more have no time" if len(keys) > len(shown) else ""
    return match_page(
        request,
        data,
        "show.html",
        "show",
        status=status,
        said=said,
        chosen=bool(keys),
        chosen_words=chosen or "Every rally with a time",
        can_play=bool(data.films.parts),
        no_film=data.films.waits or "There is no footage to play.",
        refusal=_refusal(request, match_id),
        rallies=[_row(rally, sheet_words(rally, words)) for rally in shown],
        clips=[_clip(one, data.match.rallies) for one in films],
        count=count_words,
    )


def _refusal(request: Request, match_id: str) -> str:
    """Why no clip may be made, in words; empty where everybody agreed."""
    library = request.app.state.library
    try:
        tasks.require_consent(library, library.match_info(match_id), "clips", "A clip")
    except ConsentMissing as error:
        return str(error)
    return ""


def _row(rally: Rally, words: str) -> dict[str, Any]:
    start, end = rally.start_us or 0, rally.end_us or 0
    return {
        "key": rally.key,
        "game": rally.game,
        "score": f"{rally.before[0]}–{rally.before[1]}",
        "start_us": start,
        "end_us": end,
        "length": f"{seconds(end - start):.1f} s",
        "words": words or "–",
        "keep": rally.keep,
    }


def _clip(clip: Clip, rallies: tuple[Rally, ...]) -> dict[str, str]:
    of = next((rally for rally in rallies if rally.key == clip.rally), None)
    words = "" if of is None else f"Game {of.game}, {of.before[0]}–{of.before[1]}"
    return {"id": clip.id, "name": Path(clip.path).name, "words": words}
