"""Routes of the season calendar: a month of matches and practice, planned sessions, groups, what is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.record.store import Library
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import (
    GroupForm,
    RemovedSessionForm,
    SessionForm,
)
from goodlength.web.undo_message import redirect

router = APIRouter(include_in_schema=False)
PostedGroup = Annotated[Submitted[GroupForm], Depends(posted(GroupForm))]
PostedSession = Annotated[Submitted[SessionForm], Depends(posted(SessionForm))]
PostedRemoval = Annotated[Submitted[RemovedSessionForm], Depends(posted(RemovedSessionForm))]


@router.get("/practice/calendar")
def book(
    request: Request, library: CurrentLibrary, month: str = "", group: str = "", on: str = "", done: str = ""
) -> Response:
    """Return one month, for everybody or one group; `on` is the day a session is to be planned for."""
    message = "The session is planned." if done else ""
    return _page(request, library, month, group, {"on": on}, message=message)


@router.post("/practice/calendar/sessions")
def plan_session(request: Request, library: CurrentLibrary, form: PostedSession) -> Response:
    """Plan a session of a player for a day."""
    group = form.shown("group")
    try:
        session = tasks.plan_session(library, form.value.player, form.value.day, form.value.words)
    except GoodlengthError as error:
        return _page(request, library, "", group, dict(form.texts), faults=[error.page_words])
    href = _link(session.on, group)["href"]
    return RedirectResponse(f"{href}&done=1", status_code=303)


@router.post("/practice/calendar/sessions/remove")
def remove_session(library: CurrentLibrary, form: PostedRemoval) -> Response:
    """Remove a planned session."""
    asked = form.value
    item = tasks.remove_session(library, asked.player, asked.session)
    month = tasks.month_of(asked.month if _is_month(asked.month) else "")
    return redirect(str(_link(month, asked.group)["href"]), item)


@router.post("/practice/{player_id}/group")
def group(library: CurrentLibrary, player_id: str, form: PostedGroup) -> Response:
    """Say which group a player trains with."""
    name = library.player(player_id).name
    watched = tasks.Watched(group=player_id)
    with tasks.undoable(library, f"Group of {name}", watched, about=[player_id]) as change:
        tasks.set_group(library, player_id, form.value.group)
    return redirect(f"/practice/{quote(player_id, safe='')}", change.item)


def _page(
    request: Request,
    library: Library,
    month: str,
    group: str,
    typed: Mapping[str, str],
    *,
    message: str = "",
    faults: Sequence[str] = (),
) -> Response:
    found, first = list(faults), tasks.month_of(month if _is_month(month) else "")
    if not _is_month(month):
        found.append(f"{month!r} is not a month. Choose one such as 2026-11.")
    shown, today = tasks.calendar_month(library, first, group), date.today()
    sessions = [event for day in shown.days.values() for event in day if event.kind == "session"]
    return page(
        request,
        "practice/season_calendar.html",
        status=422 if found else 200,
        message=message,
        faults=found,
        book=shown,
        title=f"{first:%B %Y}",
        before=_link(first - timedelta(days=1), group),
        after=_link(first + timedelta(days=31), group),
        latest=_link(shown.latest, group) if shown.latest and not shown.days else None,
        groups=[("", "everybody"), *((text, text) for text in shown.groups)],
        group=group,
        here=_link(first, group)["href"],
        month=f"{first:%Y-%m}",
        today=today,
        left=left_words,
        typed={"player": "", "words": "", **typed, "on": typed.get("on", "") or today.isoformat()},
        sessions=sessions,
    )


def _is_month(text: str) -> bool:
    try:
        tasks.month_of(text)
    except InputError:
        return False
    return True


def left_words(days: int) -> str:
    """Return how far off something is.

    Examples
    --------
    >>> left_words(-3), left_words(0), left_words(1)
    ('3 days ago', 'today', 'in 1 day')
    """
    if days == 0:
        return "today"
    many = "day" if abs(days) == 1 else "days"
    return f"in {days} {many}" if days > 0 else f"{-days} {many} ago"


def _link(day: date, group: str) -> dict[str, Any]:
    href = f"/practice/calendar?month={day:%Y-%m}"
    return {"href": f"{href}&group={quote(group)}" if group else href, "words": f"{day:%B %Y}"}
