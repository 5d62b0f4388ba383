"""Joint angles and the path of the racket hand, from keypoints, each with its error.

One view shows no depth: an angle is that of the picture, and a limb pointing at the camera looks short.
The errors are those of the joints' places carried through; what foreshortening does is not in them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import OutOfRange
from goodlength.footage.vision.pose_estimation import Pose

Floats = NDArray[np.float64]

# Middle joint of each angle and the two it stands between, left then right; numbers as in `joints.NAMES`
ANGLES = {
    "knee": ((11, 13, 15), (12, 14, 16)),
    "hip": ((5, 11, 13), (6, 12, 14)),
    "elbow": ((5, 7, 9), (6, 8, 10)),
    "shoulder": ((7, 5, 11), (8, 6, 12)),
}
SIDES = ("left", "right")
WRIST = {"left": 9, "right": 10}
MOST_ERROR_RAD = math.radians(30.0)  # an angle less sure than this is not given
SHORTEST = 3.0  # a limb shorter than so many errors of its joints has no direction


@dataclass(frozen=True)
class Angle:
    """One angle in the picture, rad, with its standard error; `side` is "" for the trunk."""

    name: str
    side: str
    angle_rad: float
    error_rad: float


@dataclass(frozen=True)
class NoAngle:
    """An angle that cannot be given, and why."""

    name: str
    side: str
    why: str


def angles_of(joints: Pose) -> tuple[Angle | NoAngle, ...]:
    """Return the angles of knees, hips, elbows and shoulders, and how far the trunk leans from upright.

    Straight is pi; the trunk's lean is 0 when upright and always positive.

    Examples
    --------
    >>> import numpy as np
    >>> uv = np.full((17, 2), np.nan)
    >>> uv[11], uv[13], uv[15] = (0, 0), (0, 100), (100, 100)  # a left knee at a right angle
    >>> j = Pose(uv, np.ones(17), np.full(17, 4.0), np.zeros(17, dtype=bool))
    >>> knee = angles_of(j)[0]
    >>> round(knee.angle_rad, 4), round(knee.error_rad, 3)
    (1.5708, 0.08)
    """
    found: list[Angle | NoAngle] = []
    for name, pair in ANGLES.items():
        for side, (a, middle, b) in zip(SIDES, pair, strict=True):
            found.append(_angle(joints, name, side, a, middle, b))
    found.append(trunk_lean(joints))
    return tuple(found)


def _angle(joints: Pose, name: str, side: str, a: int, middle: int, b: int) -> Angle | NoAngle:
    """Return the angle at a joint, and its error from the errors of three places."""
    if not joints.seen[[a, middle, b]].all():
        return NoAngle(name, side, "not all of its body points are seen")
    item, two = joints.uv[a] - joints.uv[middle], joints.uv[b] - joints.uv[middle]
    errors = joints.error_px[[a, middle, b]]
    long = np.array([np.linalg.norm(item), np.linalg.norm(two)])
    if (long < SHORTEST * np.hypot(errors[[0, 2]], errors[1])).any():
        return NoAngle(name, side, "a limb points at the camera or is too short in the image")
    angle = abs(math.atan2(float(item[0] * two[1] - item[1] * two[0]), float(item @ two)))
    # The angle moves by 1/length for a step across a limb's end; the middle joint moves both.
    by_one, by_two = _across(item) / long[0], _across(two) / long[1]
    by_middle = by_two - by_one
    error = math.sqrt(
        float(
            (errors[0] / long[0]) ** 2 + (errors[2] / long[1]) ** 2 + (by_middle @ by_middle) * errors[1] ** 2
        )
    )
    if error > MOST_ERROR_RAD:
        return NoAngle(name, side, f"it could be {math.degrees(error):.0f} degrees off")
    return Angle(name, side, angle, error)


def _across(limb: Floats) -> Floats:
    return np.asarray(np.array([-limb[1], limb[0]]) / np.linalg.norm(limb), dtype=float)


def trunk_lean(joints: Pose, upright: tuple[float, float] = (0.0, -1.0)) -> Angle | NoAngle:
    """Return how far the trunk leans from upright in the picture.

    Parameters
    ----------
    upright : (du, dv)
        The way up in the picture where the player stands; the camera's own view of a plumb line, if known.
    """
    if not joints.seen[[5, 6, 11, 12]].all():
        return NoAngle("trunk", "", "not all of its body points are seen")
    trunk = joints.uv[[5, 6]].mean(axis=0) - joints.uv[[11, 12]].mean(axis=0)
    long = float(np.linalg.norm(trunk))
    error_px = math.sqrt(float((joints.error_px[[5, 6, 11, 12]] ** 2).sum()) / 4.0)
    if long < SHORTEST * error_px:
        return NoAngle("trunk", "", "the trunk points at the camera or is too short in the image")
    up = np.asarray(upright, dtype=float)
    angle = abs(math.atan2(float(up[0] * trunk[1] - up[1] * trunk[0]), float(up @ trunk)))
    return Angle("trunk", "", angle, error_px / long)


@dataclass(frozen=True, eq=False)
class HandPath:
    """The racket hand's way in the plane across the camera's view, from its place at the strike.

    `across_m` and `up_m` (n,) with `error_m` (n,) each way; `speed_m_s` (n,) with `speed_error_m_s` (n,), NaN
    at the ends and where too few frames show the hand. Movement towards the camera is not seen, so speeds
    are the least they can be.
    """

    times_s: Floats
    across_m: Floats
    up_m: Floats
    error_m: Floats
    speed_m_s: Floats
    speed_error_m_s: Floats
    way_m: float


def hand_path(
    times_s: Sequence[float] | Floats,
    joints: Sequence[Pose | None],
    hand: str,
    px_per_m: float,
    strike_s: float,
    window: int = 5,
) -> HandPath:
    """Return the way of one hand through pictures around a strike.

    Parameters
    ----------
    times_s : sequence of float
        Media times of the pictures, rising.
    joints : sequence of Joints or None
        None where nobody was found.
    hand : str
        "left" or "right": the hand that holds the racket.
    px_per_m : float
        Pixels a metre where the player stands; see `Camera.spot` of his feet and of a metre above them.
    strike_s : float
        Moment whose place counts as (0, 0).
    window : int
        Odd number of pictures through which a speed is fitted.

    Raises
    ------
    OutOfRange
        For another hand, a scale or times that cannot be.
    """
    times = np.asarray(times_s, dtype=float)
    if hand not in WRIST:
        raise OutOfRange(f"The racket hand is 'left' or 'right'; got {hand!r}.")
    if not (math.isfinite(px_per_m) and px_per_m > 0.0):
        raise OutOfRange(f"The scale px_per_m must be above zero; got {px_per_m:g}. Solve the camera first.")
    if len(times) != len(joints) or (len(times) > 1 and not (np.diff(times) > 0).all()):
        raise OutOfRange("Each frame needs its body points and a time later than the one before.")
    wrist = WRIST[hand]
    seen = np.array([joint is not None and bool(joint.seen[wrist]) for joint in joints], dtype=bool)
    uv = np.array([joint.uv[wrist] if joint is not None else (np.nan, np.nan) for joint in joints]).reshape(
        -1, 2
    )
    error = np.array([joint.error_px[wrist] if joint is not None else np.nan for joint in joints]) / px_per_m
    uv[~seen], error[~seen] = np.nan, np.nan
    if seen.any():
        known = np.flatnonzero(seen)
        uv = uv - uv[known[np.argmin(np.abs(times[known] - strike_s))]]
    across, up = uv[:, 0] / px_per_m, -uv[:, 1] / px_per_m
    speed, spread = _speeds(times, np.column_stack([across, up]), error, window)
    steps = np.linalg.norm(np.diff(np.column_stack([across, up])[seen], axis=0), axis=1)
    return HandPath(times, across, up, error, speed, spread, float(steps.sum()))


def _speeds(times: Floats, place: Floats, error: Floats, window: int) -> tuple[Floats, Floats]:
    """Slope of a parabola through the pictures around each, and its error from theirs."""
    n, half = len(times), window // 2
    speed, spread = np.full(n, np.nan), np.full(n, np.nan)
    for k in range(half, n - half):
        part = slice(k - half, k + half + 1)
        if not np.isfinite(place[part]).all():
            continue
        t = times[part] - times[k]
        base = np.column_stack([np.ones_like(t), t, t * t])
        weights = np.linalg.pinv(base)[1]
        slope = weights @ place[part]
        speed[k] = float(np.linalg.norm(slope))
        spread[k] = math.sqrt(float((weights**2) @ (error[part] ** 2)))
    return speed, spread
