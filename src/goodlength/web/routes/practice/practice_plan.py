"""Plan: from the findings of a match to a week's work, edited by the coach, kept and printed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.clock import read_day
from goodlength.errors import GoodlengthError, InputError
from goodlength.forms.practice.practice_plan_and_progress_json import plan_form
from goodlength.practice.planning.drill_library import DRILLS, Company, Drill, DrillLevel
from goodlength.practice.planning.practice_plan import PlanItemJson, PracticePlanJson, Time
from goodlength.tasks.match.open_match import OpenMatch
from goodlength.tasks.practice.drill_list import drills_in
from goodlength.web.http.dependencies import CurrentMatch
from goodlength.web.http.posted_form import Posted, PostedForm
from goodlength.web.routes.match.findings import grade_mark
from goodlength.web.routes.practice.drills import drill_view
from goodlength.web.views.match_layout import match_page
from goodlength.web.views.match_page_data import sheet_data

router = APIRouter(include_in_schema=False)

COMPANY = (("solo", "nobody (solo)"), ("pair", "a partner"), ("feeder", "a partner or coach who feeds"))
LEVELS = (("new", "beginner"), ("club", "club"), ("county", "advanced"))
ASKED = ("sessions", "minutes", "weeks", "company", "level", "drill", "begins")
WORDS = {
    "chosen": "Your choice",
    "clear": "Clear",
    "leaning": "Possible",
    "too-few": "Not enough data",
    "no-difference": "No real difference",
}


@router.get("/matches/{match_id}/plan")
def plan(
    request: Request,
    opened: CurrentMatch,
    sessions: str = "2",
    minutes: str = "60",
    weeks: str = "3",
    company: str = "pair",
    level: str = "club",
    drill: str = "",
    begins: str = "",
) -> Response:
    """Return a plan proposed for the time there is."""
    asked = {
        "sessions": sessions,
        "minutes": minutes,
        "weeks": weeks,
        "company": company,
        "level": level,
        "drill": drill,
        "begins": begins or date.today().isoformat(),
    }
    return _page(request, opened, asked)


@router.post("/matches/{match_id}/plan")
def save_plan(request: Request, opened: CurrentMatch, form: Posted) -> Response:
    """Keep the plan as the coach edited it."""
    player_id = opened.coached.id
    asked = {name: form.texts.get(name, "") for name in ASKED}
    try:
        plan: PracticePlanJson = {**_edited(_proposed(opened, asked), form), "match": opened.id}
        tasks.save_plan(opened.library, player_id, plan)
    except GoodlengthError as error:
        return _page(request, opened, asked, faults=[error.page_words])
    return RedirectResponse(f"/practice/{quote(player_id, safe='')}?kept=1", status_code=303)


def _page(request: Request, opened: OpenMatch, asked: dict[str, str], faults: Any = None) -> Response:
    drills = {one.id: one for one in (*drills_in(opened.settings, retired=True), *DRILLS)}
    proposed: PracticePlanJson | None = None
    try:
        proposed = _proposed(opened, asked)
    except GoodlengthError as error:
        faults = faults or [error.page_words]
    return match_page(
        request,
        sheet_data(opened),
        "plan.html",
        "plan",
        status=422 if faults and request.method == "POST" else 200,
        plan=proposed,
        check_on=date.fromisoformat(proposed["check_on"]) if proposed else None,
        asked=asked,
        companies=COMPANY,
        levels=LEVELS,
        drills=[("", "none"), *((one.id, one.name) for one in (*drills_in(opened.settings), *DRILLS))],
        pictures=_pictures(drills, proposed),
        grade_mark=grade_mark,
        grade_words=WORDS,
        faults=faults,
        player=opened.coached.name,
    )


def _proposed(opened: OpenMatch, asked: dict[str, str]) -> PracticePlanJson:
    numbers = {name: _whole(asked[name], name) for name in ("sessions", "minutes", "weeks")}
    try:
        company, level = Company(asked["company"]), DrillLevel(asked["level"])
    except ValueError:
        raise InputError("Choose the players on court and the level from the lists.") from None
    try:
        begins = read_day(asked["begins"].strip())
    except ValueError:
        raise InputError(
            f"{asked['begins']!r} is not a date. Choose the first day, such as 2026-11-25."
        ) from None
    time = Time(numbers["sessions"], numbers["minutes"], numbers["weeks"], company)
    chosen = [asked["drill"]] if asked["drill"] else []
    return plan_form(tasks.propose_plan(opened, time, begins=begins, level=level, chosen=chosen))


def _pictures(drills: Mapping[str, Drill], plan: PracticePlanJson | None) -> dict[str, dict[str, object]]:
    """Return each drill of a plan drawn, by its id."""
    items = plan["items"] if plan else []
    return {item["drill"]: drill_view(drills[item["drill"]], 124.0) for item in items}


def _edited(plan: PracticePlanJson, form: PostedForm) -> PracticePlanJson:
    """Return the proposal with the coach's doses and targets, and without what was unticked."""
    chosen = form.every("keep")
    items: list[PlanItemJson] = []
    for item in plan["items"]:
        key = item["drill"]
        if key not in chosen:
            continue
        target = form.texts.get(f"target:{key}", "").strip()
        items.append(
            {
                **item,
                "sets": _whole(form.texts.get(f"sets:{key}", ""), f"sets of {item['name']}"),
                "attempts": _whole(form.texts.get(f"attempts:{key}", ""), f"attempts of {item['name']}"),
                "target": _whole(target, f"target of {item['name']}") if target else None,
            }
        )
    if not items:
        raise InputError("A plan needs at least one drill. Tick one and save the plan again.")
    return {**plan, "items": items}


def _whole(text: str, words: str) -> int:
    try:
        return int(text.strip())
    except ValueError:
        raise InputError(f"The {words} is a whole number; got {text!r}.") from None
