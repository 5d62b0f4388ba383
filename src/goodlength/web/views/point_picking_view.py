"""View data of the point-picking pages: files, marks, saved cameras, where to begin."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict
from urllib.parse import quote

from goodlength.errors import GoodlengthError
from goodlength.files.json_types import Json
from goodlength.media_time import clock_words, seconds
from goodlength.tasks.footage import camera_calibration
from goodlength.web.page_types.picked_points import (
    CameraPageJson,
    CourtMarkJson,
    PlanJson,
    SavedCameraJson,
    ShapeJson,
)
from goodlength.web.views.playable_files import gone_words

if TYPE_CHECKING:
    from goodlength.footage.camera import CameraCalibration
    from goodlength.record.model import Footage
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

BEGIN_US = 2_000_000  # the first picture offered: after the phone was let go


class CameraView(TypedDict):
    """What the template of the camera page shows."""

    files: list[dict[str, Json]]
    trouble: str
    begin: str


def camera_page(opened: OpenMatch, file: str, at_us: int | None) -> CameraView:
    """Return everything the camera page shows before its script runs."""
    library, files = opened.library, opened.footage
    chosen = next(
        (footage_file for footage_file in files if footage_file.id == file), files[0] if files else None
    )
    shown: CameraView = {
        "files": [_file(library, footage_file, chosen) for footage_file in files],
        "trouble": "",
        "begin": "",
    }
    if chosen is None:
        shown["trouble"] = "This match has no video yet. Add one on its Footage page first."
        return shown
    if not Path(chosen.path).is_file():
        shown["trouble"] = gone_words(Path(chosen.path))
        return shown
    try:
        shown["begin"] = json.dumps(_begin(opened, chosen, at_us))
    except GoodlengthError as error:
        shown["trouble"] = error.page_words
    return shown


def _begin(opened: OpenMatch, file: Footage, at_us: int | None) -> CameraPageJson:
    cameras = saved_cameras(opened.library, file.id)
    tin = camera_calibration.tin_of(opened.info)
    first, end = file.first_us or 0, file.end_us or 0
    start = cameras[-1]["clicked_us"] if cameras else min(first + BEGIN_US, (first + end) // 2)
    return {
        "footage": file.id,
        "size": camera_calibration.picture_size(file),
        "first_us": first,
        "end_us": end,
        "at_us": start if at_us is None else min(max(at_us, first), end - 1),
        "marks": _marks(tin),
        "plan": _plan(tin),
        "cameras": cameras,
    }


def saved_cameras(library: Library, footage_id: str) -> list[SavedCameraJson]:
    """Return the cameras kept for a file, each with its clicks and its words."""
    found: list[SavedCameraJson] = []
    for span in camera_calibration.camera_log(library, footage_id).spans:
        camera = camera_calibration.camera_at(library, footage_id, span.from_us)
        clicked = span.from_us if camera is None else camera.clicked_us
        found.append(
            {
                "from_us": span.from_us,
                "clicked_us": clicked,
                "holds": _holds(span.from_us, span.until_us),
                "about": f"{len(span.camera.clicks)} marks, set at {clock_words(seconds(clicked))}; "
                f"positions on the {_accurate_on(span.camera)} cm",
                "clicks": [
                    {"mark": c.mark, "u": c.u, "v": c.v} for c in (*span.camera.clicks, *span.camera.left_out)
                ],
                "leave_out": [c.mark for c in span.camera.left_out],
            }
        )
    return found


def _accurate_on(camera: CameraCalibration) -> str:
    """Return the surface a camera knows, and how well: "floor are accurate to about 1.5"."""
    surface, error = ("front wall", camera.front) if camera.front_only else ("floor", camera.floor)
    return f"{surface} are accurate to about {100 * error.median_m:.1f}"


def _holds(from_us: int, until_us: int | None) -> str:
    start = "From the start" if from_us == 0 else f"From {clock_words(seconds(from_us))}"
    return f"{start} to {'the end' if until_us is None else clock_words(seconds(until_us))}"


def _file(library: Library, footage_file: Footage, chosen: Footage | None) -> dict[str, Json]:
    return {
        "id": quote(footage_file.id, safe=""),
        "name": Path(footage_file.path).name,
        "open": chosen is not None and footage_file.id == chosen.id,
        "state": "calibrated"
        if camera_calibration.has_camera(library, footage_file.id)
        else "not calibrated",
    }


def _marks(tin: str) -> list[CourtMarkJson]:
    from goodlength.court import to_sheet
    from goodlength.footage.camera import court_marks

    return [
        {
            "name": mark.name,
            "words": mark.words,
            "edge": mark.edge,
            "floor": mark.on_floor,
            "at": to_sheet(mark.surfaces[0], *mark.at),
        }
        for mark in court_marks(tin).values()
    ]


def _plan(tin: str) -> PlanJson:
    """Return the unfolded court, to show which mark is meant."""
    from goodlength.court import unfolded

    sheet = unfolded(tin)
    shapes: list[ShapeJson] = [{"what": shape.what, "points": list(shape.points)} for shape in sheet.shapes]
    return {"bounds": sheet.bounds, "shapes": shapes}
