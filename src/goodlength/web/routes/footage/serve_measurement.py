"""Routes of serve measurement from clicks: frames, marks, results, saved on request."""

from __future__ import annotations

import json
from typing import Literal
from urllib.parse import quote

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.measure.serves.serve_marks_and_strike_prior import WORDS, MarkKind
from goodlength.record.entry_value_types import MarkValue, as_json_object
from goodlength.record.model import EntryKind
from goodlength.record.rally_sentences import sheet_words
from goodlength.tasks.ball.serve_measurements_by_click_or_path import serves_as_measured
from goodlength.tasks.footage import camera_calibration, serve_measurement
from goodlength.tasks.footage.ball_position_suggestions import MOST_MARKS, find_ball
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.page_json_types.camera_and_serve_clicks import MeasurePageJson
from goodlength.web.views.keyboard_shortcuts import MEASURE_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.measured_serve_view import (
    kind_of,
    mark_json,
    result_of,
    serve_state_words,
)
from goodlength.web.views.proxy_or_original_video_files import part_of

router = APIRouter()
BALLS = MOST_MARKS  # places of the ball in the air that can be clicked
AROUND_US = 3_000_000  # of the timeline before and after the rally
LEAST_US = 4_000_000  # of a rally whose end is not known
BEFORE_US = 120_000  # the first picture shown lies this long before the marked start


class ServeMarksIn(BaseModel):
    """The clicks of one serve, whether a hit heard may time the strike, and how warm the ball was.

    An empty warmth is that of the match.
    """

    model_config = ConfigDict(extra="forbid")
    marks: list[MarkValue] = Field(max_length=60)
    sound: bool = True
    warmth: Literal["", "hot", "warm", "club", "cold", "unsure"] = ""


class KindIn(BaseModel):
    """A kind of serve."""

    model_config = ConfigDict(extra="forbid")
    kind: str = Field(min_length=1, max_length=80)


@router.get("/matches/{match_id}/measure", include_in_schema=False)
def measure_page(request: Request, opened: CurrentMatch, rally: str = "") -> Response:
    """Return the page: the serve named, else the first that can be measured and is not."""
    seen = serve_measurement.serves_to_measure(opened)
    can = [serve for serve in seen if serve.camera]
    chosen = next((serve for serve in seen if serve.rally.key == rally), None) or next(
        (serve for serve in can if serve.rally.serve.measured is None), can[0] if can else None
    )
    filmed = chosen or next((serve for serve in seen if serve.footage_id is not None), None)
    begin, trouble = "", ""
    measured = {each.key: each for each in serves_as_measured(opened)}
    if chosen is None:
        trouble = (
            "No serve of this match can be measured yet: a serve needs a video, "
            "a rally time and a calibrated camera."
        )
    elif chosen.footage_id is None or not chosen.camera:
        trouble = f"This serve cannot be measured: {chosen.why}."
    else:
        try:
            begin = json.dumps(_begin(opened, chosen))
        except GoodlengthError as error:
            trouble = error.page_words
    return match_page(
        request,
        sheet_data(opened),
        "footage/serve_measurement.html",
        "footage",
        begin=begin,
        trouble=trouble,
        camera_of="" if filmed is None or filmed.footage_id is None else quote(filmed.footage_id, safe=""),
        keys=with_player(MEASURE_KEYS, without=("short",)),
        serves=[
            {
                "key": serve.rally.key,
                "name": f"Game {serve.rally.game}, {serve.rally.before[0]}–{serve.rally.before[1]}",
                "words": sheet_words(serve.rally, opened.kind_words) or "–",
                "state": serve_state_words(serve, measured.get(f"r:{serve.rally.key}")),
                "open": chosen is not None and serve.rally.key == chosen.rally.key,
            }
            for serve in seen
        ],
    )


@router.post("/api/matches/{match_id}/serves/{rally}/try")
def try_it(opened: CurrentMatch, rally: str, body: ServeMarksIn) -> Response:
    """Return what the clicks give; nothing is kept."""
    trial = serve_measurement.trial_measurement(
        opened, rally, body.marks, sound=body.sound, warmth=body.warmth
    )
    kind, odds = serve_measurement.kind_proposed(opened.kinds, trial.found)
    recorded = opened.rally(rally).serve.kind
    return json_answer({**result_of(trial), **kind_of(kind, odds, opened.kind_words, recorded)})


@router.post("/api/matches/{match_id}/serves/{rally}/ball")
def search_ball(opened: CurrentMatch, rally: str, body: ServeMarksIn) -> Response:
    """Return the ball looked for between the clicks: marks to add, and how it went. Nothing is kept."""
    clicks = [mark for mark in body.marks if mark.what != MarkKind.BALL.value]
    found = find_ball(opened, rally, clicks, sound=body.sound, warmth=body.warmth)
    marks = [as_json_object(mark) for mark in found.marks]
    return json_answer({"marks": marks, "words": found.words, "looked": found.searched, "seen": found.seen})


@router.post("/api/matches/{match_id}/serves/{rally}/kind")
def record_kind(opened: CurrentMatch, rally: str, body: KindIn) -> Response:
    """Record the kind that was proposed, as an answer of the coach's."""
    serve_measurement.serve_to_measure(opened, rally)
    tasks.answer(opened.library, opened.id, rally, EntryKind.KIND, body.kind)
    return json_answer({"kind": body.kind})


@router.post("/api/matches/{match_id}/serves/{rally}/keep")
def save_measured(opened: CurrentMatch, rally: str, body: ServeMarksIn) -> Response:
    """Keep what the clicks give with the serve; what was measured before stays in the log."""
    serve_measurement.save_measurement(opened, rally, body.marks, sound=body.sound, warmth=body.warmth)
    return json_answer({"kept": True})


@router.post("/api/matches/{match_id}/serves/{rally}/forget")
def forget(opened: CurrentMatch, rally: str) -> Response:
    """Take what was measured of a serve back."""
    serve_measurement.remove_measurement(opened, rally)
    return json_answer({"kept": False})


def _begin(opened: OpenMatch, serve: serve_measurement.ServeToMeasure) -> MeasurePageJson:
    assert serve.footage_id is not None
    assert serve.media_us is not None
    file = opened.file(serve.footage_id)
    first, end = file.first_us or 0, file.end_us or 0
    saved = serve.rally.serve.measured
    marks = saved.marks if saved is not None and saved.footage == serve.footage_id else ()
    at = marks[0].at_us if marks else serve.media_us - BEFORE_US
    part = part_of(opened, serve.footage_id)
    start = serve.rally.start_us or 0
    until = max(serve.rally.end_us or 0, start + LEAST_US)
    names = [what for what in MarkKind if what is not MarkKind.BALL] + [MarkKind.BALL] * BALLS
    return {
        "match": opened.id,
        "rally": serve.rally.key,
        "footage": serve.footage_id,
        "part": part.as_json(),
        "window": {
            "start_us": max(part.starts_us, start - AROUND_US),
            "end_us": min(part.starts_us + end - first, until + AROUND_US),
        },
        "span": {"start_us": start, "end_us": until},
        "size": camera_calibration.picture_size(file),
        "first_us": first,
        "end_us": end,
        "at_us": min(max(at, first), end - 1),
        "what": [{"what": what, "words": WORDS[what]} for what in names],
        "marks": [mark_json(mark) for mark in marks],
        "kept": saved is not None,
        "warmth": "" if saved is None else saved.warmth or "",
    }
