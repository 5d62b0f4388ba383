"""JSON form and terminal lines of a player's pose at a strike."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np

from goodlength.files.json_types import JsonObject
from goodlength.tasks.footage.strike_pose_estimation_and_correction import StrikeBody

if TYPE_CHECKING:
    from goodlength.footage.vision.pose_estimation import Pose


class JointAngleForm(TypedDict):
    """An angle in degrees with its standard error, or why it is not given."""

    name: str
    side: str
    degrees: float | None
    error_degrees: float | None
    why: str


class HandPathForm(TypedDict):
    """The way of the hand, in metres and metres a second."""

    times_us: list[int]
    across_m: list[float | None]
    up_m: list[float | None]
    error_m: list[float | None]
    speed_m_s: list[float | None]
    speed_error_m_s: list[float | None]


class BodyJson(TypedDict):
    """The pose of one player at a strike."""

    rally: str
    who: str
    footage: str
    at_us: int
    found: float
    corrected: int
    angles: list[JointAngleForm]
    hand: HandPathForm | None
    movement: JsonObject


class JointForm(TypedDict):
    """One joint: its place and error in px, seen or not, set by hand or not."""

    u: float | None
    v: float | None
    error_px: float | None
    seen: bool
    by_hand: bool


def body_form(found: StrikeBody) -> BodyJson:
    """As plain values; angles in degrees with their standard error, the hand's way in metres."""
    from goodlength.footage.vision.pose_sequence_estimation import pose_sequence_form
    from goodlength.measure.body.joint_angles_and_hand_path import Angle

    angles: list[JointAngleForm] = [
        {
            "name": angle.name,
            "side": angle.side,
            "degrees": round(math.degrees(angle.angle_rad), 1),
            "error_degrees": round(math.degrees(angle.error_rad), 1),
            "why": "",
        }
        if isinstance(angle, Angle)
        else {
            "name": angle.name,
            "side": angle.side,
            "degrees": None,
            "error_degrees": None,
            "why": angle.why,
        }
        for angle in found.angles
    ]
    hand = found.hand
    return {
        "rally": found.rally,
        "who": found.who,
        "footage": found.footage_id,
        "at_us": found.at_us,
        "found": round(found.movement.found, 3),
        "corrected": found.corrected,
        "angles": angles,
        "hand": None
        if hand is None
        else {
            "times_us": list(found.movement.times_us),
            "across_m": _plain(hand.across_m),
            "up_m": _plain(hand.up_m),
            "error_m": _plain(hand.error_m),
            "speed_m_s": _plain(hand.speed_m_s),
            "speed_error_m_s": _plain(hand.speed_error_m_s),
        },
        "movement": pose_sequence_form(found.movement),
    }


def joints_form(joints: Pose) -> list[JointForm]:
    """Return joints of one picture as plain values: place and error in px, seen or not, by hand or not."""
    table = np.column_stack([joints.uv, joints.error_px]).tolist()
    return [
        {
            "u": round(u, 1) if math.isfinite(u) else None,
            "v": round(v, 1) if math.isfinite(v) else None,
            "error_px": round(error, 1) if math.isfinite(error) else None,
            "seen": bool(seen),
            "by_hand": bool(hand),
        }
        for (u, v, error), seen, hand in zip(table, joints.seen, joints.by_hand, strict=True)
    ]


def _plain(values: Any) -> list[float | None]:
    return [round(x, 3) if math.isfinite(x) else None for x in values.tolist()]


def body_lines(form: BodyJson) -> list[str]:
    """Return the angles at contact in lines for a terminal."""
    lines = [f"Body points found in {round(100 * form['found'])}% of the frames around contact."]
    for angle in form["angles"]:
        name = f"{angle['side']} {angle['name']}".strip()
        if angle["degrees"] is None or angle["error_degrees"] is None:
            lines.append(f"  {name:<15} not given: {angle['why']}")
        else:
            lines.append(
                f"  {name:<15} {angle['degrees']:5.0f} degrees, "
                f"± {2 * angle['error_degrees']:.0f} (95% range)"
            )
    lines.append("Angles are measured in the image: limbs pointing at the camera look shorter than they are.")
    return lines
