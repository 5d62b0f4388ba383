"""Truth of a generated film: people, ball, court marks and camera in every frame.

Pixels are those of the file, (u, v) from the upper left corner of the upper left pixel; metres are in the
court frame. A place outside the picture keeps its coordinates and is not visible.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.recording_types import WorldContact, WorldSpan

Points = NDArray[np.float64]

JOINT_NAMES = (
    "nose", "crown", "neck", "pelvis", "left shoulder", "right shoulder", "left elbow", "right elbow",
    "left wrist", "right wrist", "left hip", "right hip", "left knee", "right knee", "left ankle",
    "right ankle", "left heel", "right heel", "left toe", "right toe",
)  # fmt: skip
_X0, _X1, _BOX = 0.0, court.WIDTH_M, court.BOX_M
_BACK, _MIDDLE = court.LENGTH_M, court.MIDDLE_M
MARK_PLACES_M: dict[str, tuple[float, float, float]] = {
    "front wall foot, left": (_X0, 0, 0),
    "front wall foot, right": (_X1, 0, 0),
    "tin, left": (_X0, 0, court.SINGLES.tin.value_m),
    "tin, right": (_X1, 0, court.SINGLES.tin.value_m),
    "service line, left": (_X0, 0, court.SERVICE_LINE_M),
    "service line, right": (_X1, 0, court.SERVICE_LINE_M),
    "front out line, left": (_X0, 0, court.FRONT_OUT_M),
    "front out line, right": (_X1, 0, court.FRONT_OUT_M),
    "short line, left": (_X0, court.SHORT_LINE_FRONT_M, 0),
    "short line, right": (_X1, court.SHORT_LINE_FRONT_M, 0),
    "T": (_MIDDLE, court.SHORT_LINE_FRONT_M, 0),
    "left box, front": (_BOX, court.SHORT_LINE_REAR_M, 0),
    "right box, front": (_X1 - _BOX, court.SHORT_LINE_REAR_M, 0),
    "left box, back": (_BOX, court.BOX_REAR_M, 0),
    "right box, back": (_X1 - _BOX, court.BOX_REAR_M, 0),
    "left box, wall": (_X0, court.BOX_REAR_M, 0),
    "right box, wall": (_X1, court.BOX_REAR_M, 0),
    "half-court line, back": (_MIDDLE, _BACK, 0),
    "back wall foot, left": (_X0, _BACK, 0),
    "back wall foot, right": (_X1, _BACK, 0),
    "back out line, left": (_X0, _BACK, court.BACK_OUT_M),
    "back out line, right": (_X1, _BACK, court.BACK_OUT_M),
}


@dataclass(frozen=True)
class PersonLabel:
    """Truth of one person: name ("player 0", "spectator 2", ...), feet and joints in metres and pixels.

    `feet_m` are the soles' middles, left and right; `joints_m` follow `JOINT_NAMES`. `box` holds left, top,
    right, bottom of body and head in pixels, `head_share` the part of the head's points that can be seen.
    """

    name: str
    feet_m: Points
    feet_px: Points
    feet_visible: NDArray[np.bool_]
    joints_m: Points
    joints_px: Points
    joints_visible: NDArray[np.bool_]
    box: tuple[float, float, float, float]
    head_box: tuple[float, float, float, float]
    head_share: float


@dataclass(frozen=True)
class BallLabel:
    """Truth of the ball: place at the middle of the exposure, its streak from start to end, share seen."""

    place_m: Points
    centre_px: Points
    streak_px: Points
    radius_px: float
    seen_share: float


@dataclass(frozen=True)
class FrameLabel:
    """Truth of one frame: moment of the middle row's exposure, people, ball if it is out, marks, camera.

    `marks_px` and `marks_visible` follow `MARK_PLACES_M`; a mark is visible where it lies inside the picture
    and no person stands before it. `pose` is 3 by 4: the rotation's rows and the camera's place. `more_balls`
    are those of further plays.
    """

    time_s: float
    people: tuple[PersonLabel, ...]
    ball: BallLabel | None
    marks_px: Points
    marks_visible: NDArray[np.bool_]
    pose: Points
    more_balls: tuple[BallLabel, ...] = ()


@dataclass(frozen=True)
class FilmLabels:
    """Truth of a film: its family, the conditions it was drawn with, contacts, spans and frames.

    Contacts are seen at `time_s`; `sound_delay_s` of each says how much later the microphone hears it.
    """

    family: str
    conditions: dict[str, str | float]
    frames_per_second: float
    size: tuple[int, int]
    focal_px: float
    radial: float
    player_names: tuple[str, str]
    contacts: tuple[WorldContact, ...]
    spans: tuple[WorldSpan, ...]
    nudges_s: tuple[float, ...] = ()
    frames: tuple[FrameLabel, ...] = ()
    sound_delay_s: tuple[float, ...] = field(default=())
