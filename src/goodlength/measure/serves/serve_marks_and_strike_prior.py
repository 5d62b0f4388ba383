"""Marks of one serve by a coach, and the prior of where a serve is struck.

Every mark is a place in the picture and a moment. The ball is marked where it touches something (the moment
is known to within half a picture) or in the air (the picture's own moment); feet lie on the floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from goodlength.court.dimensions import BOX_M, SHORT_LINE_REAR_M, WIDTH_M
from goodlength.errors import InputError


class MarkKind(StrEnum):
    """What was marked."""

    STRIKE = "strike"  # the ball at the racket
    FEET = "feet"  # the server's feet on the floor, between them, at the strike
    FRONT = "front"
    LEFT = "left"
    RIGHT = "right"
    FLOOR = "floor"  # the first bounce
    BACK = "back"
    SECOND = "second"  # the second bounce
    BALL = "ball"  # the ball in the air


WORDS = {
    MarkKind.STRIKE: "ball at the racket",
    MarkKind.FEET: "server's feet",
    MarkKind.FRONT: "front wall",
    MarkKind.LEFT: "left side wall",
    MarkKind.RIGHT: "right side wall",
    MarkKind.FLOOR: "first bounce",
    MarkKind.BACK: "back wall",
    MarkKind.SECOND: "second bounce",
    MarkKind.BALL: "ball in the air",
}
CONTACTS = (MarkKind.FRONT, MarkKind.LEFT, MarkKind.RIGHT, MarkKind.FLOOR, MarkKind.BACK, MarkKind.SECOND)
ONCE = (*CONTACTS, MarkKind.STRIKE, MarkKind.FEET)

# At 1080 lines. A court mark stands still and is clicked to 2 px; a ball is a streak of ten or more. ASSUMED
ASSUMED_BALL_PX = 3.7
FOUND_PX = 2.0  # of a ball found in the picture by itself, at 1080 lines
ASSUMED_FEET_PX = 4.0  # feet are less sharp than lines, at 1080 lines
ASSUMED_FEET_PICTURES = (
    1.0  # the picture of the strike is told from the swing: up to one early or late, evenly
)
# Spin about each axis, one standard deviation, while a fit is sought. Flights are then sampled with each of
# the three below, alike likely but for what the marks say: a flat serve has 60, a cut one 200
ASSUMED_SPIN_RAD_S = 150.0
ASSUMED_SPINS_RAD_S = (60.0, 120.0, 240.0)
ASSUMED_REACH_M = 0.45  # standard distance, each way, of the ball at the strike from between the feet
ASSUMED_STRUCK_M = (6.0, 0.55, 1.35, 0.55)  # middle and spread of depth and of height at the strike
ASSUMED_ACROSS_M = 0.6  # spread across, round the middle of the box
ASSUMED_VELOCITY_M_S = ((0.0, 9.0), (-22.0, 12.0), (5.0, 6.0))  # middle and spread, across, along, up
LEAST_MARKS = 2  # strike and front wall; anything beside them makes it surer


@dataclass(frozen=True)
class ServeMark:
    """One mark: what, when (s, any zero common to all), where (px of the upright picture).

    Parameters
    ----------
    frame_s : float
        How long a picture lasts: a touch lies within half of it of `at_s`.
    onset_s : float, optional
        When its sound came to the camera, where one clear onset lies there.
    about : bool
        Marked where it seemed to be, not seen sharply: four times as unsure.
    found : bool
        Not clicked: the ball's spot was found in the picture.
    again : tuple of float, optional
        Where a second click at the same thing fell, px, made without sight of the first.
    """

    what: MarkKind
    at_s: float
    u: float
    v: float
    frame_s: float = 0.04
    onset_s: float | None = None
    about: bool = False
    found: bool = False
    again: tuple[float, float] | None = None


def check_marks(marks: Sequence[ServeMark], width: int, height: int) -> None:
    """Raise InputError, in words, for marks that no serve can be measured from."""
    seen: set[MarkKind] = set()
    for mark in marks:
        name = WORDS[mark.what]
        if mark.what in ONCE and mark.what in seen:
            raise InputError(f"“{name}” is marked twice. Delete one of the marks.")
        seen.add(mark.what)
        if not all(math.isfinite(value) for value in (mark.at_s, mark.u, mark.v)):
            raise InputError(f"The mark “{name}” has no position or no time. Mark it again.")
        if not (0.0 <= mark.u <= width and 0.0 <= mark.v <= height):
            raise InputError(f"The mark “{name}” is outside the frame. Mark only what you can see.")
        if not 0.0005 <= mark.frame_s <= 0.5:
            raise InputError(
                f"A frame that lasts {mark.frame_s:g} s is too long or too short to time a ball by; from "
                "0.0005 to 0.5 s is accepted."
            )
    if MarkKind.FRONT not in seen or len(seen) < LEAST_MARKS:
        have = ", ".join(WORDS[kind] for kind in MarkKind if kind in seen) or "none"
        raise InputError(
            "A serve is measured from at least two marks, the front wall among them; marked so far: "
            f"{have}. "
            + (
                "Mark where it hits the front wall."
                if MarkKind.FRONT not in seen
                else "The front wall alone gives no speed: mark the contact, a bounce or another wall "
                "as well."
            )
        )
    _in_order(marks)


def _in_order(marks: Sequence[ServeMark]) -> None:
    """A serve goes from the racket to the front wall and then everywhere else."""
    at = {mark.what: mark.at_s for mark in marks}
    front = at[MarkKind.FRONT]
    for mark in marks:
        if mark.what is MarkKind.STRIKE and mark.at_s >= front:
            raise InputError(
                "Contact is marked at or after the front wall. Go back to contact and mark it there."
            )
        if mark.what in CONTACTS and mark.what is not MarkKind.FRONT and mark.at_s <= front:
            raise InputError(
                f"“{WORDS[mark.what]}” is marked at or before the front wall, which a serve touches "
                "first. Go on to that touch and mark it there."
            )
    if MarkKind.SECOND in at and MarkKind.FLOOR in at and at[MarkKind.SECOND] <= at[MarkKind.FLOOR]:
        raise InputError("The second bounce is marked before the first. Exchange the two.")


def strike_region(box: str | None) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """Return the middle and spread of the place of the strike, before anything is marked: across, depth,
    height.
    """
    depth, deep, up, high = ASSUMED_STRUCK_M
    if box == "right":
        across = (WIDTH_M - BOX_M / 2.0 - 0.2, ASSUMED_ACROSS_M)
    elif box == "left":
        across = (BOX_M / 2.0 + 0.2, ASSUMED_ACROSS_M)
    else:
        across = (WIDTH_M / 2.0, 2.2)
    return across, (max(depth, SHORT_LINE_REAR_M), deep), (up, high)
