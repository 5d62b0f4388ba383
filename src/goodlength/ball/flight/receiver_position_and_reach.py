"""Parameters of the receiver: waiting position and reach; guesses a coach can change."""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.ball.model.input_validation import one_of, within
from goodlength.court import SINGLES

BOXES = ("right", "left")

# Our own guesses, no source: a step behind the box and towards the middle, a stretched arm and racket.
ASSUMED_FROM_SIDE_WALL_M = 1.75
ASSUMED_FROM_FRONT_WALL_M = 7.75
ASSUMED_REACH_UP_M = 2.30
ASSUMED_REACH_ACROSS_M = 1.60
ASSUMED_STEP_M = 0.80
ASSUMED_RACKET_ROOM_M = 0.12


@dataclass(frozen=True)
class Receiver:
    """The receiver of a serve.

    A ball can be volleyed if, before it bounces, it crosses one of three lines (a step before the
    receiver, level, a step behind) no higher than `reach_up_m`, no farther across than
    `reach_across_m`, and at least `racket_room_m` off the side wall.
    """

    x_m: float
    y_m: float = ASSUMED_FROM_FRONT_WALL_M
    reach_up_m: float = ASSUMED_REACH_UP_M
    reach_across_m: float = ASSUMED_REACH_ACROSS_M
    step_m: float = ASSUMED_STEP_M
    racket_room_m: float = ASSUMED_RACKET_ROOM_M

    def __post_init__(self) -> None:
        within("receiver's distance from the left wall", self.x_m, 0.2, SINGLES.width.value_m - 0.2, "m")
        within("receiver's distance from the front wall", self.y_m, 4.5, SINGLES.length.value_m - 0.2, "m")
        within("receiver's reach upwards", self.reach_up_m, 1.0, 3.2, "m")
        within("receiver's reach across", self.reach_across_m, 0.3, 4.0, "m")
        within("receiver's step", self.step_m, 0.0, 2.0, "m")
        within("room a racket needs at the wall", self.racket_room_m, 0.0, 0.5, "m")

    @classmethod
    def usual(cls, box: str) -> Receiver:
        """Return the usual place for a serve from that box: behind the other one."""
        one_of("box", box, BOXES)
        x = ASSUMED_FROM_SIDE_WALL_M
        return cls(x if box == "right" else SINGLES.width.value_m - x)

    @property
    def lines_m(self) -> tuple[float, float, float]:
        """The three lines across the court, from the front wall."""
        back = SINGLES.length.value_m - 0.05
        return (max(4.0, self.y_m - self.step_m), self.y_m, min(back, self.y_m + self.step_m))
