"""Joint angles at a strike for a still, with their errors in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from goodlength.files.library_layout import body_files
from goodlength.files.locked_json_file import JsonFile
from goodlength.footage.edit.drawing_overlay import OverlayLine
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.strike_pose_estimation_and_correction import corrected_by_hand

if TYPE_CHECKING:
    from goodlength.record.model import Rally
    from goodlength.tasks.match.lazy_match import OpenMatch

KNEES = {"left": (11, 13, 15), "right": (12, 14, 16)}  # hip, knee, ankle; numbers as in `joints.NAMES`


def marks_at_strike(opened: OpenMatch, rally: Rally) -> tuple[tuple[OverlayLine, ...], str]:
    """Return the knee angles of server and receiver at the serve where joints are known, and them with the
    trunk in words.

    Nothing is found anew: `footage body`, the Body page or `show tell --find` find joints.

    Returns
    -------
    lines : tuple of Line
        Shares of the picture.
    words : str
        "" where no joints are kept.
    """
    from goodlength.footage.vision.pose_sequence_estimation import pose_sequence_from, with_hands
    from goodlength.measure.body.joint_angles_and_hand_path import Angle, angles_of

    poses = JsonFile(body_files(opened.library.folder, opened.id)[0]).shown()
    server = rally.server.value
    lines: list[OverlayLine] = []
    sentences: list[str] = []
    for who, name in ((server, "server"), ("b" if server == "a" else "a", "receiver")):
        key = f"{rally.key}/1/{who}"
        form: Any = poses.get(key)
        if form is None:
            continue
        joints = with_hands(pose_sequence_from(form), corrected_by_hand(opened, key)).at(int(form["at_us"]))
        if joints is None:
            continue
        angles = [angle for angle in angles_of(joints) if isinstance(angle, Angle)]
        knees = [angle for angle in angles if angle.name == "knee"]
        parts = []
        if knees:
            knee = min(knees, key=lambda angle: angle.error_rad)
            wide, high = camera_calibration.picture_size(opened.file(str(form["footage"])))
            points = [tuple(joints.uv[n]) for n in KNEES[knee.side]]
            lines.append(OverlayLine("angle", tuple((_share(u, wide), _share(v, high)) for u, v in points)))
            parts.append(f"knee {_degrees(knee)}")
        parts += [f"trunk {_degrees(angle)}" for angle in angles if angle.name == "trunk"]
        if parts:
            sentences.append(f"{name}: {', '.join(parts)}")
    return tuple(lines), "; ".join(sentences)


def _degrees(item: Any) -> str:
    return f"{math.degrees(item.angle_rad):.0f}° ± {math.degrees(item.error_rad):.0f}"


def _share(value: float, whole: int) -> float:
    return min(1.0, max(0.0, float(value) / whole))
