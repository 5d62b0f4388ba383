"""The camera, solved from clicked court marks: where it stands, how it looks, how surely places follow.

It never changes clicks by itself and never trusts a suggestion: the coach accepts marks.
Public: what is listed below.
"""

from goodlength.footage.camera.calibration_storage import (
    CameraLog,
    CameraSpan,
    camera_from_json,
    camera_to_json,
)
from goodlength.footage.camera.camera_calibration import (
    CameraCalibration,
    ClickResidual,
    ErrorSpan,
    calibrate_camera,
)
from goodlength.footage.camera.camera_nudge_detection import (
    Drift,
    DriftCheck,
    ImagePatch,
    drift_by_patches,
    image_patches_of,
    patches_from_json,
    patches_to_json,
)
from goodlength.footage.camera.click_outliers import OutlierMark
from goodlength.footage.camera.court_mark_click_validation import Click
from goodlength.footage.camera.court_mark_definitions import CourtMark, court_marks, mark_named
from goodlength.footage.camera.court_mark_detection import Suggestion, suggest_marks
from goodlength.footage.camera.court_overlay import Polyline, court_over
from goodlength.footage.camera.projection_uncertainty import CourtPoint, ErrorEllipse, ImagePoint, OutOfView

__all__ = [
    "CameraCalibration",
    "CameraLog",
    "CameraSpan",
    "Click",
    "ClickResidual",
    "CourtMark",
    "CourtPoint",
    "Drift",
    "DriftCheck",
    "ErrorEllipse",
    "ErrorSpan",
    "ImagePatch",
    "ImagePoint",
    "OutOfView",
    "OutlierMark",
    "Polyline",
    "Suggestion",
    "calibrate_camera",
    "camera_from_json",
    "camera_to_json",
    "court_marks",
    "court_over",
    "drift_by_patches",
    "image_patches_of",
    "mark_named",
    "patches_from_json",
    "patches_to_json",
    "suggest_marks",
]
