"""Detect people in a frame: a bounding box and a score for each, offline.

The detector sees a square of 416 px. A large picture is looked at whole and in squares that overlap, each
at most `MOST_SHRUNK` times smaller; what was found twice is counted once, and a box that ends at the edge
between two squares is left to the square that has all of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.errors import OutOfRange
from goodlength.footage.models import network

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]

MODEL = "nanodet-416.onnx"
SIDE = 416
SHORT = 256  # the shorter side of a film of 16 to 9 is 234 then
STRIDES = (32, 16, 8)  # px between the cells of the three grids; source: NANODET
BINS = 11  # a box's edge is a mean over these distances, in strides; source: NANODET
MEAN_BGR = (103.53, 116.28, 123.675)  # source: NANODET, of the pictures it was trained on
SPREAD_BGR = (57.375, 57.12, 58.395)  # source: NANODET
PERSON = 0  # first of the 80 classes; source: COCO
SURE = 0.45
SAME = 0.5  # boxes that share more than this of their area together are one person
EDGE_SHARE = 0.01
MOST_SHRUNK = 2.6  # a player 100 px tall is then still 38 px tall
MOST_SIDE = round(SIDE * MOST_SHRUNK)


@dataclass(frozen=True)
class PersonDetection:
    """A box round a person in the upright picture, px, and the detector's score, 0 to 1."""

    left: float
    top: float
    right: float
    bottom: float
    score: float

    @property
    def width(self) -> float:
        """Its width, px."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Its height, px."""
        return self.bottom - self.top

    @property
    def feet(self) -> tuple[float, float]:
        """The middle of its lower edge (u, v): about where the feet stand."""
        return (self.left + self.right) / 2.0, self.bottom


def detect_people(
    picture: Picture,
    sure: float = SURE,
    within: tuple[int, int, int, int] | None = None,
    tiles: Sequence[tuple[int, int, int]] | None = None,
) -> tuple[PersonDetection, ...]:
    """Return everybody found in a picture, the surest first.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        Upright, blue-green-red.
    sure : float
        Least score, 0 to 1.
    within : (left, top, right, bottom), optional
        Look only at this part of the picture, px.
    tiles : sequence of (x, y, side), optional
        Look only at these squares of that part, px; left out, at all of it.

    Raises
    ------
    OutOfRange
        If it is no such picture.

    Limits
    ------
    People under about 40 px tall, or smeared by movement, are often missed: a low `sure` finds more of
    them and more that are none.
    """
    checked(picture)
    high, wide = picture.shape[:2]
    left, top, right, bottom = within or (0, 0, wide, high)
    left, top, right, bottom = max(0, left), max(0, top), min(wide, right), min(high, bottom)
    if right - left < 8 or bottom - top < 8:
        return ()
    boxes: list[Floats] = [np.empty((0, 5))]
    for x0, y0, side in squares(right - left, bottom - top) if tiles is None else tiles:
        part = picture[top + y0 : min(bottom, top + y0 + side), left + x0 : min(right, left + x0 + side)]
        found = _detect_in_tile(part, side, sure)
        found = _whole(found, x0, y0, side, right - left, bottom - top)
        found[:, :4] += (left + x0, top + y0, left + x0, top + y0)
        boxes.append(found)
    merged_boxes = merged(np.concatenate(boxes))
    merged_boxes[:, :4] = np.clip(merged_boxes[:, :4], 0.0, (wide, high, wide, high))
    return tuple(PersonDetection(*row) for row in merged_boxes.tolist())


def checked(picture: Picture) -> None:
    """Refuse what is no colour picture."""
    if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8:
        raise OutOfRange(
            f"A frame is an array of uint8, height by width by 3; got {picture.dtype}, {picture.shape}. "
            "Decode the frame to blue-green-red first."
        )


def squares(wide: int, high: int) -> list[tuple[int, int, int]]:
    """Return the whole picture, and where that is too large squares (x, y, side) that cover it and overlap.

    Examples
    --------
    >>> squares(640, 360)
    [(0, 0, 640)]
    >>> squares(1920, 1080)
    [(0, 0, 1920), (0, 0, 1080), (420, 0, 1080), (840, 0, 1080)]
    """
    if max(wide, high) <= MOST_SIDE:
        return [(0, 0, max(wide, high))]
    side = _side(wide, high)
    parts = [(x, y, side) for y in _steps(high, side) for x in _steps(wide, side)]
    return [(0, 0, max(wide, high)), *parts]


def _side(wide: int, high: int) -> int:
    return MOST_SIDE if min(wide, high) > MOST_SIDE else max(min(wide, high), SIDE)


