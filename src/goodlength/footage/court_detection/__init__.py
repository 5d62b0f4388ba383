"""The court found by itself: a camera solved from the lines in the picture, offered only where that is sure.

It never saves a camera: the coach approves. It cannot recognise a mirrored film, since the court is its own
mirror image. Public: `detect_court`, `detect_court_in`, `DetectedCourt`, `background_plate`, `FRAMES`.
"""

from goodlength.footage.court_detection.court_detection_in_image import FRAMES, DetectedCourt, detect_court
from goodlength.footage.court_detection.court_detection_in_video import detect_court_in
from goodlength.footage.court_detection.median_background_image import BackgroundPlate, background_plate

__all__ = [
    "FRAMES",
    "BackgroundPlate",
    "DetectedCourt",
    "background_plate",
    "detect_court",
    "detect_court_in",
]
