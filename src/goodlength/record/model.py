"""Types of the record, and of the match that replay gives.

Stored facts are entries: what happened and who said so. Score, server, box and counts are always
worked out again by replay (`record.entry_log_replay`); nothing here knows the store.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import Any

from goodlength.record.entry_value_types import CalledValue, Content, MeasuredValue, content_of
from goodlength.scoring.scoring_types import (
    Box,
    Decision,
    Format,
    Game,
    Next,
    Points,
    RuleFault,
    ScoredEvent,
    Side,
    Start,
)


class Depth(StrEnum):
    """How much is asked for each rally."""

    SCORE = "score"
    SERVE = "serve-and-return"
    SHOTS = "every-shot"


class ReturnKind(StrEnum):
    """How the return of serve was taken."""

    VOLLEYED = "volleyed"
    AFTER_SIDE_WALL = "after-the-side-wall"
    AFTER_BOUNCE = "after-the-bounce"
    OFF_BACK_WALL = "off-the-back-wall"
    NOT_MADE = "not-made"


class Left(StrEnum):
    """What the return left the server."""

    NOT_MADE = "not-made"
    LOOSE = "loose"
    TIGHT = "tight"
    ATTACKED = "attacked"


class Ending(StrEnum):
    """How a rally ended; strokes, no lets and conduct are endings of their own."""

    WINNER = "winner"
    FORCED_ERROR = "forced-error"
    UNFORCED_ERROR = "unforced-error"
    STROKE = "stroke"
    NO_LET = "no-let"
    LET = "let"
    SERVICE_FAULT = "service-fault"
    CONDUCT = "conduct"


class ShotType(StrEnum):
    """The shot played; a volley is a manner of any of them."""

    DRIVE = "drive"
    CROSS_COURT = "cross-court"
    BOAST = "boast"
    DROP = "drop"
    LOB = "lob"
    KILL = "kill"
    OTHER = "other"


class EntryKind(StrEnum):
    """What an entry answers. The value each takes is listed in docs/reference/entries.md."""

    # Equal to its word, so it must hash like its word; and replay looks answers up by the thousand.
    __hash__ = str.__hash__

    MATCH = "match"  # match details set or changed: a part of MatchInfo as JSON
    SPAN = "span"  # {"start_us": int, "end_us": int | None, "how": "answers" | "marked" | "heard"}
    SERVER = "server"  # "a" | "b": the server seen, where the rules say otherwise
    BOX = "box"  # "right" | "left"
    KIND = "serve.kind"  # id of a kind of serve
    AIM = "serve.aim"  # free words
    RECEIVER_PLACE = "serve.receiver-place"  # usual | up | back | wide
    FAULT_WHY = "serve.fault-why"
    MEASURED = "serve.measured"  # marks on pictures and what they gave: see entries.md
    HOW_TAKEN = "return.how"
    RETURN_STROKE = "return.stroke"
    RETURN_TO = "return.to"  # straight | cross-court | boast | short, or a quarter
    LEFT = "return.left"
    WINNER = "winner"  # "a" | "b"
    ENDING = "ending"
    ENDING_STROKE = "ending.stroke"
    ENDING_VOLLEY = "ending.volley"  # bool
    ENDING_PLACE = "ending.place"  # front-left ... back-right
    ENDING_WHY = "ending.why"  # choice | execution
    SET_TO = "set-to"  # 9 | 10 (15 | 17), the receiver's choice before the rally at 8-all (14-all)
    CALLED = "called"  # the marker called it otherwise: see entries.md
    SHOT = "shot"  # {"n": int, "by": "a"|"b", "stroke", "volley", "place", "at_us", "pressed"}
    NOTE = "note"
    KEEP = "keep"  # bool
    PROPOSED = "proposed"  # what the ball's path proposed when the coach answered: see entries.md
    CONDUCT = "conduct"  # {"to": "a"|"b", "game": bool}: stands between rallies, with a key of its own
    RETIRED = "retired"  # {"side": "a"|"b", "why": str}
    PLACE = "place"  # {"after": rally key or None}: puts a forgotten rally where it belongs
    REMOVE = "remove"  # takes a whole rally out; an undo brings it back
    UNDO = "undo"  # `replaces` names the entry taken back
    DAMAGED = "damaged"  # never written: a line of the log that cannot be read, kept as it stands


@dataclass(frozen=True)
class Entry:
    """One answer: never changed after it is written. A value of None means "not recorded" (skipped).

    `observer` names who watched, and after a "/" the tab it was written in ("coach/7f3a"). The part
    before the "/" is the layer: two observers are two layers, two tabs of one observer are one.
    """

    id: str
    match: str
    observer: str
    at_utc: datetime
    rally: str  # the rally's key, made by whoever answers; "" for the match itself
    what: EntryKind
    value: Any  # plain JSON, as stored; `content` is what it says
    replaces: str | None = None

    @cached_property
    def content(self) -> Content:
        """Return the value as its type, read once; one that fits none is an `UnreadableValue`."""
        return content_of(self.what, self.value)


@dataclass(frozen=True)
class Consent:
    """Who agreed to what, when, and until when. `given_by` is a parent for a junior."""

    given_by: str
    when: date
    purposes: tuple[str, ...]  # record | clips | handout
    until: date | None


@dataclass(frozen=True)
class Player:
    """A person in the library; `hand` is the playing hand."""

    id: str
    name: str
    hand: str = "right"  # right | left
    born_year: int | None = None
    junior: bool = False
    consent: Consent | None = None
    notes: str = ""


@dataclass(frozen=True)
class KindOfServe:
    """One entry of the library's own list of serves; old matches keep the id."""

    id: str
    words: str
    retired: bool = False


