"""Serve goals a coach can choose: where each serve is struck, what it should do, and where to search for
it.

Every number here is a place to begin, common practice without a source or our own guess; all are said on
screen and a coach can change the goal.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from goodlength.ball import Receiver
from goodlength.ball.flight.receiver_position_and_reach import BOXES
from goodlength.ball.flight.single_flight_simulation import DIES_WITHIN_M
from goodlength.ball.model.input_validation import one_of, within
from goodlength.court import SINGLES

HANDS = ("right", "left")
# A left-hander in the right box faces the middle and strikes nearer to it: ASSUMED
ASSUMED_OTHER_HAND_M = -0.30
WIDE = SINGLES.width.value_m


@dataclass(frozen=True)
class Goal:
    """What a serve is meant to do besides being good; what is None is not asked.

    Parameters
    ----------
    dies_within_m : float
        Second bounce within this of the back wall, off it or short of it (or rolled out of the nick).
    off_back_within_m : float
        Second bounce no farther off the back wall than this.
    not_volleyed : bool
        Out of the receiver's reach before it bounces.
    feet_within_m : float
        First bounce within this of the receiver's feet, no wall between.
    first_from_back_m : float
        First bounce within this of the back wall, no wall between.
    there_within_s : float
        Level with the receiver within this of the strike.
    above_m : float
        Still at least this high a step before the receiver, not yet bounced.
    """

    dies_within_m: float | None = None
    off_back_within_m: float | None = None
    not_volleyed: bool = False
    feet_within_m: float | None = None
    first_from_back_m: float | None = None
    there_within_s: float | None = None
    above_m: float | None = None

    def __post_init__(self) -> None:
        for name, words, most, unit in (
            ("dies_within_m", "distance within which it dies", 3.0, "m"),
            ("off_back_within_m", "distance off the back wall", 6.0, "m"),
            ("feet_within_m", "distance from the feet", 2.0, "m"),
            ("first_from_back_m", "distance of the first bounce from the back wall", 3.0, "m"),
            ("there_within_s", "time to the receiver", 3.0, "s"),
            ("above_m", "height a step before the receiver", 4.0, "m"),
        ):
            value = getattr(self, name)
            if value is not None:
                within(words, value, 0.05, most, unit)

    @property
    def words(self) -> str:
        """The goal in a sentence without its end.

        Examples
        --------
        >>> Goal(dies_within_m=0.6, not_volleyed=True).words
        'has its second bounce within 60 cm of the back wall and stays out of reach of a volley'
        """
        parts = []
        if self.above_m is not None:
            parts.append(f"is still {self.above_m:.1f} m high one step in front of the receiver")
        if self.dies_within_m is not None:
            parts.append(f"has its second bounce within {self.dies_within_m * 100:.0f} cm of the back wall")
        if self.feet_within_m is not None:
            parts.append(f"bounces within {self.feet_within_m * 100:.0f} cm of the receiver's feet")
        if self.first_from_back_m is not None:
            parts.append(f"first bounces within {self.first_from_back_m * 100:.0f} cm of the back wall")
        if self.there_within_s is not None:
            parts.append(f"is at the receiver within {self.there_within_s:.2g} s")
        if self.off_back_within_m is not None:
            parts.append(f"comes at most {self.off_back_within_m:.1f} m off the back wall")
        if self.not_volleyed:
            parts.append("stays out of reach of a volley")
        return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:]))) or "is good"


@dataclass(frozen=True)
class ServeGoal:
    """A kind of serve as it is aimed: struck from the right box by a right-hander; `from_box` turns it.

    `across_m`, `up_m` and `speed_m_s` are the ranges searched, front wall and off the racket.
    """

    kind: str
    words: str
    plural: str
    contact_m: tuple[float, float, float]
    goal: Goal
    up_m: tuple[float, float]
    speed_m_s: tuple[float, float]
    across_m: tuple[float, float]


@dataclass(frozen=True)
class Task:
    """One question of aim: a wanted serve from a box, by a hand, against a receiver; court frame."""

    wanted: ServeGoal
    box: str
    hand: str
    contact_m: tuple[float, float, float]
    receiver: Receiver
    goal: Goal = field(default_factory=Goal)

    @property
    def across_m(self) -> tuple[float, float]:
        """The range across the front wall that is searched, for this box."""
        low, high = self.wanted.across_m
        return (low, high) if self.box == "right" else (WIDE - high, WIDE - low)


# Heights, speeds and contact points after BALL-NOTE 3; goals are common practice, no source. ASSUMED
KINDS = (
    ServeGoal(
        "lob",
        "Lob",
        "lobs",
        (4.6, 5.8, 0.8),
        Goal(dies_within_m=DIES_WITHIN_M, above_m=1.8),
        (3.75, 4.55),
        (14.0, 26.0),
        (2.4, 3.4),
    ),
    ServeGoal(
        "mid-height",
        "Mid-height",
        "mid-height serves",
        (4.6, 5.6, 1.3),
        Goal(dies_within_m=DIES_WITHIN_M, above_m=1.0),
        (2.5, 3.7),
        (15.0, 32.0),
        (2.4, 3.5),
    ),
    ServeGoal(
        "hard",
        "Hard",
        "hard serves",
        (4.6, 5.6, 1.6),
        Goal(there_within_s=1.0, off_back_within_m=3.0),
        (1.95, 2.7),
        (22.0, 42.0),
        (2.5, 3.6),
    ),
    ServeGoal(
        "body-feet",
        "Body, bouncing at the feet",
        "serves at the feet",
        (4.6, 5.6, 1.6),
        Goal(feet_within_m=0.6),
        (1.95, 2.9),
        (16.0, 36.0),
        (3.0, 4.1),
    ),
    ServeGoal(
        "body-nick",
        "Body, for the back-wall nick",
        "serves for the back-wall nick",
        (4.6, 5.6, 1.6),
        Goal(first_from_back_m=0.35),
        (1.95, 3.6),
        (18.0, 42.0),
        (3.0, 4.1),
    ),
)


def task_of(
    kind: str,
    box: str,
    hand: str = "right",
    *,
    receiver: Receiver | None = None,
    goal: Goal | None = None,
    contact_m: tuple[float, float, float] | None = None,
) -> Task:
    """Return the question of aim for a kind of serve from a box.

    Parameters
    ----------
    kind, box, hand : str
        A kind that can be aimed, "right" or "left", "right" or "left".
    receiver, goal, contact_m
        The usual ones of the kind when left out.

    Raises
    ------
    InputError
        If kind, box or hand is none that can be aimed.

    Examples
    --------
    >>> task_of("lob", "left").contact_m
    (2.1, 5.8, 0.8)
    """
    one_of("kind of serve", kind, [serve_goal.kind for serve_goal in KINDS])
    one_of("box", box, BOXES)
    one_of("hand", hand, HANDS)
    wanted = next(serve_goal for serve_goal in KINDS if serve_goal.kind == kind)
    x, y, z = wanted.contact_m
    if hand != box:
        x += ASSUMED_OTHER_HAND_M
    place = (x, y, z) if box == "right" else (round(WIDE - x, 9), y, z)
    return Task(wanted, box, hand, contact_m or place, receiver or Receiver.usual(box), goal or wanted.goal)


def with_goal(task: Task, **changes: float | bool | None) -> Task:
    """Return the same question with parts of its goal changed."""
    return replace(task, goal=replace(task.goal, **changes))  # type: ignore[arg-type]
