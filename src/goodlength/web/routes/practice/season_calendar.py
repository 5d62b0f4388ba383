"""Routes of the season calendar: a month of matches and practice, groups, and what is due."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import GroupForm

router = APIRouter(include_in_schema=False)
PostedGroup = Annotated[Submitted[GroupForm], Depends(posted(GroupForm))]


@router.get("/practice/calendar")
def book(request: Request, library: CurrentLibrary, month: str = "", group: str = "") -> Response:
    """Return one month, for everybody or one group."""
    faults: list[str] = []
    try:
        first = tasks.month_of(month)
    except InputError as error:
        faults, first = [error.page_words], tasks.month_of("")
    shown = tasks.calendar_month(library, first, group)
    return page(
        request,
        "practice/season_calendar.html",
        status=422 if faults else 200,
        faults=faults,
        book=shown,
        title=f"{first:%B %Y}",
        before=_link(first - timedelta(days=1), group),
        after=_link(first + timedelta(days=31), group),
        latest=_link(shown.latest, group) if shown.latest and not shown.days else None,
        groups=[("", "everybody"), *((text, text) for text in shown.groups)],
        group=group,
        month=f"{first:%Y-%m}",
        today=date.today(),
        left=left_words,
    )


@router.post("/practice/{player_id}/group")
def group(library: CurrentLibrary, player_id: str, form: PostedGroup) -> Response:
    """Say which group a player trains with."""
    tasks.set_group(library, player_id, form.value.group)
    return RedirectResponse(f"/practice/{quote(player_id, safe='')}", status_code=303)


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