DEFAULT_KINDS = (
    KindOfServe("lob", "Lob"),
    KindOfServe("mid-height", "Mid-height"),
    KindOfServe("hard", "Hard"),
    KindOfServe("body-feet", "Body, bouncing at the feet"),
    KindOfServe("body-nick", "Body, for the back-wall nick"),
    KindOfServe("other", "Other"),
)


@dataclass(frozen=True)
class MatchInfo:
    """What is known about a match before the first rally."""

    id: str
    players: tuple[str, str]  # ids of A and B
    coached: Side = Side.A
    event: str = ""
    played_on: date | None = None
    format: Format = field(default_factory=Format)
    start: Start = field(default_factory=Start)
    tin_height_m: float = 0.48
    court: str = ""
    ball: str = "double yellow"
    ball_warmth: str = "warm"
    depth: Depth = Depth.SERVE
    footage: tuple[str, ...] = ()
    observer: str = "coach"
    demo: bool = False
    zone: str = (
        "UTC"  # name of the time zone the match was played in; "unknown" where it was not to be found out
    )
    clothes_a: str = ""  # what A and B wear, in the coach's words, to tell them apart in the video
    clothes_b: str = ""


@dataclass(frozen=True)
class Serve:
    """The serve of one rally; None is "not recorded"."""

    kind: str | None = None
    aim: str | None = None
    receiver_place: str | None = None
    fault: bool = False
    fault_why: str | None = None
    measured: MeasuredValue | None = None


@dataclass(frozen=True)
class Return:
    """The return of serve; None is "not recorded"."""

    how: ReturnKind | None = None
    stroke: ShotType | None = None
    to: str | None = None
    left: Left | None = None


@dataclass(frozen=True)
class Shot:
    """One shot of the rally; the serve is shot 1."""

    n: int
    by: Side
    stroke: str | None = None
    volley: bool | None = None
    place: str | None = None
    at_us: int | None = None
    pressed: bool | None = None


@dataclass(frozen=True)
class Rally:
    """One rally after replay: facts as written, score and server as the rules give them."""

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
    certain: bool
    start_us: int | None = None
    end_us: int | None = None
    span_how: str | None = None
    serve: Serve = field(default_factory=Serve)
    ret: Return = field(default_factory=Return)
    shots: tuple[Shot, ...] = ()
    ending: Ending | None = None
    ending_stroke: ShotType | None = None
    ending_volley: bool | None = None
    ending_place: str | None = None
    ending_why: str | None = None
    decision: Decision | None = None
    called_otherwise: CalledValue | None = None
    note: str = ""
    keep: bool = False
    skipped: frozenset[str] = frozenset()  # the `What` values answered with "not recorded"
    answered: frozenset[str] = frozenset()
    complete: bool = True  # false while questions of the depth are open
    shots_in_all: int | None = None  # how many shots the rally had, if said
    set_to: int | None = None  # what the receiver chose to play to, before this rally
    server_known: bool = True  # false: nobody wrote it down and the rules leave it open
    box_known: bool = True  # false: `box` is only what is proposed


def rescored(rally: Rally, line: ScoredEvent) -> Rally:
    """Return a rally whose answers are as they were, with the score of another line.

    Only where `differs_in_score_alone` holds of the lines. A copy with `replace` takes ten times as long.
    """
    scored = object.__new__(Rally)
    vars(scored).update(vars(rally))
    vars(scored).update(
        n=line.n,
        game=line.game,
        n_in_game=line.n_in_game,
        box=line.box,
        box_free=line.box_free,
        before=line.before,
        after=line.after,
        let=line.let,
        hand_out=line.hand_out,
        call=line.call,
        ends_game=line.ends_game,
        certain=line.certain,
        box_known=line.box_known,
    )
    return scored


@dataclass(frozen=True)
class Match:
    """A match replayed from its entries, with every fault found at once."""

    info: MatchInfo
    rallies: tuple[Rally, ...]
    games: tuple[Game, ...]
    games_won: Points
    faults: tuple[RuleFault, ...]
    next: Next | None
    winner: Side | None
    how_over: str | None
    entries: int
    lines: tuple[
        ScoredEvent, ...
    ] = ()  # rallies and what stands between them (conduct, score put right, retired)
    open_key: str | None = None  # the last rally, while it is still being written down
    opening: str = ""  # what the marker says before the first serve


_NOT_POINTED_TO = Path("/goodlength/not pointed to yet")


@dataclass(frozen=True)
class Footage:
    """One file of a match's recording, in the order played; the file itself is never changed.

    `look` is what probing it said, as JSON; `proxy` and `frames` are paths inside the library folder.
    `starts_us` is the match time of its first frame where it was placed by hand.
    """

    id: str
    match: str
    path: str
    place: int = 0
    copied: bool = False  # true for an upload, which lives in the library folder
    size: int | None = None
    mtime_ns: int | None = None
    sha256: str | None = None
    look: Any = None
    proxy: str | None = None
    frames: str | None = None
    first_us: int | None = None
    end_us: int | None = None
    starts_us: int | None = None

    @property
    def where(self) -> Path:
        """Return where the file lies.

        A bare name came with a match from another machine: it is looked for nowhere until the coach points
        to the file.
        """
        path = Path(self.path)
        return path if path.is_absolute() else _NOT_POINTED_TO / path.name

    @property
    def to_be_found(self) -> bool:
        """Return whether only the file's name is known, as after an import."""
        return not Path(self.path).is_absolute()


@dataclass(frozen=True)
class Clip:
    """A file cut from the footage of a match, so that it can be found again and erased."""

    id: str
    match: str
    path: str
    rally: str | None = None
    from_us: int | None = None
    to_us: int | None = None
    made_utc: datetime | None = None
