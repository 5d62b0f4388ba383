"""Comparison of two observers of one match, and upload of the second observer's record."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from goodlength.errors import GoodlengthError, InputError
from goodlength.files import upload_target
from goodlength.forms.findings.observer_agreement_json import agree_form
from goodlength.media_time import clock_words
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.match.observer_comparison import add_layer, compare_observers, layers_of
from goodlength.web.html_forms.form_model import file_in, read_sent
from goodlength.web.html_forms.match_forms import ObserverForm
from goodlength.web.http.dependencies import CurrentMatch
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

VARIABLE_WORDS = {
    "server": "who served",
    "box": "box",
    "kind": "kind of serve",
    "how_taken": "how the return was taken",
    "left": "return quality",
    "winner": "who won",
    "ending": "how the rally ended",
}
router = APIRouter(include_in_schema=False)


@router.get("/matches/{match_id}/agree")
def agree(
    request: Request, opened: CurrentMatch, second: str = "", added: Annotated[str, Query(alias="kept")] = ""
) -> Response:
    """Return two observers of one match, variable by variable."""
    return _agree(request, opened, second, message="The other log was added." if added else "")


@router.post("/matches/{match_id}/agree")
async def bring(request: Request, opened: CurrentMatch) -> Response:
    """Keep another person's exported record of this match beside this one."""
    library, match_id = opened.library, opened.id
    async with request.form(max_files=1, max_fields=4) as form:
        sent, name = file_in(form, "file"), read_sent(ObserverForm, form).value.observer
        try:
            if sent is None:
                raise InputError("Choose the file the other person exported (.json).")
            path = upload_target.target_for(library.folder, sent.filename or "")
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
    request: Request, opened: OpenMatch, second: str, *, fault: str = "", message: str = "", name: str = ""
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
        message=message,
        name=name,
        second=second,
        clock=clock_words,
        variable_words=VARIABLE_WORDS,
    )
