"""Estimate the pose of one person in a frame: 17 keypoints with score and error in pixels, offline.

The model sees a square cut round the person from the original frame. It is asked three times (plain, a
wider square, mirrored): the joint is the middle answer and the spread of the three is part of its error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.errors import OutOfRange
from goodlength.footage.models import network
from goodlength.footage.vision.person_detection import PersonDetection, Picture, checked

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# In this order; pairs are left, right of the person. Source: COCO
NAMES = (
    "nose",
    "left eye",
    "right eye",
    "left ear",
    "right ear",
    "left shoulder",
    "right shoulder",
    "left elbow",
    "right elbow",
    "left wrist",
    "right wrist",
    "left hip",
    "right hip",
    "left knee",
    "right knee",
    "left ankle",
    "right ankle",
)
BONES = (
    (5, 6),
    (5, 7),
    (7, 9),
    (6, 8),
    (8, 10),
    (11, 12),
    (5, 11),
    (6, 12),
    (11, 13),
    (13, 15),
    (12, 14),
    (14, 16),
)
SWAPPED = (0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15)
MODELS = {"careful": ("movenet-thunder.onnx", 256), "quick": ("movenet-lightning.onnx", 192)}
SEEN = 0.3  # a joint with a lower score counts as not seen; source: MOVENET-PAGE
WIDER = (1.25, 1.5)  # how much more than the person's box is cut out
LEAST_PX_TALL = (
    60  # a person smaller than this is not asked for joints: measured, see docs/reasons/players.md
)
# How far two models differ at a joint both see, each way, in lengths of the trunk, all of it taken as ours:
# at scores of 0.6 and more, and at 0.3. Measured on real walkers, see docs/reasons/players.md
SHARE_OFF, SHARE_OFF_UNSURE, SURE_SCORE = 0.05, 0.10, 0.6
HAND_PX = 3.0  # error of a joint put in place by hand; ASSUMED


@dataclass(frozen=True, eq=False)
class Pose:
    """One person's joints in one picture.

    `uv` (17, 2) px in the upright picture; `score` (17,) 0 to 1; `error_px` (17,) standard error each way;
    `by_hand` (17,) marks joints a person put in place, which stand over the model's.
    """

    uv: Floats
    score: Floats
    error_px: Floats
    by_hand: Bools

    @property
    def seen(self) -> Bools:
        """Which joints count as seen, shape (17,)."""
        return np.asarray(((self.score >= SEEN) | self.by_hand) & np.isfinite(self.uv).all(axis=1))

    @property
    def sure(self) -> float:
        """Mean score of the twelve joints of trunk and limbs; 1 for each put in place by hand."""
        return float(np.where(self.by_hand, 1.0, self.score)[5:].mean())

    @property
    def trunk_px(self) -> float:
        """From the middle of the shoulders to the middle of the hips, px; NaN where they are not seen."""
        if not self.seen[[5, 6, 11, 12]].all():
            return float("nan")
        return float(np.linalg.norm(self.uv[[5, 6]].mean(axis=0) - self.uv[[11, 12]].mean(axis=0)))


def estimate_pose(
    picture: Picture, person: PersonDetection, how: str = "careful", *, once: bool = False
) -> Pose | None:
    """Return the joints of one person, or None where the person is too small to be asked for.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        Upright, blue-green-red, at the size of the original: a smaller copy loses joints.
    person : Person
        A box round the whole person; a third too large or too small does little harm.
    how : str
        "careful", or "quick": faster, worse on small and blurred people.
    once : bool
        Ask once instead of three times: three times faster, and the error is only the usual one.

    Raises
    ------
    OutOfRange
        No such picture, or another `how`.

    Limits
    ------
    One view: depth is not seen, and the joints of whoever stands in front may be taken. Left and right
    can be swapped from behind; the score does not tell.
    """
    checked(picture)
    if how not in MODELS:
        raise OutOfRange(f"Joints are found {' or '.join(map(repr, MODELS))}; got {how!r}.")
    if person.height < LEAST_PX_TALL:
        return None
    looks = ((WIDER[0], False),) if once else ((WIDER[0], False), (WIDER[1], False), (WIDER[0], True))
    answers = np.stack([_asked(picture, person, wider, how, mirrored=turned) for wider, turned in looks])
    uv = np.median(answers[:, :, :2], axis=0)
    score = np.median(answers[:, :, 2], axis=0)
    off = answers[:, :, :2] - answers[:, :, :2].mean(axis=0)
    spread = np.sqrt((off**2).sum(axis=(0, 2)) / max(1, 2 * (len(looks) - 1)))
    found = Pose(uv, score, spread, np.zeros(len(NAMES), dtype=bool))
    trunk = found.trunk_px
    unsure = np.clip((SURE_SCORE - score) / (SURE_SCORE - SEEN), 0.0, 1.0)
    share = SHARE_OFF + (SHARE_OFF_UNSURE - SHARE_OFF) * unsure
    least = share * (trunk if np.isfinite(trunk) else person.height / 3.5)
    return replace(found, error_px=np.hypot(spread, least))


def with_corrections(found: Pose | None, by_hand: Mapping[int, tuple[float, float]]) -> Pose:
    """Return the joints with some put in place by hand; these stand over the model's, the others stay.

    Parameters
    ----------
    found : Joints or None
        What the model found; None where it found nobody: then only the joints given are seen.
    by_hand : mapping of int to (u, v)
        Number of the joint (see `NAMES`) and its place, px.

    Raises
    ------
    OutOfRange
        For a joint that is none, or a place that is not a number.
    """
    count = len(NAMES)
    base = found or Pose(
        np.full((count, 2), np.nan), np.zeros(count), np.full(count, np.nan), np.zeros(count, dtype=bool)
    )
    uv, score, error, hand = base.uv.copy(), base.score.copy(), base.error_px.copy(), base.by_hand.copy()
    for joint, place in by_hand.items():
        if not 0 <= joint < count or not np.isfinite(place).all():
            raise OutOfRange(
                f"A joint is a number from 0 to {count - 1}, its place (u, v) in px; got {joint} at {place}. "
                "Drag it to a place in the frame.",
                page="Drag the body point to a place inside the frame.",
            )
        uv[joint], score[joint], error[joint], hand[joint] = place, 1.0, HAND_PX, True
    return Pose(uv, score, error, hand)


def _asked(
    picture: Picture, person: PersonDetection, wider: float, how: str, *, mirrored: bool = False
) -> Floats:
    """Return one answer of the model, rows of u, v, score in the picture."""
    name, size = MODELS[how]
    side = max(8, round(max(person.width, person.height) * wider))
    u0 = round((person.left + person.right - side) / 2.0)
    v0 = round((person.top + person.bottom - side) / 2.0)
    square = _cut(picture, u0, v0, side, size)
    if mirrored:
        square = square[:, ::-1]
    net = network(name)
    net.setInput(np.ascontiguousarray(square[None, :, :, ::-1]).astype(np.int32))
    answer = np.asarray(net.forward()).reshape(len(NAMES), 3).astype(float)
    y, x, score = answer[:, 0], answer[:, 1], answer[:, 2]
    if mirrored:
        order = list(SWAPPED)
        y, x, score = y[order], 1.0 - x[order], score[order]
    return np.column_stack([u0 + x * side, v0 + y * side, score])


def _cut(picture: Picture, left: int, top: int, side: int, size: int) -> Picture:
    """Return a square of the picture, black where it reaches beyond, made `size` px wide."""
    high, wide = picture.shape[:2]
    x0, y0, x1, y1 = max(0, left), max(0, top), min(wide, left + side), min(high, top + side)
    whole = np.zeros((side, side, 3), np.uint8)
    if x1 > x0 and y1 > y0:
        whole[y0 - top : y1 - top, x0 - left : x1 - left] = picture[y0:y1, x0:x1]
    way = cv2.INTER_AREA if side > size else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(whole, (size, size), interpolation=way), dtype=np.uint8)
