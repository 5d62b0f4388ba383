"""Estimate one person's pose in every frame around a moment, from the original video.

The person is whoever stands at a given place of the picture at that moment; from there on, both ways, it is
whoever's box lies nearest to the last. Joints put in place by hand stand over those found.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from goodlength.errors import Cancelled, OutOfRange
from goodlength.files.json_types import Json
from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.vision.person_detection import PersonDetection, Picture, detect_people
from goodlength.footage.vision.pose_estimation import NAMES, Pose, estimate_pose, with_corrections
from goodlength.jobs.progress_callback import Cancel, Progress

BEFORE_US, AFTER_US = 400_000, 400_000
LONGEST_US = 3_000_000
NEAR = 0.6  # of his height a person is looked for from where he was
AROUND = 1.6  # heights round the person are searched
SURE = 0.35

ByHand = Mapping[int, Mapping[int, tuple[float, float]]]  # by picture (microseconds) and joint


@dataclass(frozen=True, eq=False)
class PoseSequence:
    """One person through the pictures of a span: media times, boxes and joints; None where he was lost."""

    times_us: tuple[int, ...]
    people: tuple[PersonDetection | None, ...]
    joints: tuple[Pose | None, ...]

    @property
    def found(self) -> float:
        """Share of pictures in which there are joints."""
        return sum(joint is not None for joint in self.joints) / len(self.joints) if self.joints else 0.0

    def at(self, us: int) -> Pose | None:
        """Return joints in the picture shown at a moment, or the one nearest to it."""
        if not self.times_us:
            return None
        return self.joints[int(np.argmin(np.abs(np.array(self.times_us) - us)))]


def pose_sequence(
    path: str | Path,
    at_us: int,
    feet: tuple[float, float],
    *,
    before_us: int = BEFORE_US,
    after_us: int = AFTER_US,
    how: str = "careful",
    table: FrameTable | None = None,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> PoseSequence:
    """Return joints of one person in every picture around a moment, such as a strike.

    Parameters
    ----------
    path : str or Path
        The original, not a smaller copy.
    at_us : int
        The moment, media time.
    feet : (u, v)
        About where the person's feet are in the picture at that moment, px: a click, or a place on the floor.
    before_us, after_us : int
        How much before and after, at most three seconds in all.

    Raises
    ------
    OutOfRange
        For a longer span, or a place that is not a number.
    FootageError, Cancelled
        As reading a film.
    """
    if before_us < 0 or after_us < 0 or before_us + after_us > LONGEST_US or not np.isfinite(feet).all():
        raise OutOfRange(
            f"Body points are found up to {LONGEST_US / 1e6:g} s around a moment, of the player at a "
            f"place (u, v); got {before_us / 1e6:g} s before, {after_us / 1e6:g} s after, at {feet}."
        )
    pictures = list(frames_in(path, max(0, at_us - before_us), at_us + after_us + 1, table=table))
    times = [us for us, _ in pictures]
    middle = int(np.argmin(np.abs(np.array(times) - at_us)))
    found: list[PersonDetection | None] = [None] * len(times)
    joints: list[Pose | None] = [None] * len(times)
    order = [range(middle, len(times)), range(middle - 1, -1, -1)]
    done = 0
    for way in order:
        last = found[middle]
        for k in way:
            if cancel is not None and cancel():
                raise Cancelled("Finding the body points was stopped; nothing was saved.")
            picture = np.ascontiguousarray(pictures[k][1][:, :, ::-1])
            found[k] = _nearest(picture, last, feet)
            if found[k] is not None:
                last = found[k]
                joints[k] = estimate_pose(picture, found[k], how)  # type: ignore[arg-type]
            done += 1
            if progress is not None:
                progress(done / len(times), "finding the body points")
    return PoseSequence(tuple(times), tuple(found), tuple(joints))


def _nearest(
    picture: Picture, last: PersonDetection | None, feet: tuple[float, float]
) -> PersonDetection | None:
    """Whoever is nearest to where the person was, or to the place given; None where nobody is near."""
    if last is None:
        people = detect_people(picture, SURE)
        near = [(math.dist(detection.feet, feet), detection) for detection in people]
        best = min(near, key=lambda pair: pair[0], default=None)
        return best[1] if best is not None and best[0] <= NEAR * best[1].height else None
    u, v = (last.left + last.right) / 2.0, (last.top + last.bottom) / 2.0
    reach = AROUND * max(last.height, last.width)
    part = tuple(round(x) for x in (u - reach, v - reach, u + reach, v + reach))
    people = detect_people(picture, SURE, part)  # type: ignore[arg-type]
    alike = [detection for detection in people if 0.6 < detection.height / last.height < 1.6]
    near = [
        (
            math.dist(
                ((detection.left + detection.right) / 2, (detection.top + detection.bottom) / 2), (u, v)
            ),
            detection,
        )
        for detection in alike
    ]
    best = min(near, key=lambda pair: pair[0], default=None)
    return best[1] if best is not None and best[0] <= NEAR * last.height else None


def with_hands(found: PoseSequence, by_hand: ByHand) -> PoseSequence:
    """Return the movement with joints put in place by hand in some pictures; nearest pictures are meant.

    Raises
    ------
    OutOfRange
        For a joint that is none.
    """
    joints = list(found.joints)
    times = np.array(found.times_us)
    for us, places in by_hand.items():
        if not len(times) or not times[0] - 100_000 <= us <= times[-1] + 100_000:
            continue
        k = int(np.argmin(np.abs(times - us)))
        joints[k] = with_corrections(joints[k], places)
    return replace(found, joints=tuple(joints))


def pose_sequence_form(found: PoseSequence) -> dict[str, Json]:
    """Return a pose sequence as plain values: places to a tenth of a pixel."""

    def plain(pose: Pose | None) -> list[list[float | None]] | None:
        if pose is None:
            return None
        rows = np.column_stack([pose.uv, pose.score, pose.error_px])
        return [[None if not np.isfinite(x) else round(x, 2) for x in row] for row in rows.tolist()]

    boxes = [
        None
        if detection is None
        else [
            round(x, 1)
            for x in (detection.left, detection.top, detection.right, detection.bottom, detection.score)
        ]
        for detection in found.people
    ]
    return {
        "times_us": list(found.times_us),
        "boxes": boxes,
        "joints": [plain(joint) for joint in found.joints],
    }


def pose_sequence_from(form: Mapping[str, object]) -> PoseSequence:
    """Return the movement, read."""

    def read(rows: Sequence[Sequence[float | None]] | None) -> Pose | None:
        if rows is None:
            return None
        table = np.array([[np.nan if x is None else x for x in row] for row in rows], dtype=float)
        return Pose(table[:, :2], table[:, 2], table[:, 3], np.zeros(len(NAMES), dtype=bool))

    times, boxes, joints = form["times_us"], form["boxes"], form["joints"]
    assert isinstance(times, list) and isinstance(boxes, list) and isinstance(joints, list)
    people = tuple(None if box is None else PersonDetection(*(float(x) for x in box)) for box in boxes)
    return PoseSequence(tuple(int(us) for us in times), people, tuple(read(joint) for joint in joints))
