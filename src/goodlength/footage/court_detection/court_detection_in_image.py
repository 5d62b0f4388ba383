"""Find the court in the picture of a steady camera, without a click.

```
 frames ─ median ─> empty court ─> segments ─> many cameras ─> a dozen ─ fit to the lines ─> one ─> chance
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.errors import CalibrationError
from goodlength.footage.camera.camera_calibration import CameraCalibration, calibrate_camera
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.court_mark_click_validation import Click
from goodlength.footage.camera.court_mark_definitions import court_marks
from goodlength.footage.court_detection.camera_hypothesis_search import CAMERAS, camera_model, search_cameras
from goodlength.footage.court_detection.camera_refinement_on_lines import (
    CameraCandidate,
    CameraRefiner,
    scaled_camera,
)
from goodlength.footage.court_detection.court_wireframe import wireframe, wireframe_nodes
from goodlength.footage.court_detection.detection_probability import (
    OFFERED_FROM,
    CourtEvidence,
    court_evidence,
    partly_dark,
    unlit_lines,
)
from goodlength.footage.court_detection.line_segment_evidence import line_segments
from goodlength.footage.court_detection.median_background_image import background_plate

Bytes = NDArray[np.uint8]
MARK_EDGE_PX = 2.0  # a mark nearer to the picture's edge is left out
LONGEST_PX = 1920  # larger frames are made smaller
FEWEST_SEGMENTS = 12  # a court in view has more
FRAMES = 12  # enough that people vanish from the median
NO_COURT = (
    "No squash court was found in this video. The whole front wall and the short line must be in the frame."
)
DARK = "A large part of the frame is dark, so the court was not detected. Choose a moment with all lights on."
UNLIT = "No court lines were found in the dark part of the frame, so check the drawn lines there with care."
UNSURE = (
    "A court was found, but its lines do not fit well enough to be sure. Something else may have been taken "
    "for the court, or two courts may be in the frame."
)


@dataclass(frozen=True)
class DetectedCourt:
    """A court found by itself.

    `note` is what to know of a court that is offered, empty for most. `camera` is solved from `marks`, the
    court marks in the picture; both are there whenever a court was found, sure or not. Only where `offered`
    may it be shown as a proposal; else `why` says why not. `chance`
    is the chance that it is right.
    """

    offered: bool
    why: str
    chance: float
    marks: tuple[Click, ...] = ()
    camera: CameraCalibration | None = None
    evidence: CourtEvidence | None = None
    note: str = ""

    @property
    def error_m(self) -> float | None:
        """Median standard error of a place on the floor, m."""
        return None if self.camera is None else self.camera.floor.median_m


def detect_court(
    rng: np.random.Generator,
    frames: Sequence[Bytes],
    tin: str = "standard",
    *,
    reference: int | None = None,
    cameras: int = CAMERAS,
) -> DetectedCourt:
    """Return the court in the view of one frame, offered only where that is sure.

    Parameters
    ----------
    rng : numpy Generator
        Draws the cameras to begin with.
    frames : sequence of ndarray of uint8, shape (h, w, 3)
        Red, green, blue; a dozen, spread over some seconds or more, so that people vanish from their median.
    tin : str
        "standard" or "tour".
    reference : int, optional
        Number of the frame whose view counts; the middle one when None.
    cameras : int
        How many cameras to begin with.

    Raises
    ------
    InputError
        Without a frame, or with frames of different sizes.

    Limits
    ------
    Frames of at most 1920 pixels are searched; larger ones are made smaller, and marks scaled back.
    A court is its own mirror image: a mirrored film gives the camera of the mirrored court. Tried on made-up
    pictures only. One view: a camera that was knocked needs a new one.
    """
    picture = background_plate(_no_larger_than(frames), reference).picture
    if partly_dark(picture):
        return DetectedCourt(False, DARK, 0.0)
    found = find_cameras(rng, picture, tin, cameras)
    if not found:
        return DetectedCourt(False, NO_COURT, 0.0)
    evidence = court_evidence(found)
    height, width = frames[0].shape[:2]
    marks = marks_in_view(scaled_camera(found[0].camera, width, height), tin)
    try:
        solved = calibrate_camera(marks, width, height, tin)
    except CalibrationError:
        return DetectedCourt(False, NO_COURT, 0.0, evidence=evidence)
    if solved.floor_only or solved.front_only:
        return DetectedCourt(False, NO_COURT, 0.0, evidence=evidence)
    chance = evidence.chance
    why = "" if chance >= OFFERED_FROM else UNSURE if chance >= 0.1 else NO_COURT
    note = UNLIT if not why and unlit_lines(picture, found[0]) else ""
    return DetectedCourt(not why, why, chance, marks, solved, evidence, note)


def _no_larger_than(frames: Sequence[Bytes], long_px: int = LONGEST_PX) -> Sequence[Bytes]:
    """Return the frames, made smaller where they are larger than lines need."""
    scale = min(1.0, long_px / max((side for frame in frames for side in frame.shape[:2]), default=1))
    if scale == 1.0:
        return frames
    return [
        np.asarray(cv2.resize(frame, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
        for frame in frames
    ]


def find_cameras(
    rng: np.random.Generator, picture: Bytes, tin: str = "standard", cameras: int = CAMERAS
) -> list[CameraCandidate]:
    """Return cameras that explain lines of a picture of an empty court, the best first."""
    lines = wireframe(tin)
    shape = picture.shape[1], picture.shape[0]
    segments = line_segments(picture)
    if len(segments) < FEWEST_SEGMENTS:
        return []
    rough = search_cameras(rng, segments, shape, wireframe_nodes(lines), cameras)
    return CameraRefiner(rng, picture, lines).best([camera_model(row, *shape) for row in rough])


def marks_in_view(camera: CameraModel, tin: str = "standard") -> tuple[Click, ...]:
    """Return the court marks that lie in the picture, where a camera sees them."""
    named = court_marks(tin)
    uv, seen = camera.project(np.array([mark.at for mark in named.values()]))
    inside = seen & (uv > MARK_EDGE_PX).all(axis=1)
    inside &= (uv < np.array([camera.width, camera.height]) - MARK_EDGE_PX).all(axis=1)
    return tuple(
        Click(name, float(place[0]), float(place[1]), detected=True)
        for name, place, there in zip(named, uv, inside, strict=True)
        if there
    )
