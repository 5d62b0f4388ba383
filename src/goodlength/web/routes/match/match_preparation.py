"""Routes of a match that begins with its video: its queue, what comes next, and the players' names."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, Literal
from urllib.parse import quote

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.media_time import local_zone
from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.preparation.new_match_from_video import UNNAMED, is_unnamed
from goodlength.web.coach_settings import read_settings
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import (
    CurrentLibrary,
    CurrentMatch,
    CurrentPreparation,
    CurrentTransfers,
)
from goodlength.web.next_step_and_queue_of_match import next_json, preparation_json
from goodlength.web.submitted_forms.form_reading_and_faults import read_form
from goodlength.web.submitted_forms.match_import_and_search_forms import MatchForm, match_texts
from goodlength.web.views.match_description_and_result_phrases import free_space_words
from goodlength.web.views.match_page_header import match_page, next_of, result_words
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter()
MOST_LETTERS = 1000
MOST_STATES = 10


class VideoIn(BaseModel):
    """A video that a match is to begin with."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=MOST_LETTERS)
    size: StrictInt
    fingerprint: str = Field(max_length=MOST_LETTERS)


class NamesIn(BaseModel):
    """The two players of a match by name, which one is coached, and its day; a day left empty stays."""

    model_config = ConfigDict(extra="forbid")
    a: str = Field(max_length=MOST_LETTERS)
    b: str = Field(max_length=MOST_LETTERS)
    coached: Literal["a", "b"] = "a"
    played_on: str = Field("", max_length=40)


@router.post("/api/new-match-from-video")
def begin_from_video(library: CurrentLibrary, sent: CurrentTransfers, body: VideoIn) -> Response:
    """Make a match for a video that is about to be sent, or find the one that waits for the rest of it."""
    observer = read_settings(library).observer
    made = tasks.begin_match_from_video(
        library, sent, body.name, body.size, body.fingerprint, observer=observer, zone=local_zone()
    )
    return json_answer({"match": made.match})


@router.get("/api/match-states")
def get_states(request: Request, library: CurrentLibrary, ids: str = "") -> Response:
    """Return how far some matches of the list are; their ids are separated by commas, ten at most."""
    states = []
    for match_id in ids.split(",")[:MOST_STATES]:
        with suppress(
            GoodlengthError
        ):  # gone or damaged: its own page says so, the others are told all the same
            data = sheet_data(tasks.open_match(library, match_id, request.app.state.found.findings))
            step = next_of(request, data).step
            result = result_words(data)
            states.append({"id": match_id, "result": result, "next": next_json(match_id, step)})
    return json_answer({"states": states})


@router.post("/api/matches/{match_id}/abandon")
def abandon(library: CurrentLibrary, sent: CurrentTransfers, match_id: str) -> Response:
    """Remove a match whose video never came, if nothing is recorded of it."""
    return json_answer({"removed": tasks.abandon_match_from_video(library, sent, match_id)})


@router.post("/api/matches/{match_id}/names")
def name_players(opened: CurrentMatch, body: NamesIn) -> Response:
    """Say who plays, while the video is sent or prepared."""
    typed = {"a": body.a, "b": body.b, "coached": body.coached}
    if body.played_on:
        typed["played_on"] = body.played_on
    form = read_form(MatchForm, {**match_texts(opened.info, opened.players), **typed}).value
    info = tasks.change_match_by_names(opened.library, opened.id, (form.a, form.b), **form.details())
    return json_answer({"title": title_of(*(opened.library.player(player) for player in info.players))})


@router.get("/api/matches/{match_id}/preparation")
def get_preparation(request: Request, opened: CurrentMatch) -> Response:
    """Return how far the preparation of a match is, and what comes next."""
    return json_answer(preparation_json(opened.id, next_of(request, sheet_data(opened))))


@router.get("/matches/{match_id}/prepare", include_in_schema=False)
def show_preparation(request: Request, opened: CurrentMatch) -> Response:
    """Return the queue of a match, and what comes next."""
    return _page(request, opened)


@router.post("/matches/{match_id}/prepare", include_in_schema=False)
def begin(preparation: CurrentPreparation, match_id: str) -> Response:
    """Begin to prepare a match, go on after a pause, or try again what stopped."""
    preparation.begin(match_id)
    return _back(match_id)


@router.post("/matches/{match_id}/prepare/pause", include_in_schema=False)
def pause(preparation: CurrentPreparation, match_id: str) -> Response:
    """Stop working on a match until it is continued."""
    preparation.pause(match_id)
    return _back(match_id)


@router.post("/matches/{match_id}/prepare/cancel", include_in_schema=False)
def cancel(preparation: CurrentPreparation, match_id: str) -> Response:
    """Stop preparing a match; what is done stays."""
    preparation.cancel(match_id)
    return _back(match_id)


@router.post("/matches/{match_id}/prepare/skip/{step}", include_in_schema=False)
def skip(preparation: CurrentPreparation, match_id: str, step: str) -> Response:
    """Leave a step out that a person would do."""
    preparation.skip(match_id, step)
    return _back(match_id)


@router.post("/matches/{match_id}/prepare/ball/{choice}", include_in_schema=False)
def choose_ball(preparation: CurrentPreparation, match_id: str, choice: str) -> Response:
    """Search the ball in the rallies, or leave that out."""
    preparation.choose_ball(match_id, choice.replace("-", " "))
    return _back(match_id)


def _back(match_id: str) -> Response:
    return RedirectResponse(f"/matches/{quote(match_id, safe='')}/prepare", status_code=303)


def _page(request: Request, opened: CurrentMatch, **shown: Any) -> Response:
    data = sheet_data(opened)
    found = next_of(request, data)
    texts = match_texts(opened.info, opened.players)
    named = {side: "" if texts[side] in UNNAMED else texts[side] for side in "ab"}
    return match_page(
        request,
        data,
        "match/match_preparation.html",
        "",
        preparation=found.preparation,
        queue=preparation_json(opened.id, found),
        step=found.step,
        unnamed=is_unnamed(opened.players),
        named={**texts, **named},
        drop_match=opened.id,
        players=[player for player in tasks.players(opened.library) if player.name not in UNNAMED],
        free=free_space_words(opened.library.folder),
        **shown,
    )
