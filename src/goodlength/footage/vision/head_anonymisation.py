"""Anonymise heads in frames that are shown to others: players and people behind glass alike.

```
 picture ──> people ──> joints of the head? ──yes──> a circle round them
                │                 └──no──> the top fifth of the person, or all of him where that is unsure
                └──> missed here but seen a moment before or after: all of him, where he was
```
It covers rather too much than too little, and it cannot be undone: what lay there is gone.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from goodlength.footage.vision.person_detection import (
    PersonDetection,
    Picture,
    detect_people,
    squares_around,
)
from goodlength.footage.vision.pose_estimation import estimate_pose

Floats = NDArray[np.float64]
Item = TypeVar("Item")

LEAST_SURE = 0.22  # a box as unsure as this is covered too
SURE = 0.45  # a person surer than this has his head looked for; of others all is covered
SURE_JOINTS = 0.30
HOLD = 25  # pictures before and after in which somebody seen here is taken to be still about
RECENT_SURE = 0.35  # a person surer than this and lost a moment later is covered where he was
SHORTLY = 10  # pictures; further off only sure ones count
HIDING_MARGIN = 0.4  # of his size round somebody lost, others may hide him
STRIDE = 0.12  # of his height a person may move from picture to picture
TOP_SHARE = 0.20  # of a person's box
WIDE = 0.55  # a box wider than this share of its height may hold two
HEAD_SHARE = 0.11  # of a person's height: a head's half height with room to spare
WIDER = 0.15  # how much more than a box is covered
BLOCKS = 4  # across a head: too few to know anybody by
LOOKS_A_S = 12.5  # pictures looked at in a second; heads in the others lie between those of their neighbours
MOST_BETWEEN = HOLD // 5  # pictures between two looks: several looks lie within `HOLD` each way
FULL_EVERY = 2  # looks, of which the first sees all of a large picture and the others where people were
BETWEEN = 0.1  # by how much more is covered in a picture not looked at


@dataclass(frozen=True)
class HeadRegion:
    """A part of the picture to be covered, px: left, top, right, bottom; round, or as a box."""

    left: float
    top: float
    right: float
    bottom: float
    is_round: bool = False

    def grown(self, share: float) -> HeadRegion:
        """Return the same, larger on all sides by a share of its size."""
        x, y = share * (self.right - self.left), share * (self.bottom - self.top)
        return HeadRegion(self.left - x, self.top - y, self.right + x, self.bottom + y, self.is_round)

    def may_become(self, other: HeadRegion) -> bool:
        """Return whether another patch, a moment later, may cover the same head: alike and not far off."""
        wide, high = self.right - self.left, self.bottom - self.top
        alike = 0.5 < (other.right - other.left + 1.0) / (wide + 1.0) < 2.0
        aside = abs(other.left + other.right - self.left - self.right) / 2.0
        above = abs(other.top + other.bottom - self.top - self.bottom) / 2.0
        return alike and self.is_round == other.is_round and aside < 1.5 * wide and above < 1.5 * high

    def towards(self, other: HeadRegion, share: float) -> HeadRegion:
        """Return the patch a share of the way to another."""
        left, right = (
            (1.0 - share) * a + share * b for a, b in ((self.left, other.left), (self.right, other.right))
        )
        top, bottom = (
            (1.0 - share) * a + share * b for a, b in ((self.top, other.top), (self.bottom, other.bottom))
        )
        return HeadRegion(left, top, right, bottom, self.is_round)


@dataclass(frozen=True, eq=False)
class HeadDetections:
    """One picture looked at: people found, and what to cover of each."""

    people: tuple[PersonDetection, ...]
    heads: tuple[HeadRegion, ...]


def detect_heads(picture: Picture, near: HeadDetections | None = None, steps: int = 1) -> HeadDetections:
    """Detect people in a frame and the patches that cover their heads, or all of them where unsure.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        Upright, blue-green-red.
    near : HeadDetections, optional
        Found `steps` pictures before: of a large picture only those parts are looked at to which these
        people can have come, so that nobody new is found elsewhere.
    """
    high, wide = picture.shape[:2]
    parts = None if near is None else squares_around(near.people, wide, high, _reach(steps))
    people = detect_people(picture, LEAST_SURE, tiles=parts)
    heads = tuple(patch for detection in people for patch in _head(picture, detection, people))
    return HeadDetections(people, heads)


def _head(picture: Picture, person: PersonDetection, people: tuple[PersonDetection, ...]) -> list[HeadRegion]:
    """Return what to cover of one person."""
    whole = HeadRegion(person.left, person.top, person.right, person.bottom).grown(WIDER)
    if person.score < SURE:
        return [whole]
    top = HeadRegion(person.left, person.top, person.right, person.top + TOP_SHARE * person.height).grown(
        WIDER
    )
    found = estimate_pose(picture, person, "quick", once=True)
    if found is None:
        return [top.grown(WIDER)]
    face = found.uv[:5][found.seen[:5]]
    if len(face) < 2:
        return [top] if found.sure >= SURE_JOINTS else [whole]
    middle = face.mean(axis=0)
    reach = float(np.linalg.norm(face - middle, axis=1).max())
    radius = max(2.0 * reach, HEAD_SHARE * max(person.height, 0.8 * person.width))
    if np.isfinite(found.trunk_px):
        radius = max(radius, 0.40 * found.trunk_px)
    round_it = HeadRegion(
        middle[0] - radius, middle[1] - 1.25 * radius, middle[0] + radius, middle[1] + 1.1 * radius, True
    )
    if not whole.left <= middle[0] <= whole.right or not whole.top <= middle[1] <= whole.bottom:
        return [whole, round_it]
    # Two people behind each other may be one box, and the joints those of either.
    crowded = person.width > WIDE * person.height or any(
        other is not person and _touch(person, other) for other in people
    )
    low = middle[1] > person.top + 0.4 * person.height  # bent far down, or another's head
    return [round_it, whole if low else top] if crowded or low else [round_it]


def _touch(a: PersonDetection, b: PersonDetection) -> bool:
    return a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom


def cover_heads(picture: Picture, patches: Iterable[HeadRegion]) -> Picture:
    """Return a picture with patches made into a few large blocks each; the picture given stays as it is.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3) or (h, w)
    """
    made = picture.copy()
    high, wide = picture.shape[:2]
    for patch in patches:
        x0, y0 = max(0, math.floor(patch.left)), max(0, math.floor(patch.top))
        x1, y1 = min(wide, math.ceil(patch.right)), min(high, math.ceil(patch.bottom))
        if x1 - x0 < 2 or y1 - y0 < 2:
            continue
        part = made[y0:y1, x0:x1]
        size = max(1, round(max(x1 - x0, y1 - y0) / BLOCKS))
        few = (max(1, (x1 - x0) // size), max(1, (y1 - y0) // size))
        blocks = cv2.resize(part, few, interpolation=cv2.INTER_AREA)
        flat = cv2.resize(blocks, (x1 - x0, y1 - y0), interpolation=cv2.INTER_LINEAR)
        if patch.is_round:
            inside = np.zeros(part.shape[:2], np.uint8)
            middle = (round((patch.left + patch.right) / 2) - x0, round((patch.top + patch.bottom) / 2) - y0)
            axes = (round((patch.right - patch.left) / 2), round((patch.bottom - patch.top) / 2))
            cv2.ellipse(inside, middle, axes, 0, 0, 360, 1, -1)
            part[inside > 0] = flat[inside > 0]
        else:
            part[:] = flat
    return made


def blur_regions(pictures: Iterable[Picture], rate_hz: float = 25.0) -> Iterator[Picture]:
    """Yield pictures of a clip in order, each with every head covered; one comes out for each that goes in.

    A person seen in one picture and missed in the next is covered whole where he was: so the first
    pictures come out only when the next `HOLD` have been read.

    Parameters
    ----------
    pictures : iterable of ndarray of uint8, shape (h, w, 3)
        Upright, blue-green-red, in the order shown.
    rate_hz : float
        Pictures a second.

    Limits
    ------
    Somebody the detector misses for more than `HOLD` pictures in a row stays uncovered: look at the clip
    before it goes out. Names on clothes, voices and the court itself are not covered.
    Pictures between two looks cover both looks and the way between patches of one shape: where a head's
    patch is round in one look and all of the person in the next, nothing is covered on the way.
    """
    for picture, patches in _patches_along(pictures, lambda picture: picture, rate_hz):
        yield cover_heads(picture, patches)


def _patches_along(
    shown: Iterable[Item], picture_of: Callable[[Item], Picture], rate_hz: float
) -> Iterator[tuple[Item, list[HeadRegion]]]:
    """Yield each picture and what to cover in it, once the next few have been looked at.

    Parameters
    ----------
    picture_of : callable
        Gives a picture in blue-green-red; called for those that are looked at only.
    """
    every = round(min(max(rate_hz / LOOKS_A_S, 1), MOST_BETWEEN))
    items: deque[Item] = deque()
    waiting: deque[HeadDetections | None] = deque()
    before: deque[HeadDetections | None] = deque(maxlen=HOLD)
    last: HeadDetections | None = None
    for n, item in enumerate(shown):
        items.append(item)
        if n % every == 0:
            near = last if n // every % FULL_EVERY else None
            last = detect_heads(picture_of(item), near, every)
        waiting.append(last if n % every == 0 else None)
        if len(waiting) > HOLD:
            yield items.popleft(), _next(waiting, before)
    while waiting:
        yield items.popleft(), _next(waiting, before)


def _next(waiting: deque[HeadDetections | None], before: deque[HeadDetections | None]) -> list[HeadRegion]:
    """Return the patches of the next picture: its own and those of people it lost."""
    own = waiting.popleft()
    patches = head_regions_of(own, list(before), list(waiting))
    before.append(own)
    return patches


def head_regions_of(
    own: HeadDetections | None, before: list[HeadDetections | None], ahead: list[HeadDetections | None]
) -> list[HeadRegion]:
    """Return what to cover in a picture, from what was seen in it and in its neighbours.

    Parameters
    ----------
    own : Looked or None
        None where the picture was not looked at: then the two next to it that were stand for it.
    before, ahead : list of Looked or None
        In the order shown.
    """
    if own is None:
        patches, known = _between(_nearest(before[::-1]), _nearest(ahead))
    else:
        patches, known = list(own.heads), list(own.people)
    for others in (before[::-1], ahead):
        for steps, other in enumerate(others, 1):
            for person in lost(() if other is None else other.people, known, steps):
                gone = _whole(person).grown(WIDER)
                patches.append(gone)
                # He may stand behind somebody near: of whoever that is all is covered.
                about = gone.grown(HIDING_MARGIN)
                patches += [
                    _whole(detection).grown(WIDER) for detection in known if _within(detection, about)
                ]
    return list(dict.fromkeys(patches))


def _nearest(others: list[HeadDetections | None]) -> tuple[int, HeadDetections] | None:
    """Return the first picture that was looked at, and how many pictures away it is."""
    searched = ((steps, other) for steps, other in enumerate(others, 1) if other is not None)
    return next(searched, None)


def _between(
    earlier: tuple[int, HeadDetections] | None, later: tuple[int, HeadDetections] | None
) -> tuple[list[HeadRegion], list[PersonDetection]]:
    """Return what to cover between two pictures, and who is known: all of both, and the ways between."""
    both = [found for found in (earlier, later) if found is not None]
    patches = [patch.grown(BETWEEN) for _, found in both for patch in found.heads]
    people = [person for _, found in both for person in found.people]
    if earlier is not None and later is not None:
        share = earlier[0] / (earlier[0] + later[0])
        for patch in earlier[1].heads:
            follows = [other for other in later[1].heads if patch.may_become(other)]
            patches += [patch.towards(other, share).grown(BETWEEN) for other in follows]
    return patches, people


def _whole(person: PersonDetection) -> HeadRegion:
    return HeadRegion(person.left, person.top, person.right, person.bottom)


def _within(person: PersonDetection, patch: HeadRegion) -> bool:
    """Return whether a person's box touches a patch."""
    overlaps_across = person.left < patch.right and patch.left < person.right
    return overlaps_across and person.top < patch.bottom and patch.top < person.bottom


