"""Routes of the shared page: pass code in, session out; and single handouts by link."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import ConsentMissing, NotFound
from goodlength.files import library_layout
from goodlength.tasks.sharing.exports_withheld_without_consent import handout_refusal_now
from goodlength.web.http.passcode_sessions import (
    ASSUMED_LONGEST_S,
    COOKIE,
    TooManyTries,
    client_of,
    token_of,
)
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.http.standalone_page_content_policy import handout_policy
from goodlength.web.page_rendering import page
from goodlength.web.routes.sharing.handout import folder_of
from goodlength.web.submitted_forms.clip_handout_and_passcode_forms import CodeForm
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted

router = APIRouter(include_in_schema=False)
PostedCode = Annotated[Submitted[CodeForm], Depends(posted(CodeForm))]


@router.get("/enter")
def door(request: Request, to: str = "/") -> Response:
    """Return the field for the pass code; without sharing there is no door."""
    if request.app.state.sharing is None:
        return RedirectResponse("/matches", status_code=303)
    return page(request, "sharing/passcode_login.html", to=_inside(to), fault="")


@router.post("/enter")
def enter(request: Request, form: PostedCode) -> Response:
    """Check a code; the right one opens a session."""
    sharing, to = request.app.state.sharing, _inside(form.value.to)
    if sharing is None:
        return RedirectResponse("/matches", status_code=303)
    try:
        token = sharing.enter(form.value.code, client_of(request.scope))
    except TooManyTries:
        words = "Too many attempts. Wait a minute, then type the pass code."
        return page(request, "sharing/passcode_login.html", status=429, to=to, fault=words)
    if token is None:
        words = "Wrong pass code. It is shown in the window where goodlength was started."
        return page(request, "sharing/passcode_login.html", status=403, to=to, fault=words)
    answer = RedirectResponse(to, status_code=303)
    answer.set_cookie(
        COOKIE, token, max_age=int(ASSUMED_LONGEST_S), httponly=True, samesite="strict", secure=sharing.secure
    )
    return answer


@router.post("/leave")
def leave(request: Request) -> Response:
    """End this device's session."""
    if request.app.state.sharing is not None:
        request.app.state.sharing.leave(token_of(request.scope))
    answer = RedirectResponse("/enter", status_code=303)
    answer.delete_cookie(COOKIE)
    return answer


@router.get("/handed/{token}")
def handed(library: CurrentLibrary, token: str) -> Response:
    """Return one handout by its link, to be read, and nothing else."""
    opened = tasks.open_match(library, tasks.match_of_link(library, token))
    path = folder_of(library) / f"{library_layout.handout_stem(opened.id)}.html"
    if not path.is_file():
        raise NotFound("This link has expired. Ask the coach for a new one.")
    if hold := handout_refusal_now(opened, path):
        raise ConsentMissing(hold)
    text = path.read_text(encoding="utf-8")
    headers = {"cache-control": "no-store", "content-security-policy": handout_policy(text)}
    return HTMLResponse(text, headers=headers)


def _inside(to: str) -> str:
    """Return a path of this page and nothing else, so that the door leads nowhere strange."""
    fine = to.startswith("/") and not to.startswith(("//", "/\\")) and "\n" not in to and "\r" not in to
    return to if fine and not to.startswith("/enter") else "/matches"
