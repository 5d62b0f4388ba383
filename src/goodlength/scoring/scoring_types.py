"""Types of the values that scoring takes and returns; no rule stands here."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Points = tuple[int, int]


class Side(StrEnum):
    """One of the two players, in the order the match names them."""

    A = "a"
    B = "b"

    @property
    def other(self) -> Side:
        """The opponent."""
        return Side.B if self is Side.A else Side.A

    @property
    def place(self) -> int:
        """0 for A and 1 for B: the place in a pair of points."""
        return 0 if self is Side.A else 1


class Box(StrEnum):
    """The service box, as the player facing the front wall names it."""

    RIGHT = "right"
    LEFT = "left"

    @property
    def other(self) -> Box:
        """The box on the other side."""
        return Box.LEFT if self is Box.RIGHT else Box.RIGHT


class System(StrEnum):
    """Who may score in a rally."""

    RALLY = "rally"  # the winner of the rally, whoever served
    HAND_OUT = "hand-out"  # the server only


class Decision(StrEnum):
    """What the referee decided when play stopped."""

    YES_LET = "yes-let"
    NO_LET = "no-let"
    STROKE = "stroke"


@dataclass(frozen=True)
class Format:
    """How a match is scored: rally scoring to 11 or 15, or hand-out to 9; best of 3 or 5.

    `setting` says whether the receiver chooses the length of the game one point before its end
    (8-all, 14-all). None takes what the rules gave: always in hand-out scoring, and in rally scoring
    to 15 in the edition of 2001; two clear points otherwise.
    """

    system: System = System.RALLY
    target: int = 11
    best_of: int = 5
    edition: str = "2025"
    setting: bool | None = None


@dataclass(frozen=True)
class Start:
    """Where the recording begins; a match begun from its start keeps the defaults.

    `handicap` is the score at which every game begins, for A and B (it may be below zero).
    """

    games: Points = (0, 0)
    points: Points | None = None  # None: the handicap, which is love-all without one
    server: Side | None = None
    box: Box | None = None
    handicap: Points = (0, 0)
    ten_all_called: bool = False


@dataclass(frozen=True)
class Outcome:
    """One rally, or one serve played again, as it ended.

    `winner` None and `let` False means that nobody wrote down who won.
    `server` and `box` are what was seen; None takes what the rules give.
    `set_to` is the receiver's choice (9 or 10) asked for at 8-all in hand-out scoring.
    `fault` is true for a serve called a fault.
    """

    key: str
    winner: Side | None = None
    let: bool = False
    decision: Decision | None = None
    fault: bool = False
    server: Side | None = None
    box: Box | None = None
    set_to: int | None = None
    called: str | None = None  # "down", "not up", "out": what the marker called, if said


@dataclass(frozen=True)
class PutRight:
    """The marker put the score right before the next rally; what is None stays."""

    key: str
    points: Points | None = None
    server: Side | None = None
    box: Box | None = None


@dataclass(frozen=True)
class Conduct:
    """A conduct stroke (`game` False) or a conduct game given to a player."""

    key: str
    to: Side
    game: bool = False


@dataclass(frozen=True)
class Retired:
    """A player stopped; the other wins. `why` is said as it was told ("injured", "disqualified")."""

    key: str
    side: Side
    why: str = "retired"


Event = Outcome | PutRight | Conduct | Retired


@dataclass(frozen=True)
class ScoredEvent:
    """One event after replay: who served, from where, and what the marker calls after it.

    `before` and `after` are A's and B's points in the game. `box_free` is true where the server
    had the choice (start of a game, hand-out). `n_in_game` counts serves of the game, lets included.
    `certain` is false from a rally without a known winner until the score is put right; the call is
    then empty, for nobody can know it. `server_known` and `box_known` are false where the rules leave
    it open and nobody wrote it down: `server` and `box` are then proposals, not facts.
    A line that is no rally (`is_rally` false: score put right, conduct, retired) repeats the count of
    the serve before it and names the server and box of the serve to come.
    """

    key: str
    n: int
    game: int
    n_in_game: int
    server: Side
    box: Box
    box_free: bool
    before: Points
    after: Points
    winner: Side | None
    let: bool
    hand_out: bool
    call: str
    ends_game: Side | None
    ends_match: Side | None
    certain: bool = True
    is_rally: bool = True
    server_known: bool = True
    box_known: bool = True

    def differs_in_score_alone(self, other: ScoredEvent) -> bool:
        """Return whether who served and who won are the same, so that answers mean the same with both."""
        return (
            self.server is other.server
            and self.server_known is other.server_known
            and self.winner is other.winner
        )


@dataclass(frozen=True)
class Game:
    """Score of one game and who won it (None while it is open)."""

    n: int
    points: Points
    winner: Side | None
    first_server: Side | None


@dataclass(frozen=True)
class RuleFault:
    """Something in the record that the rules contradict, with the rally to look at."""

    key: str | None
    code: str
    words: str


@dataclass(frozen=True)
class Next:
    """What the rules expect next: server (None: not yet known), box (proposed when free).

    `opening` is what the marker says before the first serve of a game ("Love-all"), else empty.
    """

    game: int
    server: Side | None
    box: Box | None
    box_free: bool
    points: Points
    set_choice: bool  # the receiver must choose 9 or 10 before this serve
    opening: str = ""


@dataclass(frozen=True)
class Replay:
    """A whole match worked through: lines, games, faults, and what comes next (None when over)."""

    lines: tuple[ScoredEvent, ...]
    games: tuple[Game, ...]
    games_won: Points
    faults: tuple[RuleFault, ...]
    next: Next | None
    winner: Side | None
    how_over: str | None  # "won", "retired", "disqualified", ...; None while it goes on
    opening: str = ""  # what the marker says before the first serve of the recording
