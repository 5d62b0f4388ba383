"""Routes of practice: players, the log, and the page used on court."""

from __future__ import annotations

from datetime import date
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt
from starlette.responses import Response

from goodlength import tasks
from goodlength.forms.practice.practice_progress_json import progress_words
from goodlength.practice.attempt_location_validation import surface_of
from goodlength.practice.planning.practice_plan import PlanItemJson
from goodlength.practice.statistics.drill_progress import PracticeOrder
from goodlength.tasks.practice.practice_plans_and_log import LoggedSet, plans_in, sets_in
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.list_pagination import LONGEST_WORDS, list_page, named_like
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.plan_drill_and_recording_forms import UndoSetForm
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.practice_progress_view import drill_progress_view, surfaces

router = APIRouter()
PostedUndo = Annotated[Submitted[UndoSetForm], Depends(posted(UndoSetForm))]
Name = Annotated[str, Field(min_length=1, max_length=100)]

ORDERS = (
    (PracticeOrder.BLOCKED.value, "blocked (same shot)"),
    (PracticeOrder.MIXED.value, "random (mixed)"),
    (PracticeOrder.RETENTION.value, "retention (first thing on a later day)"),
)


class SetIn(BaseModel):
    """One set as the court-side page sends it."""

    model_config = ConfigDict(extra="forbid")
    id: Name
    drill: Name
    hits: StrictInt
    attempts: StrictInt
    order: Name
    on: Name
    places: Annotated[
        list[tuple[StrictFloat | StrictInt, StrictFloat | StrictInt]], Field(max_length=500)
    ] = []
    aim: tuple[StrictFloat | StrictInt, StrictFloat | StrictInt] | None = None


class SetsIn(BaseModel):
    """Sets in the order they were logged."""

    model_config = ConfigDict(extra="forbid")
    sets: Annotated[list[SetIn], Field(max_length=500)]


@router.get("/practice", include_in_schema=False)
def people(
    request: Request,
    library: CurrentLibrary,
    find: str = "",
    number: Annotated[str, Query(alias="page")] = "",
) -> Response:
    """Return a page of the players, with how much was logged."""
    rows, groups, logs = [], tasks.groups_of(library), library.practice_logs()
    everybody, words = tasks.players(library), find[:LONGEST_WORDS].strip()
    fitting = sorted(
        named_like(everybody, words), key=lambda player: not plans_in(logs.get(player.id, ()))
    )  # those with a plan first
    people_page = list_page(fitting, "/practice", number, words)
    for player in people_page.rows:
        sets = [each for many in sets_in(logs.get(player.id, ())).values() for each in many]
        last = max((practice_set.on for practice_set in sets), default=None)
        href = f"/practice/{quote(player.id, safe='')}"
        plans = plans_in(logs.get(player.id, ()))
        plan = plans[0][1] if plans else None
        rows.append(
            {
                "name": player.name,
                "href": href,
                "sets": len(sets),
                "last": last,
                "group": groups.get(player.id, ""),
                "plan": [item["name"] for item in plan["items"]] if plan else [],
                "review": date.fromisoformat(plan["check_on"]) if plan else None,
            }
        )
    return page(
        request,
        "practice/practice_overview.html",
        rows=rows,
        list=people_page,
        in_library=len(everybody),
        fitting=f"{count_words(len(fitting), 'player fits', 'players fit')}."
        if fitting
        else "No player fits.",
    )


@router.get("/practice/{player_id}", include_in_schema=False)
def player(
    request: Request,
    library: CurrentLibrary,
    player_id: str,
    saved: Annotated[str, Query(alias="kept")] = "",
) -> Response:
    """Return what a player's log says, drill by drill, and the plan in force."""
    person = library.player(player_id)
    plans = tasks.plans_of(library, player_id)
    seen = tasks.practice_progress(library, player_id)
    words, sets = progress_words(library, seen), tasks.sets_of(library, player_id)
    return page(
        request,
        "practice/practice_progress.html",
        person=person,
        base=f"/practice/{quote(player_id, safe='')}",
        plan=tasks.current_plan(library, player_id),
        plan_id=plans[0][0] if plans else "",
        check_on=date.fromisoformat(plans[0][1]["check_on"]) if plans else None,
        drills=[
            drill_progress_view(tasks.drill_named(library, key), drill_progress, words[key], sets[key])
            for key, drill_progress in seen.items()
        ],
        group=tasks.groups_of(library).get(player_id, ""),
        carried=tasks.practice_transfer(tasks.open_matches(library, player_id)),
        message="Plan saved." if saved else "",
    )


@router.get("/practice/{player_id}/log", include_in_schema=False)
def log(request: Request, library: CurrentLibrary, player_id: str, of: str = "") -> Response:
    """Return the page for the court: big buttons, and it goes on when the network drops."""
    person = library.player(player_id)
    plan = tasks.current_plan(library, player_id)
    doses = {item["drill"]: _dose_words(item) for item in plan["items"]} if plan else {}
    planned = list(doses)
    every = [*planned, *(drill.id for drill in tasks.drills(library) if drill.id not in planned)]
    drills = [tasks.drill_named(library, key) for key in every]
    return page(
        request,
        "practice/attempt_logging.html",
        person=person,
        base=f"/practice/{quote(player_id, safe='')}",
        drills=[
            {
                "id": drill.id,
                "counts": drill.counts,
                "dose": doses.get(drill.id, ""),
                "surface": surface_of(drill),
                "aim": drill.box.middle_m if drill.box else None,
                "mixed": drill.mixed,
            }
            for drill in drills
        ],
        surfaces=surfaces(),
        names=[(drill.id, drill.name) for drill in drills],
        chosen=of if of in every else every[0],
        orders=ORDERS,
        today=date.today().isoformat(),
    )


def _dose_words(item: PlanItemJson) -> str:
    """Return the sets of a drill in the plan, and the goal of the last one where it has one."""
    goal = "" if item["target"] is None else f", target {item['target']} of {item['attempts']} in the last"
    return f"In the plan: {count_words(item['sets'], 'set', 'sets')} of {item['attempts']}{goal}."


@router.post("/api/practice/{player_id}/sets")
def post_sets(library: CurrentLibrary, player_id: str, body: SetsIn) -> Response:
    """Store sets, once each however often they are sent, and answer with what the log says now."""
    tasks.log_sets(library, player_id, [LoggedSet(**set_in.model_dump()) for set_in in body.sets])
    return json_answer(
        {
            "stored": [set_in.id for set_in in body.sets],
            "words": {
                key: " ".join(words)
                for key, words in progress_words(library, tasks.practice_progress(library, player_id)).items()
            },
        }
    )


@router.post("/practice/{player_id}/undo", include_in_schema=False)
def undo(library: CurrentLibrary, player_id: str, form: PostedUndo) -> Response:
    """Remove a set, into the bin."""
    item = tasks.undo_set(library, player_id, form.value.set)
    return redirect(f"/practice/{quote(player_id, safe='')}", item)


@router.post("/practice/{player_id}/plans/{plan_id}/remove", include_in_schema=False)
def remove_plan(library: CurrentLibrary, player_id: str, plan_id: str) -> Response:
    """Remove a plan, into the bin."""
    item = tasks.remove_plan(library, player_id, plan_id)
    return redirect(f"/practice/{quote(player_id, safe='')}", item)