def lost(
    others: Iterable[PersonDetection], known: Iterable[PersonDetection], steps: int
) -> list[PersonDetection]:
    """Return those of another picture, `steps` away, whom nobody known here can be; each is matched once.

    In the time between, a person may have moved by a share of his height.
    """
    free = list(known)
    gone = []
    for person in others:
        if person.score < (RECENT_SURE if steps <= SHORTLY else SURE):
            continue
        reach = _reach(steps) * person.height
        near = [
            (math.dist(_middle(person), _middle(detection)), k)
            for k, detection in enumerate(free)
            if 0.5 < (detection.height + 1.0) / (person.height + 1.0) < 2.0
        ]
        best = min(near, default=(math.inf, -1))
        if best[0] <= reach:
            free.pop(best[1])
        else:
            gone.append(person)
    return gone


def _reach(steps: int) -> float:
    """Return how far a person may have moved in so many pictures, in shares of his height."""
    return 0.3 + STRIDE * steps


def _middle(person: PersonDetection) -> tuple[float, float]:
    return (person.left + person.right) / 2.0, (person.top + person.bottom) / 2.0


def blur_regions_rgb(
    timed: Iterable[tuple[int, Picture]], rate_hz: float = 25.0
) -> Iterator[tuple[int, Picture]]:
    """Yield `blur_regions` of red-green-blue frames, each with its media time."""
    times: deque[int] = deque()

    def pictures() -> Iterator[Picture]:
        for us, picture in timed:
            times.append(us)
            yield np.ascontiguousarray(picture[:, :, ::-1])

    for picture in blur_regions(pictures(), rate_hz):
        yield times.popleft(), np.ascontiguousarray(picture[:, :, ::-1])