def squares_around(
    people: Iterable[PersonDetection], wide: int, high: int, margin: float
) -> list[tuple[int, int, int]]:
    """Return squares (x, y, side) that show all of some people; all squares where these would be as many.

    Parameters
    ----------
    margin : float
        Round each of them, in shares of his height.

    Examples
    --------
    >>> left, right = PersonDetection(300, 400, 400, 700, 0.9), PersonDetection(1500, 500, 1600, 800, 0.8)
    >>> squares_around([left], 1920, 1080, 0.5), squares_around([left, right], 1920, 1080, 0.5)
    ([(0, 0, 1080)], [(0, 0, 1080), (840, 0, 1080)])
    """
    everything = squares(wide, high)
    side = _side(wide, high)
    groups: list[Floats] = []
    for person in sorted(people, key=lambda person: person.left):
        room = margin * person.height
        grown = np.array([person.left - room, person.top - room, person.right + room, person.bottom + room])
        box = np.clip(grown, 0, (wide, high, wide, high))
        if (box[2:] - box[:2] > side).any():
            return everything
        for k, group in enumerate(groups):
            joined = np.concatenate([np.minimum(group[:2], box[:2]), np.maximum(group[2:], box[2:])])
            if (joined[2:] - joined[:2] <= side).all():
                groups[k] = joined
                break
        else:
            groups.append(box)
    if not groups or len(groups) >= len(everything) - 1:
        return everything
    around = [
        tuple(
            int(np.clip(round((group[c] + group[c + 2] - side) / 2), 0, max(0, length - side)))
            for c, length in ((0, wide), (1, high))
        )
        for group in groups
    ]
    return [(x, y, side) for x, y in around]


def _whole(boxes: Floats, x: int, y: int, side: int, wide: int, high: int) -> Floats:
    """Boxes of a square that do not end where the square ends inside the picture."""
    near = EDGE_SHARE * side
    cut = ((boxes[:, 0] < near) & (x > 0)) | ((boxes[:, 2] > side - near) & (x + side < wide))
    cut |= ((boxes[:, 1] < near) & (y > 0)) | ((boxes[:, 3] > side - near) & (y + side < high))
    return boxes[~cut]


def _steps(length: int, side: int) -> list[int]:
    """Return where squares begin along a length, so that neighbours overlap by a third at least."""
    if length <= side:
        return [0]
    count = 1 + int(np.ceil((length - side) / (side * 2 / 3)))
    return [round(k * (length - side) / (count - 1)) for k in range(count)]


def _detect_in_tile(part: Picture, side: int, sure: float) -> Floats:
    """Boxes of people in one square, rows of left, top, right, bottom, score."""
    scale = SIDE / side
    small = cv2.resize(
        part,
        (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale))),
        interpolation=cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR,
    )
    # A wide film fills little more than half of the square: the rest is left out.
    size = tuple(SHORT if length <= SHORT else SIDE for length in small.shape[:2])
    square = np.empty((*size, 3), np.float32)
    square[:] = MEAN_BGR
    square[: small.shape[0], : small.shape[1]] = small
    square -= np.array(MEAN_BGR, np.float32)
    square /= np.array(SPREAD_BGR, np.float32)
    net = network(MODEL, size)
    net.setInput(np.ascontiguousarray(square.transpose(2, 0, 1)[None]))
    answers = net.forward(net.getUnconnectedOutLayersNames())
    by_size = {(answer.shape[1], answer.shape[2]): answer[0] for answer in answers}
    found = []
    for stride in STRIDES:
        across = square.shape[1] // stride
        cells = across * (square.shape[0] // stride)
        scores = by_size[cells, 80][:, PERSON]
        good = np.flatnonzero(scores >= sure)
        if not good.size:
            continue
        raw = by_size[cells, 4 * BINS][good].reshape(-1, 4, BINS).astype(float)
        shares = np.exp(raw - raw.max(axis=2, keepdims=True))
        reach = (shares @ np.arange(BINS)) / shares.sum(axis=2) * stride
        x, y = (good % across + 0.5) * stride, (good // across + 0.5) * stride
        found.append(
            np.column_stack(
                [x - reach[:, 0], y - reach[:, 1], x + reach[:, 2], y + reach[:, 3], scores[good]]
            )
        )
    if not found:
        return np.empty((0, 5))
    boxes = np.concatenate(found)
    boxes[:, :4] /= scale
    return boxes


def merged(boxes: Floats) -> Floats:
    """Return the surest box of each person: of those that share more than `SAME` the surest stays.

    Parameters
    ----------
    boxes : ndarray, shape (n, 5)
        left, top, right, bottom, score.
    """
    left = boxes[np.argsort(-boxes[:, 4], kind="stable")]
    chosen = []
    while len(left):
        best, left = left[0], left[1:]
        chosen.append(best)
        left = left[shared(best, left) <= SAME]
    return np.array(chosen).reshape(-1, 5)


def shared(box: Floats, others: Floats) -> Floats:
    """Return the intersection over union of two boxes; shape (n,)."""
    wide = np.minimum(box[2], others[:, 2]) - np.maximum(box[0], others[:, 0])
    high = np.minimum(box[3], others[:, 3]) - np.maximum(box[1], others[:, 1])
    common = np.maximum(wide, 0.0) * np.maximum(high, 0.0)
    area = (box[2] - box[0]) * (box[3] - box[1])
    areas = (others[:, 2] - others[:, 0]) * (others[:, 3] - others[:, 1])
    return np.asarray(common / np.maximum(area + areas - common, 1e-9))
