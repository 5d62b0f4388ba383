"""Routes of the library's care, on the Settings page: back-up, restore, another library, and sharing."""

from __future__ import annotations

import threading
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect
from starlette.responses import FileResponse, RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import Conflict, GoodlengthError
from goodlength.files.temporary_export_folders import private_copies, private_folder, remove_private
from goodlength.tasks.library.backup import RestoreReport
from goodlength.web.http import upload_to_disk
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.library_switch_on_running_server import NOT_BY_ITSELF, SHARED, LibraryReopening
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.network_sharing_switch import NetworkSwitch
from goodlength.web.routes.library.settings import settings_page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.player_consent_and_settings_forms import BackUpForm

router = APIRouter()
_RESTORING = threading.Lock()  # two at a time would unpack into the same folder
PostedBackUp = Annotated[Submitted[BackUpForm], Depends(posted(BackUpForm))]


@router.post("/settings/backup", include_in_schema=False)
def back_up(request: Request, library: CurrentLibrary, form: PostedBackUp) -> Response:
    """Return a back-up of the library, as a file that the browser saves."""
    folder = private_folder("goodlength-backup-")
    try:
        made = tasks.back_up(library, folder, films=form.value.videos)
    except GoodlengthError as error:
        remove_private(folder)
        return settings_page(request, library, message=[error.page_words], status=422)
    path = Path(made.path)
    after = BackgroundTask(remove_private, folder)
    return FileResponse(path, media_type="application/zip", filename=path.name, background=after)


@router.post("/api/settings/restore/upload")
async def restore(request: Request, library: CurrentLibrary) -> Response:
    """Take a back-up in, check every part, and unpack it into a new folder beside the library."""
    with private_copies("goodlength-restore-") as scratch:
        archive = scratch / "backup.zip"
        length = request.headers.get("content-length", "")
        size = int(length) if length.isascii() and length.isdigit() else None
        try:
            await upload_to_disk.receive(request.stream(), archive, size)
        except ClientDisconnect:
            return json_answer({"words": "", "folder": ""})
        made = await run_in_threadpool(_restored, archive, library.folder)
    words = (
        f"Restored into {made.folder}: {made.matches} matches, {made.players} players. The library that is "
        "open was not changed."
    )
    return json_answer({"words": words, "folder": str(made.folder)})


class LibraryIn(BaseModel):
    """Which library to open: a folder, and whether a new library is made there."""

    model_config = ConfigDict(extra="forbid")
    folder: Annotated[str, Field(max_length=10_000)]
    make: bool = False


@router.get("/api/settings/library")
def library_in_use(request: Request, library: CurrentLibrary) -> Response:
    """Return which opening of a library this is, and why the one wanted last could not be opened."""
    reopening: LibraryReopening = request.app.state.reopening
    return json_answer({"run": reopening.run, "folder": str(library.folder), "fault": reopening.fault})


@router.post("/api/settings/library")
def open_another(request: Request, library: CurrentLibrary, body: LibraryIn) -> Response:
    """Open another library in place of this one, which stays as and where it is."""
    reopening: LibraryReopening = request.app.state.reopening
    if request.app.state.sharing is not None:
        raise Conflict(SHARED)
    if not reopening.is_possible:
        raise Conflict(NOT_BY_ITSELF)
    folder = tasks.library_to_open(body.folder, library, make=body.make)
    answer = json_answer({"run": reopening.run, "folder": str(folder), "fault": ""})
    answer.background = BackgroundTask(reopening.begin, folder)
    return answer


@router.post("/settings/network/{state}", include_in_schema=False)
async def share(request: Request, library: CurrentLibrary, state: Literal["on", "off"]) -> Response:
    """Share the page on the local network behind a pass code, or stop sharing it."""
    switch: NetworkSwitch = request.app.state.network
    try:
        if state == "off":
            await switch.switch_off()
        else:
            await switch.switch_on(request.scope["server"][1])  # the page's own: a Host header may name any
    except GoodlengthError as error:
        return await run_in_threadpool(
            settings_page, request, library, message=[error.page_words], status=422
        )
    return RedirectResponse("/settings#network", status_code=303)


def _restored(archive: Path, folder: Path) -> RestoreReport:
    with _RESTORING:
        return tasks.restore(archive, _free_folder(folder))


def _free_folder(folder: Path) -> Path:
    """Return a folder beside the library that is not there yet."""
    base = folder.parent / f"{folder.name}-restored-{date.today().isoformat()}"
    names = (base, *(base.with_name(f"{base.name}-{n}") for n in range(2, 1000)))
    return next(name for name in names if not name.exists())