def anonymised_frames(frames: Iterable[VideoFrame], rate_hz: float = 25.0) -> Iterator[VideoFrame]:
    """Yield upright frames of a film (yuv420p) with every head covered, timestamps and colours as they were.

    For the making of clips: wrap the frames just before they are encoded.
    """

    def picture_of(frame: VideoFrame) -> Picture:
        return np.asarray(frame.to_ndarray(format="bgr24"), dtype=np.uint8)

    for frame, patches in _patches_along(frames, picture_of, rate_hz):
        yield _covered(frame, patches)


def _covered(frame: VideoFrame, patches: list[HeadRegion]) -> VideoFrame:
    """Return a frame with patches covered in brightness and both colours; all else bit for bit."""
    if not patches:
        return frame
    planes = np.asarray(frame.to_ndarray(format="yuv420p"), dtype=np.uint8)
    high, wide = frame.height, frame.width
    half = [
        HeadRegion(patch.left / 2, patch.top / 2, patch.right / 2, patch.bottom / 2, patch.is_round)
        for patch in patches
    ]
    made = planes.copy()
    made[:high] = cover_heads(planes[:high], patches)
    for k in range(2):
        rows = slice(high + k * high // 4, high + (k + 1) * high // 4)
        made[rows] = cover_heads(planes[rows].reshape(high // 2, wide // 2), half).reshape(high // 4, wide)
    out = VideoFrame.from_ndarray(made, format="yuv420p")
    out.pts, out.duration = frame.pts, frame.duration
    if frame.time_base is not None:
        out.time_base = frame.time_base
    out.colorspace, out.color_range = frame.colorspace, frame.color_range
    out.color_trc, out.color_primaries = frame.color_trc, frame.color_primaries
    return out
