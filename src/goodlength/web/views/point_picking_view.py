"""View data of the point-picking pages: files, marks, saved cameras, where to begin."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict
from urllib.parse import quote

from goodlength.errors import GoodlengthError
from goodlength.files.json_types import Json
from goodlength.footage.court_detection.court_detection_in_video import first_view_us
from goodlength.media_time import clock_words, seconds
from goodlength.tasks.footage import camera_calibration
from goodlength.web.page_json_types.camera_and_serve_clicks import (
    CameraPageJson,
    ClickJson,
    CourtMarkJson,
    CourtProposalJson,
    PlanJson,
    SavedCameraJson,
    ShapeJson,
)
from goodlength.web.views.proxy_or_original_video_files import gone_words, part_of

if TYPE_CHECKING:
    from goodlength.footage.camera import CameraCalibration, Click
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.model import Footage
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch


class CourtView(TypedDict):
    """The court of a file as the Footage page shows it until a calibration is saved.

    `job` is looking for it; `why` says why none is proposed; else the frame at `at_us`, `size` px, with
    `strokes` over it (class and path each), the error of a place on the floor, and a `note` on it.
    """

    job: str | None
    why: str
    note: str
    at_us: int
    size: tuple[int, int]
    strokes: list[tuple[str, str]]
    error_cm: float


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
    found = None if cameras else camera_calibration.court_proposal(opened.library, file.id)
    if cameras:
        start = cameras[-1]["clicked_us"]
    else:
        start = first_view_us(first, end) if found is None else found.at_us
    return {
        "footage": file.id,
        "part": part_of(opened, file.id).as_json(),
        "size": camera_calibration.picture_size(file),
        "first_us": first,
        "end_us": end,
        "at_us": start if at_us is None else min(max(at_us, first), end - 1),
        "marks": _marks(tin),
        "plan": _plan(tin),
        "cameras": cameras,
        "proposal": _proposal(found) if found is not None and at_us in (None, found.at_us) else None,
    }


def _proposal(found: camera_calibration.CourtProposal) -> CourtProposalJson:
    """Return the court found when the file was added, as the page asks for it in a frame."""
    return {
        "offered": found.offered,
        "clicks": [{"mark": mark.mark, "u": mark.u, "v": mark.v, "detected": True} for mark in found.marks],
        "error_cm": None if found.error_m is None else round(100 * found.error_m, 2),
        "why": found.why,
        "note": found.note,
    }


def court_view(library: Library, jobs: Jobs, footage_id: str) -> CourtView | None:
    """Return what the Footage page shows of a court not approved yet; None where it was not looked for."""
    job = camera_calibration.court_job_of(jobs, footage_id)
    found = camera_calibration.court_proposal(library, footage_id)
    shown: CourtView = {
        "job": job, "why": "", "note": "", "at_us": 0, "size": (0, 0), "strokes": [], "error_cm": 0.0
    }  # fmt: skip
    if found is None:
        return shown if job else None
    if not found.offered:
        return {**shown, "why": found.why}
    try:
        solved = camera_calibration.solve_marks(library, footage_id, found.clicks)
    except GoodlengthError:
        return None  # the video is gone, or was replaced: its own words say so
    return {
        **shown,
        "note": found.note,
        "at_us": found.at_us,
        "size": (solved.lens.width, solved.lens.height),
        "strokes": _strokes(solved),
        "error_cm": 100 * solved.floor.median_m,
    }


def _strokes(camera: CameraCalibration) -> list[tuple[str, str]]:
    """Return the court over the frame: the class of each line, and its path in SVG."""
    from goodlength.footage.camera import court_over

    lines = [
        (stroke.what, "M" + "L".join(f"{u:.1f} {v:.1f}" for u, v in stroke.uv) + "Z" * stroke.closed)
        for stroke in court_over(camera)
    ]
    return [(f"{kind} {what}", d) for kind in ("case", "over") for what, d in lines]


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
                "clicks": [_click(c) for c in (*span.camera.clicks, *span.camera.left_out)],
                "leave_out": [c.mark for c in span.camera.left_out],
            }
        )
    return found


def _click(click: Click) -> ClickJson:
    place: ClickJson = {"mark": click.mark, "u": click.u, "v": click.v}
    return {**place, "detected": True} if click.detected else place


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
