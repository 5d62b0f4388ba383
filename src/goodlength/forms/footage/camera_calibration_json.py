"""JSON form and terminal lines of a calibrated camera."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from goodlength.errors import InputError, NotFound
from goodlength.files.json_file_reading_with_line_errors import read_typed_json
from goodlength.files.json_types import JsonObject
from goodlength.tasks.footage.camera_calibration import (
    camera_at,
    check_drift,
    not_known,
    residual_cm,
    save_camera,
    solve_marks,
)

if TYPE_CHECKING:
    from goodlength.footage.camera import CameraCalibration, ErrorSpan
    from goodlength.footage.court_detection import DetectedCourt
    from goodlength.record.store import Library


class ErrorSpanJson(TypedDict):
    """How well a place on a surface is known, and the share of it that the picture shows."""

    median_cm: float | None
    p95_cm: float | None
    seen: float


class ClickResidualJson(TypedDict):
    """How far a click lies from where the others put it."""

    mark: str
    px: float
    cm: float | None


class MovedJson(TypedDict):
    """Whether the camera was moved."""

    state: str
    words: str


class CameraJson(TypedDict):
    """A camera calibrated from court marks."""

    words: list[str]
    not_known: list[str]
    rms_px: float
    marks: int
    floor_only: bool
    lens_found: bool
    place_m: list[float]
    focal_px: float
    k1: float
    size: list[int]
    front_only: bool
    floor: ErrorSpanJson | None
    front_wall: ErrorSpanJson | None
    residuals: list[ClickResidualJson]
    suspects: list[JsonObject]
    strokes: list[JsonObject]


class DetectedCourtJson(TypedDict):
    """`footage court --json`: the court found by itself.

    `marks` are picture points by name, px of the upright frame; `error_cm` is the standard error of a place
    on the floor; `chance` (0 to 1) that the court is right. A court that is not offered has neither marks nor
    error, and `why` says why; `note` is what else to know of one that is.
    """

    offered: bool
    marks: dict[str, list[float]]
    error_cm: float | None
    chance: float
    why: str
    note: str


class CameraAnswerJson(CameraJson):
    """`footage camera --json`."""

    kept: bool
    borrowed: bool


class CameraMovedJson(CameraAnswerJson):
    """The same, once it was asked whether the camera moved."""

    moved: MovedJson


def camera_form(camera: CameraCalibration) -> CameraJson:
    """Return a camera as plain values: what to say of it, residuals in px and cm, and the court to draw
    over it.
    """
    from goodlength.footage.camera import court_over

    return {
        "words": list(camera.words),
        "not_known": list(not_known(camera)),
        "rms_px": round(camera.rms_px, 2),
        "marks": len(camera.clicks),
        "floor_only": camera.floor_only,
        "lens_found": camera.lens_found,
        "place_m": [round(float(value), 3) for value in camera.lens.place_m],
        "focal_px": round(camera.lens.focal_px, 1),
        "k1": round(camera.lens.k1, 4),
        "size": [camera.lens.width, camera.lens.height],
        "front_only": camera.front_only,
        "floor": None if camera.front_only else _span(camera.floor),
        "front_wall": None if camera.floor_only else _span(camera.front),
        "residuals": [
            {"mark": residual.mark, "px": round(residual.px, 2), "cm": residual_cm(camera, residual.mark)}
            for residual in camera.residuals
        ],
        "suspects": [
            {"mark": suspect.mark, "words": suspect.words, "u": suspect.expected_u, "v": suspect.expected_v}
            for suspect in camera.suspects
        ],
        "strokes": [
            {
                "what": polyline.what,
                "name": polyline.name,
                "closed": polyline.closed,
                "uv": [list(uv) for uv in polyline.uv],
            }
            for polyline in court_over(camera)
        ],
    }


def _span(span: ErrorSpan) -> ErrorSpanJson:
    def cm(metres: float) -> float | None:
        return round(100.0 * metres, 2) if math.isfinite(metres) else None

    return {"median_cm": cm(span.median_m), "p95_cm": cm(span.p95_m), "seen": round(span.seen, 3)}


def detected_court_form(found: DetectedCourt) -> DetectedCourtJson:
    """Return a court found by itself as plain values; marks only where it is offered."""
    error_m = found.error_m if found.offered else None
    return {
        "offered": found.offered,
        "marks": {mark.mark: [round(mark.u, 2), round(mark.v, 2)] for mark in found.marks}
        if found.offered
        else {},
        "error_cm": None if error_m is None else round(100.0 * error_m, 2),
        "chance": round(found.chance, 3),
        "why": found.why,
        "note": found.note,
    }


def detected_court_lines(form: DetectedCourtJson) -> list[str]:
    """Return the same in lines for a terminal."""
    if not form["offered"]:
        return [form["why"], "Set the marks on the match's Calibrate page instead."]
    lines = [f"The court was detected. Error of a place on the floor: {form['error_cm']:.1f} cm."]
    lines += [form["note"]] if form["note"] else []
    lines += [f"  {mark:<18} {u:8.1f} {v:8.1f}" for mark, (u, v) in form["marks"].items()]
    return [*lines, "A mirrored video cannot be recognized: check that left is left."]


def camera_lines(form: CameraAnswerJson | CameraMovedJson) -> list[str]:
    """Return the same in lines for a terminal."""
    lines = list(form["words"])
    if form["not_known"]:
        lines += ["Still unknown:", *(f"  {text}" for text in form["not_known"])]
    lines.append("Error of each mark:")
    for residual in form["residuals"]:
        cm = "" if residual["cm"] is None else f" {residual['cm']:5.1f} cm"
        lines.append(f"  {residual['mark']:<18} {residual['px']:5.1f} px{cm}")
    if form["borrowed"]:
        lines.append(
            "This is the calibration of the video before this one. Whether the camera moved between them is "
            "not known."
        )
    moved = form.get("moved")
    if isinstance(moved, dict):
        lines.append(str(moved["words"]))
    return lines


def camera_answer(
    library: Library,
    footage_id: str,
    marks: Path | None,
    at_us: int,
    leave_out: Sequence[str] = (),
    *,
    keep: bool = False,
    moved_us: int | None = None,
) -> CameraAnswerJson | CameraMovedJson:
    """Return what `footage camera` says: the camera of clicked marks read from a file, or the one kept.

    Raises
    ------
    InputError, NotFound, CalibrationError
        The file of marks cannot be read; no camera is kept; or no camera follows from the marks.
    """
    if marks is not None:
        clicks = _clicks_in(marks)
        solved = (
            save_camera(library, footage_id, at_us, clicks, leave_out).camera
            if keep
            else solve_marks(library, footage_id, clicks, leave_out)
        )
        form: CameraAnswerJson = {**camera_form(solved), "kept": keep, "borrowed": False}
    else:
        saved = camera_at(library, footage_id, at_us)
        if saved is None:
            raise NotFound(
                f"No camera calibration is saved for the file {footage_id!r}. Click the marks on the "
                "match's Camera page, "
                "or give them with --marks."
            )
        form = {**camera_form(saved.camera), "kept": True, "borrowed": saved.borrowed}
    if moved_us is not None:
        drift = check_drift(library, footage_id, moved_us)
        return {**form, "moved": {"state": drift.state.value, "words": drift.words}}
    return form


def _clicks_in(path: Path) -> list[JsonObject]:
    wanted = 'It should hold a list of marks, each {"mark": "short-left", "u": 402, "v": 640}.'
    plain = read_typed_json(path, wanted)
    listed = plain.get("clicks") if isinstance(plain, dict) else plain
    if not isinstance(listed, list) or not all(isinstance(item, dict) for item in listed):
        raise InputError(f"{path.name} holds no list of marks. {wanted}")
    return listed
