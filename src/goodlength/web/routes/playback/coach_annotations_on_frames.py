"""Routes of what the coach draws on frames."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict
from starlette.responses import Response

from goodlength.record.import_export.coach_annotation_json import FrameDrawing, drawings_to_plain
from goodlength.tasks.playback import frame_drawings, remove_drawing, save_drawing
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch

router = APIRouter()


class DrawingIn(BaseModel):
    """One piece, as it is drawn; the task says what is wrong with it."""

    model_config = ConfigDict(extra="forbid")
    id: str
    at_us: int
    kind: str
    points: list[tuple[float, float]]
    text: str = ""


@router.get("/api/matches/{match_id}/drawings")
def list_drawings(opened: CurrentMatch) -> Response:
    """Return everything drawn on frames of a match."""
    return _answer(frame_drawings(opened.library, opened.id))


@router.post("/api/matches/{match_id}/drawings")
def add_drawing(opened: CurrentMatch, body: DrawingIn) -> Response:
    """Store one piece."""
    return _answer(save_drawing(opened, body.model_dump()))


@router.post("/api/matches/{match_id}/drawings/{drawing_id}/remove")
def erase_drawing(opened: CurrentMatch, drawing_id: str) -> Response:
    """Remove one piece."""
    return _answer(remove_drawing(opened.library, opened.id, drawing_id))


def _answer(drawings: Sequence[FrameDrawing]) -> Response:
    return json_answer({"drawings": drawings_to_plain(drawings)})
