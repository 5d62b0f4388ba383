"""Routes of the recycle bin: list, restore, delete for good."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.record.store import Library
from goodlength.web.http.phone_qr_code_invitation import is_computer
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.player_consent_and_settings_forms import SureForm, UndoForm
from goodlength.web.undo_message import page_of_ours
from goodlength.web.views.match_description_and_result_phrases import count_words, day_words

router = APIRouter(include_in_schema=False)
PostedRemoval = Annotated[Submitted[SureForm], Depends(posted(SureForm))]
PostedUndo = Annotated[Submitted[UndoForm], Depends(posted(UndoForm))]
_KINDS = {
    "match": "Match",
    "video": "Video",
    "original": "Original video, with all its tracks",
    "clip": "Clip or other file",
    "plan": "Plan",
    "set": "Practice set",
    "session": "Planned session",
    "recording": "Practice video",
    "change": "Change",
}
_DONE = {"back": "Restored.", "deleted": "Deleted.", "emptied": "The bin is empty."}


@router.get("/bin")
def show(request: Request, library: CurrentLibrary, done: str = "") -> Response:
    """Return what lies in the bin."""
    return _page(request, library, message=_DONE.get(done, ""))


@router.post("/bin/empty")
def empty(library: CurrentLibrary, form: PostedRemoval) -> Response:
    """Delete everything in it."""
    if not form.value.sure:
        raise InputError("Nothing was deleted: tick the box that says you are sure.")
    tasks.empty_bin(library)
    return RedirectResponse("/bin?done=emptied", status_code=303)


@router.post("/bin/{item_id}/put-back")
def put_back(request: Request, library: CurrentLibrary, item_id: str, form: PostedUndo) -> Response:
    """Undo a removal or a change, and return to the page it was undone on.

    Another device sees nothing of the bin, and undoes nothing that it may not change.
    """
    here = is_computer(request)
    if not here and (item := tasks.bin_item(library, item_id)) is not None and item.here_only:
        raise HTTPException(403, "This can be undone on the computer that goodlength runs on only.")
    try:
        tasks.take_from_bin(library, item_id)
    except GoodlengthError as error:
        if not here:
            raise
        return _page(request, library, message=error.page_words, status=422)
    to = page_of_ours(form.value.to, "")
    return RedirectResponse(to or "/bin?done=back", status_code=303)


@router.post("/bin/{item_id}/delete")
def delete(library: CurrentLibrary, item_id: str, form: PostedRemoval) -> Response:
    """Delete one thing for good; it is asked, as there is no way back."""
    if not form.value.sure:
        raise InputError("Nothing was deleted: tick the box that says you are sure.")
    tasks.empty_bin(library, item_id=item_id)
    return RedirectResponse("/bin?done=deleted", status_code=303)


def _page(request: Request, library: Library, message: str = "", status: int = 200) -> Response:
    items = [
        {
            "id": bin_item.id,
            "title": bin_item.title,
            "change": bin_item.kind == "change",
            "kind": _KINDS.get(bin_item.kind, bin_item.kind),
            "removed": day_words(bin_item.removed_utc.date()),
            "until": day_words(bin_item.until.date()),
            "files": f" with {count_words(bin_item.files, 'file')}" if bin_item.files else "",
            "damaged": count_words(bin_item.damaged, "row") if bin_item.damaged else "",
            "withheld": bin_item.refusal,
        }
        for bin_item in tasks.bin_items(library)
    ]
    removed = [item for item in items if not item["change"]]
    changed = [item for item in items if item["change"]]
    return page(
        request, "library/recycle_bin.html", status=status, items=removed, changes=changed, message=message
    )
