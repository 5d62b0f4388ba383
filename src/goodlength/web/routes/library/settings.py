"""Routes of the settings: the page, kinds of serve, and the theme."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.languages import LANGUAGES
from goodlength.record.model import KindOfServe
from goodlength.record.store import Library
from goodlength.web.coach_settings import EXTRA_WORDS, PURPOSES, change_settings, read_settings
from goodlength.web.http.library_switch_on_running_server import NOT_BY_ITSELF, SHARED
from goodlength.web.http.phone_qr_code_invitation import is_computer, qr_code
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.player_consent_and_settings_forms import ServeKindsForm, SettingsForm
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_description_and_result_phrases import count_words, free_space_words

router = APIRouter()
PostedSettings = Annotated[Submitted[SettingsForm], Depends(posted(SettingsForm))]
PostedKinds = Annotated[Submitted[ServeKindsForm], Depends(posted(ServeKindsForm))]


class RoomIn(BaseModel):
    """The light of the room."""

    model_config = ConfigDict(extra="forbid")
    room: Literal["light", "dim"]


@router.get("/settings", include_in_schema=False)
def settings(request: Request, library: CurrentLibrary, done: str = "") -> Response:
    """Return everything that can be set."""
    return settings_page(request, library, message="Settings saved." if done else "")


@router.post("/settings", include_in_schema=False)
def change(request: Request, library: CurrentLibrary, form: PostedSettings) -> Response:
    """Keep one part of the page."""
    changes = form.value.changes()
    try:
        with tasks.undoable(library, "Settings", tasks.Watched(settings=tuple(changes))) as change:
            change_settings(library, changes)
    except GoodlengthError as error:
        return settings_page(request, library, message=[error.page_words], status=422)
    return redirect("/settings?done=1", change.item)


@router.post("/settings/kinds", include_in_schema=False)
def kinds(request: Request, library: CurrentLibrary, form: PostedKinds) -> Response:
    """Rename, add and retire kinds of serve."""
    try:
        with tasks.undoable(library, "Kinds of serve", tasks.Watched(kinds=True)) as change:
            library.save_kinds(_kinds(form.value, library.kinds()))
    except GoodlengthError as error:
        return settings_page(request, library, kind_faults=[error.page_words], status=422)
    return redirect("/settings?done=1", change.item)


@router.post("/api/settings/room")
def room(library: CurrentLibrary, body: RoomIn) -> dict[str, str]:
    """Dim or light the room."""
    return {"room": change_settings(library, {"room": body.room}).room}


def _kinds(form: ServeKindsForm, known: tuple[KindOfServe, ...]) -> list[KindOfServe]:
    """Return the list as typed: a row without an id is new, and gets one from its words.

    A kind of the same words that the page does not list yet is meant: a form sent twice makes no second.
    """
    before = {kind.id for kind in known}
    unlisted = {kind.words.casefold(): kind.id for kind in known if kind.id not in form.id}
    wanted: list[KindOfServe] = []
    for kind_id, words in zip(form.id, form.words, strict=False):
        if kind_id:
            wanted.append(KindOfServe(kind_id, words, retired=kind_id not in form.used))
        elif words:
            if (same := unlisted.pop(words.casefold(), None)) is not None:
                wanted.append(KindOfServe(same, words))
                continue
            base = re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") or "kind"
            taken = before | {kind.id for kind in wanted}
            free = next(name for name in (base, *(f"{base}-{n}" for n in range(2, 100))) if name not in taken)
            wanted.append(KindOfServe(free, words))
    return wanted


def _network(request: Request) -> dict[str, Any]:
    """Return how other devices reach the page now, and whether sharing can be switched here."""
    app = request.app
    if app.state.sharing is None:
        return {"on": False, "switch": True, "address": "", "qr": "", "code": "", "secure": False}
    address = app.state.addresses[0] if app.state.addresses else ""
    return {
        "on": True,
        "switch": app.state.network.is_on,
        "address": address,
        "qr": qr_code(address) if address else "",
        "code": app.state.sharing.code_words,
        "secure": app.state.sharing.secure,
    }


def settings_page(
    request: Request, library: Library, *, status: int = 200, message: Any = "", kind_faults: Any = None
) -> Response:
    here = is_computer(request)
    state = tasks.library_state(library)
    in_use = [kind.id for kind in library.kinds() if not kind.retired]
    rows = [
        {
            "id": kind.id,
            "words": kind.words,
            "retired": kind.retired,
            "key": in_use.index(kind.id) + 1 if kind.id in in_use else "",
        }
        for kind in library.kinds()
    ]
    return page(
        request,
        "library/settings.html",
        status=status,
        message=message,
        kind_faults=kind_faults,
        kinds=rows,
        set=read_settings(library),
        extras=list(EXTRA_WORDS.items()),
        purposes=list(PURPOSES.items()),
        folder=state.folder if here else "",
        reopens=request.app.state.sharing is None and request.app.state.reopening.is_possible,
        reopens_not=NOT_BY_ITSELF if request.app.state.sharing is None else SHARED,
        languages=list(LANGUAGES.items()),
        holds=f"It holds {count_words(state.players, 'player')} and "
        f"{count_words(state.matches, 'match', 'matches')}.",
        problems=state.problems if here else (),
        on_computer=here,
        has_demo=any(head.demo for head in library.match_heads()),
        network=_network(request) if here else None,
        free=free_space_words(library.folder),
    )
