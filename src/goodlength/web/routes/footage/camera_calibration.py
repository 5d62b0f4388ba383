"""Routes of camera calibration: court marks clicked on a frame, solved at each click, saved on request."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import Response

from goodlength import tasks
from goodlength.files.library_layout import camera_file
from goodlength.forms.footage.camera_calibration_json import camera_form, detected_court_form
from goodlength.tasks.footage import camera_calibration
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.remote_file_access_policy import may_be_sent
from goodlength.web.http.route_dependencies import CurrentLibrary, CurrentMatch, CurrentPreparation
from goodlength.web.views.keyboard_shortcuts import CAMERA_KEYS, with_player
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.point_picking_view import camera_page, saved_cameras

router = APIRouter()
Pixel = Annotated[float, Field(ge=-10_000, le=100_000, allow_inf_nan=False)]


class ClickIn(BaseModel):
    """A named court mark and where it was clicked or detected, px of the upright picture of the original."""

    model_config = ConfigDict(extra="forbid")
    mark: str
    u: Pixel
    v: Pixel
    detected: bool = False


class CameraMarksIn(BaseModel):
    """All marks clicked on one picture, those left out by name; `keep` keeps the camera they give."""

    model_config = ConfigDict(extra="forbid")
    at_us: StrictInt
    clicks: list[ClickIn] = Field(max_length=60)
    leave_out: list[str] = Field(default=[], max_length=60)
    keep: bool = False
    suggest: bool = False


class FromIn(BaseModel):
    """Which kept camera is meant: the media time it holds from."""

    model_config = ConfigDict(extra="forbid")
    from_us: StrictInt


@router.get("/matches/{match_id}/camera", include_in_schema=False)
def camera(request: Request, opened: CurrentMatch, file: str = "", at: int | None = None) -> Response:
    """Return the page on which marks are clicked."""
    shown = camera_page(opened, file, at)
    keys = with_player(CAMERA_KEYS, without=("short",))
    return match_page(
        request, sheet_data(opened), "footage/camera_calibration.html", "footage", keys=keys, **shown
    )


@router.get("/api/footage/{footage_id}/picture", include_in_schema=False)
def picture(
    request: Request,
    library: CurrentLibrary,
    footage_id: str,
    us: Annotated[int, Query(ge=-(2**53), le=2**53)],
) -> Response:
    """Return one frame of the original, upright and at full size."""
    file = library.footage_file(footage_id)
    may_be_sent(request, library, file.where, file.sha256)
    item = request.app.state.pictures.at(footage_id, us)
    headers = {"cache-control": "private, max-age=600", "x-picture-us": str(item.us)}
    return Response(item.jpeg, media_type="image/jpeg", headers=headers)


@router.get("/api/footage/{footage_id}/times")
def frame_times(library: CurrentLibrary, footage_id: str, from_us: int, until_us: int) -> Response:
    """Return when the pictures of the original appear in a span of media time; ten minutes at most."""
    until = min(until_us, from_us + 600_000_000)
    return json_answer({"starts_us": camera_calibration.frame_times(library, footage_id, from_us, until)})


@router.get("/api/footage/{footage_id}/camera")
def list_cameras(library: CurrentLibrary, footage_id: str) -> Response:
    """Return the cameras kept for a file."""
    return json_answer({"cameras": saved_cameras(library, footage_id)})


@router.post("/api/footage/{footage_id}/camera")
def solve(
    library: CurrentLibrary, preparation: CurrentPreparation, footage_id: str, body: CameraMarksIn
) -> Response:
    """Solve the camera from marks, and keep it or look for further marks if asked."""
    clicks = [click.model_dump() for click in body.clicks]
    if body.keep:
        camera_calibration.save_camera(library, footage_id, body.at_us, clicks, body.leave_out)
        preparation.notify()
    solved = camera_calibration.solve_marks(library, footage_id, clicks, body.leave_out)
    found = (
        camera_calibration.suggest_court_marks(library, footage_id, body.at_us, solved)
        if body.suggest
        else ()
    )
    return json_answer(
        {
            **camera_form(solved),
            "suggestions": [
                {"mark": suggestion.mark, "u": suggestion.u, "v": suggestion.v, "edges": suggestion.edges}
                for suggestion in found
            ],
            "cameras": saved_cameras(library, footage_id),
        }
    )


@router.get("/api/footage/{footage_id}/court")
def detect_court(
    library: CurrentLibrary, footage_id: str, us: Annotated[int, Query(ge=-(2**53), le=2**53)]
) -> Response:
    """Return the court found by itself in the view of a moment, for the coach to check; nothing is saved."""
    found = detected_court_form(camera_calibration.detect_court_of(library, footage_id, us))
    return json_answer(
        {
            "offered": found["offered"],
            "clicks": [
                {"mark": mark, "u": u, "v": v, "detected": True} for mark, (u, v) in found["marks"].items()
            ],
            "error_cm": found["error_cm"],
            "why": found["why"],
            "note": found["note"],
        }
    )


@router.post("/api/footage/{footage_id}/camera/forget")
def forget(library: CurrentLibrary, footage_id: str, body: FromIn) -> Response:
    """Take a kept camera back."""
    file = library.footage_file(footage_id)
    watched = tasks.Watched(files=(camera_file(library.folder, footage_id),))
    title, people = f"Calibration of {Path(file.path).name}", library.match_info(file.match).players
    with tasks.undoable(library, title, watched, about=people, of_match=file.match) as change:
        camera_calibration.remove_camera(library, footage_id, body.from_us)
    return json_answer({"cameras": saved_cameras(library, footage_id), "undo": change.item})


@router.get("/api/footage/{footage_id}/drift")
def drift(library: CurrentLibrary, footage_id: str, us: int) -> Response:
    """Return whether the camera still stands as it did when its marks were clicked."""
    check = camera_calibration.check_drift(library, footage_id, us)
    return json_answer({"state": check.state.value, "words": check.words})
