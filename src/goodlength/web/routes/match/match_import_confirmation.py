"""Routes that confirm a match import after its preview."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.upload_target import target_for
from goodlength.web.html_forms.form_model import Submitted, file_in, posted
from goodlength.web.html_forms.match_forms import ImportForm
from goodlength.web.http.dependencies import CurrentLibrary
from goodlength.web.http.request_guard import IMPORT_LIMIT_BYTES
from goodlength.web.http.uploads import receive
from goodlength.web.page_rendering import page
from goodlength.web.views.text_formatting import count_words

if TYPE_CHECKING:
    from goodlength.record.store import Library

router = APIRouter(include_in_schema=False)
PostedImport = Annotated[Submitted[ImportForm], Depends(posted(ImportForm))]
MARK = "import"


@router.post("/matches/import")
async def preview(request: Request, library: CurrentLibrary) -> Response:
    """Take the file, say what it would bring, keep nothing of it in the record yet."""
    from starlette.concurrency import run_in_threadpool

    async with request.form(max_files=1, max_fields=5) as form:
        file = file_in(form, "file")
        if file is None:
            raise InputError(
                "Choose a file first: a goodlength .json, or a .csv table with a line for each rally."
            )

        async def chunks() -> Any:
            while chunk := await file.read(1024 * 1024):
                yield chunk

        path = target_for(library.folder, file.filename or "", f"{MARK}-")
        await receive(chunks(), path, min(file.size or 0, IMPORT_LIMIT_BYTES))
    return await run_in_threadpool(_preview_page, request, library, path)


@router.post("/matches/import/keep")
def confirm_import(request: Request, library: CurrentLibrary, form: PostedImport) -> Response:
    """Bring it in."""
    choices = form.value
    path = _uploaded_file(library, choices.token)
    if choices.leave:
        path.unlink(missing_ok=True)
        return RedirectResponse("/matches", status_code=303)
    imported = tasks.import_match(library, path, keep_going=choices.keep_going, players=choices.players)
    path.unlink(missing_ok=True)
    request.app.state.season.start()
    return RedirectResponse(f"/matches/{quote(imported.match, safe='')}/record", status_code=303)


def _uploaded_file(library: Library, token: str) -> Path:
    """Return the file that was looked at; its name is held to what `preview` gave."""
    path = library_layout.import_file(library.folder, token)
    if not re.fullmatch(rf"[0-9a-f]{{8}}-{MARK}-[\w .()+-]+", token) or not path.is_file():
        raise NotFound("The file is gone. Choose it again on the Matches page.")
    return path


def _preview_page(request: Request, library: Library, path: Path) -> Response:
    try:
        imported = tasks.preview_import(library, path)
    except Exception:
        path.unlink(missing_ok=True)
        raise
    return page(
        request,
        "exchange/import_preview.html",
        token=path.name,
        name=path.name.split(f"{MARK}-", 1)[-1],
        imported=imported,
        rallies=count_words(imported.rallies, "rally", "rallies"),
        answers=count_words(imported.new_entries, "answer"),
        players=tasks.players(library),
    )
