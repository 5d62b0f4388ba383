"""Calibrate the camera of a recording from clicked court marks, store it, and watch for camera movement.

What is kept are the clicks, in the library folder (`cameras/FOOTAGE.json`), each set with the media time
from which it holds; the camera is solved from them again whenever it is asked for. No part of the record.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pydantic import BaseModel

from goodlength.errors import FootageGone, GoodlengthError, InputError, NotFound
from goodlength.files.json_types import JsonObject
from goodlength.files.library_layout import camera_file, court_proposal_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.files.typed_value_parsing import read_as

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from goodlength.footage.camera import CameraCalibration, CameraLog, DriftCheck, Suggestion
    from goodlength.footage.court_detection import DetectedCourt
    from goodlength.footage.media.frame_grab import FrameGrabber
    from goodlength.footage.media.frame_presentation_time_table import FrameTable
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.model import Footage, MatchInfo
    from goodlength.record.store import Library

    Picture = NDArray[np.uint8]

FORMAT = 1
COURT_KIND = "court"  # of the job


@dataclass(frozen=True, eq=False)
class SavedCamera:
    """The camera that holds at a moment: from when (media time), and the file its marks were clicked on.

    `borrowed` says that this file has none of its own: the camera is that of an earlier file of the match
    with the same size of picture, and whether it was moved between the files nobody has checked.
    """

    camera: CameraCalibration
    from_us: int
    clicked_us: int
    footage_id: str
    borrowed: bool = False


def frame_times(library: Library, footage_id: str, from_us: int, until_us: int) -> tuple[int, ...]:
    """Return when the pictures of the original file appear in a span of media time, microseconds."""
    table = original_table(library, library.footage_file(footage_id))
    first, last = table.between(from_us, max(until_us, from_us + 1))
    return tuple(int(us) for us in table.starts_us[first : last + 1])


def frame_pictures(
    library: Library, footage_id: str, from_us: int, until_us: int | None = None
) -> tuple[FrameGrabber, ...]:
    """Return pictures of the original, upright and at full size: the one shown at a moment, or those of a
    span.

    Raises
    ------
    FootageGone, OutOfRange
        The file is not there, or shows nothing then.
    """
    from goodlength.footage.media.frame_grab import grab_frame

    file = library.footage_file(footage_id)
    return grab_frame(_original(file), from_us, until_us, table=original_table(library, file))


class _ClickedMark(BaseModel):
    mark: str
    u: float
    v: float
    detected: bool = False


def solve_marks(
    library: Library,
    footage_id: str,
    clicks: Sequence[Mapping[str, object]],
    leave_out: Sequence[str] = (),
    size: tuple[int, int] | None = None,
) -> CameraCalibration:
    """Return the camera behind clicked court marks of a file; nothing is kept.

    Parameters
    ----------
    clicks : sequence of mapping
        `{"mark", "u", "v"}` each; names as in `footage.camera.court_mark_definitions`, places in px of the
        upright picture of the original. `"detected": True` says that a mark was not clicked.
    leave_out : sequence of str
        Marks clicked but not to be used.
    size : (int, int), optional
        Width and height of that picture; left out, as the file says.

    Raises
    ------
    CalibrationError
        With what to do, for marks no camera follows from.
    """
    from goodlength.footage.camera import Click, calibrate_camera

    file = library.footage_file(footage_id)
    width, height = size or picture_size(file)
    clicked = [read_as(_ClickedMark, click, "clicked mark") for click in clicks]
    read = [Click(mark.mark, mark.u, mark.v, mark.detected) for mark in clicked]
    return calibrate_camera(read, width, height, tin_of(library.match_info(file.match)), leave_out)


def save_camera(
    library: Library,
    footage_id: str,
    at_us: int,
    clicks: Sequence[Mapping[str, object]],
    leave_out: Sequence[str] = (),
    *,
    from_us: int | None = None,
) -> SavedCamera:
    """Solve and keep the camera of a file, from a moment on.

    The first camera holds for the whole file, whenever its marks were clicked; a later one from `from_us`
    (left out: the picture clicked on) to the end, and the one before it ends there.

    Parameters
    ----------
    at_us : int
        Media time of the picture that was clicked on.

    Raises
    ------
    CalibrationError
        As `solve_marks`; or a camera is already kept that begins later.
    """
    from goodlength.footage.camera import CameraLog, image_patches_of, patches_to_json

    camera = solve_marks(library, footage_id, clicks, leave_out)
    file = library.footage_file(footage_id)
    patches = image_patches_of(camera, _picture(library, file, at_us))
    with exclusive(camera_file(library.folder, footage_id).parent):
        stored = _read(camera_file(library.folder, footage_id))
        old = [fields for fields in stored.get("spans", []) if isinstance(fields, dict)]
        log = camera_log(library, footage_id)
        again = next((fields for fields in old if fields.get("clicked_us") == at_us), None)
        start = 0 if not log.spans else from_us if from_us is not None else at_us
        if again is not None:  # the same picture clicked better: it takes the place of the first try
            start = int(again["from_us"])
            log = CameraLog(tuple(span for span in log.spans if span.from_us != start))
            old = [fields for fields in old if fields is not again]
        moved = log.moved(start, camera).to_json()
        about = {int(fields["from_us"]): fields for fields in old}
        for span, camera_span in zip(moved, log.moved(start, camera).spans, strict=True):
            same = about.get(camera_span.from_us, {})
            span["clicked_us"] = same.get("clicked_us", camera_span.from_us)
            span["patches"] = same.get("patches", [])
            if camera_span.from_us == start:
                span["clicked_us"], span["patches"] = at_us, patches_to_json(patches)
        _write(library.folder, footage_id, {"format": FORMAT, "spans": moved})
    return SavedCamera(camera, start, at_us, footage_id)


def remove_camera(library: Library, footage_id: str, from_us: int) -> None:
    """Take a kept camera back; the one before it then holds on."""
    with exclusive(camera_file(library.folder, footage_id).parent):
        spans = sorted(
            _read(camera_file(library.folder, footage_id)).get("spans", []), key=lambda item: item["from_us"]
        )
        at = next((n for n, item in enumerate(spans) if item["from_us"] == from_us), None)
        if at is None:
            raise NotFound("That calibration no longer exists. Reload the page.")
        gone = spans.pop(at)
        if at > 0:
            spans[at - 1]["until_us"] = gone["until_us"]
        elif spans:
            spans[0]["from_us"] = 0
        _write(library.folder, footage_id, {"format": FORMAT, "spans": spans})


def camera_log(library: Library, footage_id: str) -> CameraLog:
    """Return all cameras kept for a file, solved from their clicks.

    Raises
    ------
    InputError, CalibrationError
        What is kept is damaged, or of a later goodlength.
    """
    path = camera_file(library.folder, footage_id)
    return _log(path, path.stat().st_mtime_ns if path.is_file() else 0)


@lru_cache(maxsize=64)
def _log(path: Path, _changed: int) -> CameraLog:
    from goodlength.footage.camera import CameraLog

    return CameraLog.from_json(_read(path).get("spans", []))


def camera_spans(library: Library, footage_id: str) -> list[dict[str, Any]]:
    """Return all cameras kept for a file as plain data: times, clicks, and patches of the picture
    clicked on.
    """
    return [
        fields
        for fields in _read(camera_file(library.folder, footage_id)).get("spans", [])
        if isinstance(fields, dict)
    ]


def camera_at(library: Library, footage_id: str, at_us: int) -> SavedCamera | None:
    """Return the camera that holds at a media time of a file; None where none is kept.

    A file without any uses that of the file before it in the match, if its picture has the same size.
    """
    own = camera_log(library, footage_id)
    if own.spans:
        span = next((camera_span for camera_span in own.spans if camera_span.holds(at_us)), None)
        return None if span is None else _saved_camera(library, footage_id, span.from_us, span.camera)
    file = library.footage_file(footage_id)
    size = picture_size(file)
    for other in reversed(
        [footage_file for footage_file in library.footage(file.match) if footage_file.place < file.place]
    ):
        spans = camera_log(library, other.id).spans
        if spans and (spans[-1].camera.lens.width, spans[-1].camera.lens.height) == size:
            found = _saved_camera(library, other.id, spans[-1].from_us, spans[-1].camera)
            return SavedCamera(found.camera, 0, found.clicked_us, other.id, borrowed=True)
    return None


def _saved_camera(library: Library, footage_id: str, from_us: int, camera: CameraCalibration) -> SavedCamera:
    spans = _read(camera_file(library.folder, footage_id)).get("spans", [])
    clicked = next((span.get("clicked_us", from_us) for span in spans if span["from_us"] == from_us), from_us)
    return SavedCamera(camera, from_us, int(clicked), footage_id)


def check_drift(library: Library, footage_id: str, at_us: int) -> DriftCheck:
    """Return whether the camera still stands as when its marks were clicked, seen at another moment.

    Raises
    ------
    NotFound
        No camera is kept there.
    """
    from goodlength.footage.camera import drift_by_patches, patches_from_json

    saved = camera_at(library, footage_id, at_us)
    if saved is None:
        raise NotFound("There is no calibration for this time. Set the marks first.")
    spans = _read(camera_file(library.folder, saved.footage_id)).get("spans", [])
    mine = next(span for span in spans if span.get("clicked_us") == saved.clicked_us)
    picture = _picture(library, library.footage_file(footage_id), at_us)
    return drift_by_patches(saved.camera, patches_from_json(mine.get("patches", [])), picture)


def suggest_court_marks(
    library: Library, footage_id: str, at_us: int, camera: CameraCalibration
) -> tuple[Suggestion, ...]:
    """Return marks not clicked yet, where the red lines of the picture say they are; never taken by
    itself.
    """
    from goodlength.footage.camera import suggest_marks

    return suggest_marks(camera, _picture(library, library.footage_file(footage_id), at_us))


def detect_court_of(library: Library, footage_id: str, at_us: int) -> DetectedCourt:
    """Return the court found by itself in a file of a match, for the view at a moment; nothing is saved."""
    file = library.footage_file(footage_id)
    tin = tin_of(library.match_info(file.match))
    path = _original(file)
    return _detected(str(path), path.stat().st_mtime_ns, at_us, tin, library.folder / (file.frames or ""))


@lru_cache(maxsize=16)
def _detected(path: str, _changed: int, at_us: int, tin: str, frames: Path) -> DetectedCourt:
    from goodlength.footage.court_detection import detect_court_in

    table = _table(frames, frames.stat().st_mtime_ns) if frames.is_file() else None
    return detect_court_in(path, at_us, tin, table=table)


@dataclass(frozen=True)
class CourtProposal:
    """The court that was looked for when a file was added, not approved yet.

    `at_us` is the frame its `marks` lie in, `error_m` the standard error of a place on the floor. Where it is
    not `offered`, `why` says why; `note` is what else to know of one that is.
    """

    at_us: int
    offered: bool
    why: str
    note: str
    error_m: float | None
    marks: tuple[ProposedMark, ...]

    @property
    def clicks(self) -> list[JsonObject]:
        """Marks as `solve_marks` takes them."""
        return [{"mark": mark.mark, "u": mark.u, "v": mark.v, "detected": True} for mark in self.marks]


class ProposedMark(BaseModel):
    """A court mark found by itself, px of the upright picture of the original."""

    mark: str
    u: float
    v: float


class _StoredProposal(BaseModel):
    format: Literal[1]
    sha256: str
    at_us: int
    offered: bool
    why: str
    note: str = ""
    error_m: float | None
    marks: list[ProposedMark]


def start_court_detection(library: Library, footage_id: str, jobs: Jobs) -> str | None:
    """Begin looking for the court of a file; the job's id, or None where there is nothing to look for.

    A job under way is given again. A file with a calibration, or whose court was looked for, is left alone.
    """
    from goodlength.footage.court_detection.court_detection_in_video import court_detection_job

    file = library.footage_file(footage_id)
    under_way = court_job_of(jobs, footage_id)
    if under_way is not None:
        return under_way
    if has_camera(library, footage_id) or court_proposal(library, footage_id) or file.frames is None:
        return None
    return jobs.start(
        COURT_KIND,
        court_detection_job,
        {
            "path": str(_original(file)),
            "frames": str(library.folder / file.frames),
            "tin": tin_of(library.match_info(file.match)),
            "sha256": file.sha256 or "",
            "to": str(court_proposal_file(library.folder, footage_id)),
        },
    )


def court_job_of(jobs: Jobs, footage_id: str) -> str | None:
    """Return the job that looks for the court of a file now."""
    to = str(court_proposal_file(jobs.folder.parent, footage_id))
    for job in jobs.states():
        if job.kind == COURT_KIND and job.state in ("queued", "running") and (job.args or {}).get("to") == to:
            return job.id
    return None


def court_proposal(library: Library, footage_id: str) -> CourtProposal | None:
    """Return the court found when a file was added; None where it was not looked for, or the file changed."""
    plain = JsonFile(court_proposal_file(library.folder, footage_id)).shown()
    try:
        stored = _StoredProposal.model_validate(plain)
    except ValueError:
        return None
    if stored.sha256 != (library.footage_file(footage_id).sha256 or ""):
        return None
    marks = tuple(stored.marks)
    return CourtProposal(stored.at_us, stored.offered, stored.why, stored.note, stored.error_m, marks)


def approve_court(library: Library, footage_id: str) -> SavedCamera:
    """Save the proposed court of a file as its camera, once the coach has looked at it.

    Raises
    ------
    NotFound
        No court is proposed.
    """
    proposal = court_proposal(library, footage_id)
    if proposal is None or not proposal.offered:
        raise NotFound("There is no detected court to save. Set the marks on the Calibrate page.")
    return save_camera(library, footage_id, proposal.at_us, proposal.clicks)


def residual_cm(camera: CameraCalibration, mark: str) -> float | None:
    """Return how far, on floor or wall, a click lies from the mark it names; None where that cannot be
    told.
    """
    from goodlength.footage.camera import CourtPoint, mark_named

    named = mark_named(mark, camera.tin)
    click = next(candidate for candidate in camera.clicks if candidate.mark == mark)
    offs = [
        math.dist((place.x_m, place.y_m, place.z_m), named.at)
        for surface in named.surfaces
        if isinstance(place := camera.place(surface, click.u, click.v), CourtPoint)
    ]
    return round(100.0 * min(offs), 1) if offs else None


def not_known(camera: CameraCalibration) -> tuple[str, ...]:
    """Return what this camera cannot say, one sentence each."""
    from goodlength.court import CourtSurface

    sentences = []
    if camera.floor_only:
        sentences.append("Heights and walls: set at least six marks, some of them above the floor.")
    if not camera.lens_found:
        sentences.append("Lens distortion: these marks do not determine it.")
    if camera.front_only:
        sentences.append("The floor and the other walls: all marks lie on the front wall.")
    for name, surface, span in (
        ("floor", CourtSurface.FLOOR, camera.floor),
        ("front wall", CourtSurface.FRONT, camera.front),
    ):
        if not camera.why_not(surface) and span.seen < 0.995:
            hidden = round(100 * (1 - span.seen))
            sentences.append(f"About {hidden}% of the {name}: outside the frame.")
    sentences.append(
        "Whether the phone stabilised or cropped the video: large errors at many marks are a sign of it."
    )
    sentences.append("Whether the court has the exact size: up to 1 cm in length and width is allowed.")
    return tuple(sentences)


def tin_of(info: MatchInfo) -> str:
    """Return which tin the court of a match has."""
    from goodlength.court import TIN_M

    return min(TIN_M, key=lambda name: abs(TIN_M[name] - info.tin_height_m))


def picture_size(file: Footage) -> tuple[int, int]:
    """Return width and height of the upright picture of a file."""
    return _size(file.id, str(_original(file)), file.where.stat().st_mtime_ns, file.first_us or 0)


@lru_cache(maxsize=64)
def _size(_footage_id: str, path: str, _changed: int, at_us: int) -> tuple[int, int]:
    from goodlength.footage.media.frame_grab import grab_frame

    grabber = grab_frame(path, at_us)[0]
    return grabber.width, grabber.height


def _picture(library: Library, file: Footage, at_us: int) -> Picture:
    """Return one picture as the camera room wants it: blue, green, red."""
    from goodlength.footage.media.frame_grab import frames_in

    rgb = next(iter(frames_in(_original(file), at_us, table=original_table(library, file))))[1]
    return rgb[:, :, ::-1].copy()


def original_table(library: Library, file: Footage) -> FrameTable:
    """Return when the pictures of the original are shown."""

    if file.frames is None:
        raise InputError("This file has no table of frames yet. Add it again on the Footage page.")
    path = library.folder / file.frames
    return _table(path, path.stat().st_mtime_ns if path.is_file() else 0)


@lru_cache(maxsize=8)
def _table(path: Path, _changed: int) -> FrameTable:
    from goodlength.footage.media.frame_presentation_time_table import FrameTable

    return FrameTable.load(path)


def _original(file: Footage) -> Path:
    path = file.where
    if not path.is_file():
        raise FootageGone(
            f"The video {path} cannot be found: it was moved or renamed, or its disk is not connected. "
            "Marks are set on the original: move it back. Earlier marks are saved."
        )
    return path


def _read(path: Path) -> dict[str, Any]:
    """Return what is kept; nothing where there is no file.

    Raises
    ------
    InputError
        It cannot be read: cameras are clicked by hand and never thrown away unasked.
    """
    plain: dict[str, Any] = {} if not path.is_file() else JsonFile(path).read()
    if not plain:
        return {}
    if plain.get("format") != FORMAT:
        raise InputError(
            f"The saved calibrations in {path} cannot be read (it says format "
            f"{plain.get('format')!r}). Bring the "
            "file back from a back-up, or move it away and click the marks again."
        )
    return plain


def _write(folder: Path, footage_id: str, plain: Mapping[str, Any]) -> None:
    JsonFile(camera_file(folder, footage_id)).write(plain)


def has_camera(library: Library, footage_id: str) -> bool:
    """Return whether a file has a camera of its own; what cannot be read counts as none."""
    try:
        return bool(camera_log(library, footage_id).spans)
    except GoodlengthError:
        return False
