"""The library of drills, in our own words.

Every drill is common practice, no source: what is ours is the wording, the doses and the measure.
Doses are a place to begin and stay under the load a coach would set anyway; cautions come with them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from goodlength.errors import NotFound


class Company(StrEnum):
    """Who must be on court."""

    SOLO = "solo"
    PAIR = "pair"
    FEEDER = "feeder"  # a partner or coach who only feeds


class Theme(StrEnum):
    """What a drill works on; a finding names the same themes."""

    SERVE = "serve"
    SERVE_AND_NEXT = "serve-and-next"
    RETURN = "return"
    LENGTH = "length"
    VOLLEY = "volley"
    MOVEMENT = "movement"
    PRESSURE = "pressure"


class DrillLevel(StrEnum):
    """How far the player has come."""

    NEW = "new"
    CLUB = "club"
    COUNTY = "county"


@dataclass(frozen=True)
class DrillSpot:
    """A place on the floor in metres of the court frame, with what is there."""

    words: str
    x_m: float
    y_m: float


@dataclass(frozen=True)
class WallBox:
    """A box taped on the front wall, metres: `left_m` from the left wall, `low_m` above the floor."""

    left_m: float
    low_m: float
    wide_m: float
    tall_m: float

    @property
    def middle_m(self) -> tuple[float, float]:
        """Its middle: across from the left wall, up from the floor."""
        return self.left_m + self.wide_m / 2, self.low_m + self.tall_m / 2


@dataclass(frozen=True)
class Dose:
    """How much: sets of attempts, and the rest between sets in seconds."""

    sets: int
    attempts: int
    rest_s: int


@dataclass(frozen=True)
class Drill:
    """One drill: where one stands, what is done, what counts, and what it should change.

    `minutes` is for the club dose. `place` names a taped box that Aim can place ("front-wall"), a floor
    zone, or None. `body_target` marks drills that serve at a person. `mixed` marks those whose task itself
    draws or leaves open what comes next: they are random practice from the first session.
    """

    id: str
    name: str
    theme: Theme
    company: Company
    do: str
    counts: str
    changes: str
    spots: tuple[DrillSpot, ...]
    place: str | None
    dose: Dose
    minutes: int
    kinds: tuple[str, ...] = ()  # kinds of serve it belongs to; empty: any
    body_target: bool = False
    own: bool = False
    box: WallBox | None = None  # where the tape goes, when the coach has said
    mixed: bool = False

    @property
    def name_id(self) -> str:
        """The drill as a command names it, from its name; `id`, as stored since, stays accepted.

        Examples
        --------
        >>> drill("length-with-a-hoop").name_id
        'length-to-the-taped-corner'
        """
        return self.id if self.own else "-".join(re.findall(r"[a-z0-9]+", self.name.lower()))


_RIGHT_BOX = DrillSpot("server, right box", 5.6, 6.3)
_LEFT_BOX = DrillSpot("server, left box", 0.8, 6.3)
_T = DrillSpot("the T", 3.2, 5.47)
_BACK_LEFT = DrillSpot("back left corner", 1.0, 8.7)
_BACK_RIGHT = DrillSpot("back right corner", 5.4, 8.7)
_FEED_FRONT = DrillSpot("feeder, front left", 1.2, 2.2)

DRILLS: tuple[Drill, ...] = (
    Drill(
        "lob-to-the-box",
        "Lobs to the taped box",
        Theme.SERVE,
        Company.SOLO,
        "Tape a box on the front wall, 30 cm wide and 50 cm tall, where your good lobs hit it. Serve lobs from one box, then the other; warm the ball first.",
        "The ball hits the front wall inside the tape.",
        "More lobs that die deep by the side wall.",
        (_RIGHT_BOX, _LEFT_BOX),
        "front-wall",
        Dose(3, 15, 45),
        12,
        ("lob",),
    ),
    Drill(
        "same-swing-two-serves",
        "One swing, two serves",
        Theme.SERVE,
        Company.SOLO,
        "Draw a card or toss a coin after the ball is in the hand: heads lob, tails hard. Same stance for both.",
        "The serve is good and its kind is the one drawn.",
        "A serve that cannot be read from the stance, and a mix that cannot be guessed.",
        (_RIGHT_BOX, _LEFT_BOX),
        None,
        Dose(4, 10, 45),
        12,
        mixed=True,
    ),
    Drill(
        "hard-to-the-back-corner",
        "Hard serves past the shoulder",
        Theme.SERVE,
        Company.SOLO,
        "Serve hard and low over the service line so that the ball meets the side wall behind the service box.",
        "First bounce behind the service box, within one racket length of the side wall.",
        "A second serve to trust when the lob is read.",
        (_RIGHT_BOX, _LEFT_BOX),
        "back-quarter",
        Dose(3, 12, 45),
        10,
        ("hard", "mid-height"),
    ),
    Drill(
        "serve-at-the-body",
        "Try the body serve",
        Theme.SERVE,
        Company.PAIR,
        "With a partner who has agreed, both in eye protection, a slow ball: serve to bounce at the feet, "
        "then for the back-wall nick. Stop when either of you says so.",
        "The return comes back loose or not at all.",
        "Know whether the body serve troubles opponents before you need it in a match.",
        (_RIGHT_BOX, _BACK_LEFT),
        None,
        Dose(2, 10, 60),
        10,
        ("body-feet", "body-nick"),
        True,
    ),
    Drill(
        "serve-and-first-volley",
        "Serve, then the next ball",
        Theme.SERVE_AND_NEXT,
        Company.PAIR,
        "Serve, move to the T, and volley the partner's loose return straight. The rally ends there.",
        "The volley passes the service box and stays within a racket length of the side wall.",
        "Loose returns that turn into points.",
        (_RIGHT_BOX, _T),
        "back-quarter",
        Dose(4, 10, 60),
        15,
    ),
    Drill(
        "serve-and-hold-the-t",
        "Serve and be there",
        Theme.SERVE_AND_NEXT,
        Company.PAIR,
        "Serve and reach the T before the return is hit; the partner returns anywhere. Play three shots.",
        "Both feet at the T when the partner hits.",
        "Time on the second ball.",
        (_LEFT_BOX, _T),
        None,
        Dose(4, 8, 60),
        12,
    ),
    Drill(
        "volley-the-return",
        "Take it early",
        Theme.RETURN,
        Company.FEEDER,
        "The feeder serves lobs and mid-height serves at random; return each on the volley, straight.",
        "Volleyed, and the ball passes the service box near the side wall.",
        "Returns taken before the back wall can trap them.",
        (_BACK_LEFT, _RIGHT_BOX),
        "back-quarter",
        Dose(4, 10, 60),
        15,
        mixed=True,
    ),
    Drill(
        "return-off-the-side-wall",
        "Return off the side wall",
        Theme.RETURN,
        Company.FEEDER,
        "The feeder serves high to the side wall; wait, step back, lift the return straight and deep.",
        "The return is tight: the feeder could not attack it.",
        "Fewer loose returns of the high serve.",
        (_BACK_LEFT, _RIGHT_BOX),
        "back-quarter",
        Dose(4, 10, 60),
        15,
        ("lob",),
    ),
    Drill(
        "return-of-the-body-serve",
        "Return the body serve",
        Theme.RETURN,
        Company.FEEDER,
        "The feeder serves at the body with a slow ball, both in eye protection; turn the hips, make room, lift.",
        "Return made, and not in the middle of the court.",
        "A calm return when jammed.",
        (_BACK_LEFT, _RIGHT_BOX),
        None,
        Dose(3, 8, 60),
        10,
        ("body-feet", "body-nick"),
        True,
    ),
    Drill(
        "straight-length-alone",
        "Straight drives alone",
        Theme.LENGTH,
        Company.SOLO,
        "Drive straight to yourself from behind the short line, one side at a time.",
        "First bounce behind the service box, second at or near the back wall.",
        "Deeper, tighter drives.",
        (_BACK_RIGHT, _BACK_LEFT),
        "back-quarter",
        Dose(4, 20, 45),
        15,
    ),
    Drill(
        "length-with-a-hoop",
        "Length to the taped corner",
        Theme.LENGTH,
        Company.PAIR,
        "Straight drives up and down one side; both count balls that land in the taped back corner.",
        "First bounce in the taped square.",
        "Length that holds when someone else is in the way.",
        (_BACK_RIGHT, _T),
        "back-quarter",
        Dose(4, 16, 60),
        15,
    ),
    Drill(
        "boast-and-drive",
        "Boast and drive",
        Theme.MOVEMENT,
        Company.PAIR,
        "One boasts from the back, one drives straight from the front; change after each set.",
        "The drive passes the service box; the boast reaches the front wall before the far side wall.",
        "Getting from corner to corner with balance.",
        (_BACK_LEFT, _FEED_FRONT),
        None,
        Dose(4, 16, 75),
        16,
    ),
    Drill(
        "six-corners",
        "Six-corner ghosting",
        Theme.MOVEMENT,
        Company.SOLO,
        "From the T to a corner called or drawn, play the shot without a ball (ghosting), back to the T. Start slowly.",
        "The step pattern is complete and both feet are back at the T.",
        "The same first step when tired.",
        (_T,),
        None,
        Dose(4, 8, 75),
        12,
        mixed=True,
    ),
    Drill(
        "volley-the-cross",
        "Cut off the cross-court",
        Theme.VOLLEY,
        Company.FEEDER,
        "The feeder drives cross-court; step to the side wall and volley straight.",
        "Volleyed in front of the short line, and past the service box.",
        "Take time away from the opponent.",
        (_T, _BACK_LEFT),
        "back-quarter",
        Dose(4, 12, 60),
        15,
    ),
    Drill(
        "under-pressure-lift",
        "Late, so lift",
        Theme.PRESSURE,
        Company.FEEDER,
        "The feeder sends the ball short or wide; arrive late on purpose and lob, cross-court or straight.",
        "The lob passes above the feeder's reach and lands behind the service box.",
        "Fewer hurried errors at the front.",
        (_FEED_FRONT, _T),
        "back-quarter",
        Dose(4, 10, 75),
        15,
        mixed=True,
    ),
    Drill(
        "eight-all",
        "Eight-all",
        Theme.PRESSURE,
        Company.PAIR,
        "Play from 8-all, serving first; change server each game. Note down the kind of serve before each one.",
        "The game is won.",
        "The same serve at 9-all as at 2-all.",
        (_RIGHT_BOX, _BACK_LEFT),
        None,
        Dose(5, 1, 90),
        20,
        mixed=True,
    ),
)


def drill(drill_id: str, own: tuple[Drill, ...] = ()) -> Drill:
    """Return one drill by the id of its name or its stored id, the coach's own included.

    Raises
    ------
    NotFound
        No drill of that id; the sentence names some that are there.

    Examples
    --------
    >>> drill("lobs-to-the-taped-box") == drill("lob-to-the-box")
    True
    """
    for drill_item in (*own, *DRILLS):
        if drill_id in (drill_item.id, drill_item.name_id):
            return drill_item
    some = ", ".join(item.name_id for item in DRILLS[:4])
    raise NotFound(
        f"There is no drill {drill_id!r}. Drills include {some}. List all with `goodlength practice drills`.",
        page="That drill is not in the list. Choose one on the Drills page.",
    )


def dose_for(drill_item: Drill, level: DrillLevel, junior: bool) -> Dose:
    """Return the drill's dose for a level and an age; juniors do fewer sets and rest longer.

    Limits
    ------
    The steps are ours (no source): a coach sets the load; the national body's youth guidance stands above.

    Examples
    --------
    >>> dose_for(drill("lob-to-the-box"), DrillLevel.NEW, junior=True)
    Dose(sets=1, attempts=10, rest_s=75)
    """
    sets, attempts, rest = drill_item.dose.sets, drill_item.dose.attempts, drill_item.dose.rest_s
    if level is DrillLevel.NEW:
        sets, attempts, rest = max(1, sets - 1), max(1, attempts * 2 // 3), rest + 15
    elif level is DrillLevel.COUNTY:
        sets += 1
    if junior:
        sets, rest = max(1, sets - 1), rest + 15
    return Dose(sets, attempts, rest)
