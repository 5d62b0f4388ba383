"""Routes of the practice plan: from the findings to a week's work, edited, saved and printed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.practice.planning.drill_library import DRILLS, Drill
from goodlength.practice.planning.practice_plan import PlanItemJson, PracticePlanJson, plan_form
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.practice.library_and_custom_drills import drills_in
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.routes.match.findings import grade_mark
from goodlength.web.routes.practice.drills import drill_view
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted, read_form
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import PlanForm, PlanTimeForm, time_texts
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
PostedTime = Annotated[Submitted[PlanTimeForm], Depends(posted(PlanTimeForm))]
PostedPlan = Annotated[Submitted[PlanForm], Depends(posted(PlanForm))]

COMPANY = (("solo", "alone"), ("pair", "with a partner"), ("feeder", "with a feeder"))
LEVELS = (("new", "beginner"), ("club", "club"), ("county", "advanced"))
WORDS = {
    "chosen": "Your choice",
    "clear": "Clear",
    "leaning": "Possible",
    "too-few": "Not enough data",
    "no-difference": "No real difference",
}


@router.get("/matches/{match_id}/plan")
def plan(request: Request, opened: CurrentMatch) -> Response:
    """Return the plan saved from this match; asked for a new one, a plan proposed for the time there is."""
    saved = _saved(opened)
    if saved and not request.query_params:
        return _saved_page(request, opened, saved)
    asked = read_form(PlanTimeForm, time_texts(request.query_params))
    return _page(request, opened, asked, has_saved=saved is not None)


@router.post("/matches/{match_id}/plan")
def save_plan(request: Request, opened: CurrentMatch, time: PostedTime, form: PostedPlan) -> Response:
    """Keep the plan as the coach edited it."""
    player_id = opened.coached.id
    try:
        plan: PracticePlanJson = {**_edited(_proposed(opened, time.value), form.value), "match": opened.id}
        tasks.save_plan(opened.library, player_id, plan)
    except GoodlengthError as error:
        has_saved = _saved(opened) is not None
        return _page(request, opened, time, has_saved=has_saved, faults=[error.page_words])
    return RedirectResponse(f"/practice/{quote(player_id, safe='')}?kept=1", status_code=303)


def _saved(opened: OpenMatch) -> PracticePlanJson | None:
    """Return the newest plan saved from this match, the one in force with the targets it has by now."""
    plans = [plan for _, plan in tasks.plans_of(opened.library, opened.coached.id)]
    newest = next((n for n, plan in enumerate(plans) if plan.get("match") == opened.id), None)
    if newest is None:
        return None
    return tasks.current_plan(opened.library, opened.coached.id) if newest == 0 else plans[newest]


def _saved_page(request: Request, opened: OpenMatch, saved: PracticePlanJson) -> Response:
    return match_page(
        request,
        sheet_data(opened),
        "practice/saved_practice_plan.html",
        "plan",
        plan=saved,
        begins=date.fromisoformat(saved["begins"]),
        check_on=date.fromisoformat(saved["check_on"]),
        pictures=_pictures(_every_drill(opened), saved),
        grade_mark=grade_mark,
        grade_words=WORDS,
        player=opened.coached.name,
        practice=f"/practice/{quote(opened.coached.id, safe='')}",
    )


def _every_drill(opened: OpenMatch) -> dict[str, Drill]:
    return {drill.id: drill for drill in (*drills_in(opened.settings, retired=True), *DRILLS)}


def _page(
    request: Request, opened: OpenMatch, time: Submitted[PlanTimeForm], *, has_saved: bool, faults: Any = None
) -> Response:
    proposed: PracticePlanJson | None = None
    try:
        proposed = _proposed(opened, time.value)
    except GoodlengthError as error:
        faults = faults or [error.page_words]
    return match_page(
        request,
        sheet_data(opened),
        "practice/practice_plan.html",
        "plan",
        status=422 if faults and request.method == "POST" else 200,
        plan=proposed,
        check_on=date.fromisoformat(proposed["check_on"]) if proposed else None,
        asked=time_texts(time.texts),
        companies=COMPANY,
        levels=LEVELS,
        drills=[("", "none"), *((drill.id, drill.name) for drill in (*drills_in(opened.settings), *DRILLS))],
        pictures=_pictures(_every_drill(opened), proposed),
        grade_mark=grade_mark,
        grade_words=WORDS,
        faults=faults,
        has_saved=has_saved,
        player=opened.coached.name,
    )


def _proposed(opened: OpenMatch, asked: PlanTimeForm) -> PracticePlanJson:
    chosen = [asked.drill] if asked.drill else []
    made = tasks.propose_plan(opened, asked.time, begins=asked.begins, level=asked.level, chosen=chosen)
    return plan_form(made)


def _pictures(drills: Mapping[str, Drill], plan: PracticePlanJson | None) -> dict[str, dict[str, object]]:
    """Return each drill of a plan drawn, by its id."""
    items = plan["items"] if plan else []
    return {
        item["drill"]: drill_view(drills[item["drill"]], 124.0) for item in items if item["drill"] in drills
    }


def _edited(plan: PracticePlanJson, form: PlanForm) -> PracticePlanJson:
    """Return the proposal with the coach's doses and targets, and without what was unticked."""
    items: list[PlanItemJson] = []
    for item in plan["items"]:
        if item["drill"] in form.keep:
            dose = form.dose(item["drill"], item["name"])
            items.append({**item, "sets": dose.sets, "attempts": dose.attempts, "target": dose.target})
    if not items:
        raise InputError("A plan needs at least one drill. Tick one and save the plan again.")
    return {**plan, "items": items}
