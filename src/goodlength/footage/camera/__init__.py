"""The camera, solved from clicked court marks: where it stands, how it looks, how surely places follow.

It never changes clicks by itself and never trusts a suggestion: the coach accepts marks.
Public: what is listed below.
"""

from goodlength.footage.camera.blunders import Suspect
from goodlength.footage.camera.clicks import Click
from goodlength.footage.camera.drawing import Stroke, court_over
from goodlength.footage.camera.drift import (
    Drift,
    DriftLook,
    Patch,
    drift_by_clicks,
    drift_by_patches,
    patches_from_json,
    patches_of,
    patches_to_json,
)
from goodlength.footage.camera.keeping import CameraLog, CameraSpan, camera_from_json, camera_to_json
from goodlength.footage.camera.marks import CourtMark, court_marks, mark_named
from goodlength.footage.camera.places import Ellipse, NotSeen, Place, Spot
from goodlength.footage.camera.solving import Camera, ErrorSpan, Residual, solve_camera
from goodlength.footage.camera.suggesting import Suggestion, suggest_marks

__all__ = [
    "Camera",
    "CameraLog",
    "CameraSpan",
    "Click",
    "CourtMark",
    "Drift",
    "DriftLook",
    "Ellipse",
    "ErrorSpan",
    "NotSeen",
    "Patch",
    "Place",
    "Residual",
    "Spot",
    "Stroke",
    "Suggestion",
    "Suspect",
    "camera_from_json",
    "camera_to_json",
    "court_marks",
    "court_over",
    "drift_by_clicks",
    "drift_by_patches",
    "mark_named",
    "patches_from_json",
    "patches_of",
    "patches_to_json",
    "solve_camera",
    "suggest_marks",
]
