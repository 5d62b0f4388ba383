"""The ball followed through the rallies of a match: shots with contacts, path, chance and alternatives.

Times are media time of the rally's file in microseconds, places metres in the court's frame (those of the
ball's centre). Coordinates and chances are what was measured; nothing of it is written to the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from goodlength.record.entry_value_types import Measured, MeasuredValue
from goodlength.scoring.scoring_types import Side

FORMAT = 1
MODEL = "paths-2"  # how paths are found; raised when they change
SOURCE_WORDS = {
    "camera": "the camera’s calibration",
    "players": "the tracked players",
    "sounds": "the detected sounds",
    "ball": "the ball or the tin",
    "search": "the search of the ball",
    "method": "an earlier version of goodlength",
}
MOST_PATHS = 3  # of a shot: the best and two others
MOST_SHOTS = 1000  # of a rally
# Bounds far beyond any court, so that whatever is read can be calculated with.
FARTHEST_M = 1000.0
LARGEST_M2 = 1e12

Chance = Annotated[float, Field(ge=0.0, le=1.0)]
MediaUs = Annotated[int, Field(ge=0, le=10**13)]
Count = Annotated[int, Field(ge=0, le=10**9)]
_Metres = Annotated[float, Field(ge=-FARTHEST_M, le=FARTHEST_M)]
_Variance = Annotated[float, Field(ge=0.0, le=LARGEST_M2)]
_Shared = Annotated[float, Field(ge=-LARGEST_M2, le=LARGEST_M2)]
Place = tuple[_Metres, _Metres, _Metres]
Covariance = tuple[
    tuple[_Variance, _Shared, _Shared],
    tuple[_Shared, _Variance, _Shared],
    tuple[_Shared, _Shared, _Variance],
]


class ContactKind(StrEnum):
    """What the ball touched; left and right as the player facing the front wall sees them.

    A front wall touched below the tin's upper edge is `TIN`; a wall touched above its line is `OUT`; the
    floor for the second time in a shot is `SECOND_BOUNCE`.
    """

    RACKET = "racket"
    FRONT = "front-wall"
    LEFT = "left-wall"
    RIGHT = "right-wall"
    BACK = "back-wall"
    FLOOR = "floor"
    SECOND_BOUNCE = "second-bounce"
    TIN = "tin"
    OUT = "out"


@dataclass(frozen=True)
class PathContact:
    """One touch of the ball; `covariance_m2` (3 by 3, camera included) is None where it is not known.

    `with_sound` says whether a sound fits its time.
    """

    kind: ContactKind
    time_us: MediaUs
    place_m: Place
    covariance_m2: Covariance | None = None
    with_sound: bool = False


@dataclass(frozen=True)
class PathSample:
    """The ball at one time; `seen` says whether a candidate of that frame lies on the path."""

    time_us: MediaUs
    place_m: Place
    seen: bool = False


def _racket_first(contacts: tuple[PathContact, ...]) -> tuple[PathContact, ...]:
    if contacts[0].kind is not ContactKind.RACKET:
        raise ValueError("the first contact of a path should be the racket")
    if any(after.time_us < before.time_us for before, after in pairwise(contacts)):
        raise ValueError("contacts should stand in order of time")
    return contacts


def _in_order(samples: tuple[PathSample, ...]) -> tuple[PathSample, ...]:
    if any(after.time_us < before.time_us for before, after in pairwise(samples)):
        raise ValueError("samples should stand in order of time")
    return samples


def _forwards(span: tuple[int, int]) -> tuple[int, int]:
    if span[1] < span[0]:
        raise ValueError("a span should end after its begin")
    return span


@dataclass(frozen=True)
class ShotPath:
    """One way in which a shot may have gone: contacts in order of time, the racket first, and samples.

    `chance` is that of order of contacts and bounce being right, among all that might have happened; those
    of a shot's paths need not add up to 1.
    """

    chance: Chance
    struck_us: MediaUs
    speed_m_s: Annotated[float, Field(ge=0.0, le=120.0)]
    contacts: Annotated[tuple[PathContact, ...], Field(min_length=1), AfterValidator(_racket_first)]
    samples: Annotated[tuple[PathSample, ...], AfterValidator(_in_order)]


@dataclass(frozen=True)
class FollowedShot:
    """A shot from one strike to the next, or to the end of the rally.

    Parameters
    ----------
    number : int
        From 1 to `MOST_SHOTS` in the rally; 1 is the serve where the rally was followed from its start.
    struck_us, until_us : int
        Its strike, and the next strike or where the rally ends.
    striker : Side or None
        Which player struck it; None where that is not known.
    track : int or None
        Which of the two tracked players (0 or 1) struck it, named or not; None without tracks.
    strike_chance : float
        Chance that a racket struck the ball then.
    paths : tuple of ShotPath
        At most three, the best first; empty where none was found.
    sure : bool
        Whether the best path may be taken without being looked at.
    hidden_us : tuple of (int, int)
        Spans in which no candidate lies on the best path.
    reason : str
        Why there is no path, or what makes it unsure; empty else.
    corrected : bool
        Whether the coach's marks or choices are in it.
    chosen : bool
        Whether the coach chose the path that is put first.
    """

    number: Annotated[int, Field(ge=1, le=MOST_SHOTS)]
    struck_us: MediaUs
    until_us: MediaUs
    striker: Side | None
    track: Annotated[int, Field(ge=0, le=1)] | None
    strike_chance: Chance
    paths: Annotated[tuple[ShotPath, ...], Field(max_length=MOST_PATHS)]
    sure: bool
    hidden_us: tuple[Annotated[tuple[MediaUs, MediaUs], AfterValidator(_forwards)], ...] = ()
    reason: str = ""
    corrected: bool = False
    chosen: bool = False

    @property
    def best(self) -> ShotPath | None:
        """The best path, where there is one."""
        return self.paths[0] if self.paths else None


@dataclass(frozen=True)
class PathServe:
    """A serve measured from its path, without a click.

    Parameters
    ----------
    chance : float
        That of its path; the ranges hold where the path is right.
    value : MeasuredValue
        As of a clicked serve, its `level` 0.9; `marks` are places of the ball that the path rests on.
    receiver_z_m, receiver_side_m : Measured or None
        Height where the receiver struck it, and distance from the nearer side wall there; None where nobody
        struck it.
    kinds, taken : mapping of str to float
        Of the flights that fit the path, the share of each kind of serve, and of each way of taking it.
    """

    chance: Chance
    value: MeasuredValue
    receiver_z_m: Measured | None = None
    receiver_side_m: Measured | None = None
    kinds: Mapping[str, Chance] = field(default_factory=dict)
    taken: Mapping[str, Chance] = field(default_factory=dict)


class PathAnswerKind(StrEnum):
    """Questions of the sheet to which paths suggest an answer; all but quarter and end are the log's own.

    The quarter is one of the log's answers to where a return went. `ended` says by what the rally was over,
    "tin", "out" or "second-bounce"; never whether it was forced.
    """

    SERVE_KIND = "serve.kind"
    HOW_TAKEN = "return.how"
    RETURN_STROKE = "return.stroke"
    RETURN_QUARTER = "return.quarter"
    RETURN_LEFT = "return.left"
    ENDED = "ended"


@dataclass(frozen=True)
class PathAnswer:
    """One answer suggested by the paths of a rally, with the chance that it is right; `by` is who gave it."""

    what: PathAnswerKind
    value: str
    chance: Chance
    by: Literal["ball-path"] = "ball-path"


@dataclass(frozen=True)
class PathSources:
    """What the paths of a rally rest on, each as a short digest; empty where there was none.

    `players` are the tracks of both, whoever they are; `ball` is ball and tin as the match says; `search` is
    what the search of the ball found in the rally. `method` is the `MODEL` that found the paths, as it is.
    """

    camera: str = ""
    players: str = ""
    sounds: str = ""
    ball: str = ""
    search: str = ""
    method: str = ""


def _one_after_another(shots: tuple[FollowedShot, ...]) -> tuple[FollowedShot, ...]:
    if any(shot.until_us < shot.struck_us for shot in shots):
        raise ValueError("a shot should end after its strike")
    if any(
        after.number <= before.number or after.struck_us < before.struck_us
        for before, after in pairwise(shots)
    ):
        raise ValueError("shots should stand in order of number and time")
    return shots


@dataclass(frozen=True)
class FollowedRally:
    """One rally: its key (as that of tracks and candidates), its file, and its shots in order.

    `missing` says what was not there to follow it with ("No sound was searched."); `reason` why there are no
    shots. `unused_us` are the sounds that are no strike, for moving a strike to one of them. `version` counts
    how often it was stored. `serve` is what was measured of the serve, where its path is likely enough.
    `rests_on` is None where an earlier version followed it. `out_of_date` names what changed since
    (`SOURCE_WORDS`), `answers` is what the paths suggest for the sheet; both are worked out when paths are
    read, and empty in what is stored.
    """

    key: str
    footage: str
    from_us: MediaUs
    until_us: MediaUs
    shots: Annotated[tuple[FollowedShot, ...], AfterValidator(_one_after_another)]
    missing: tuple[str, ...] = ()
    reason: str = ""
    unused_us: tuple[MediaUs, ...] = ()
    version: Count = 0
    rests_on: PathSources | None = None
    serve: PathServe | None = None
    out_of_date: tuple[str, ...] = ()
    answers: tuple[PathAnswer, ...] = ()

    @property
    def out_of_date_words(self) -> str:
        """What changed since, in a sentence; empty where nothing did."""
        if not self.out_of_date:
            return ""
        if SOURCE_WORDS["method"] in self.out_of_date:
            return f"Out of date: followed by {SOURCE_WORDS['method']}. Follow it again."
        *others, last = self.out_of_date
        what = f"{', '.join(others)} and {last}" if others else last
        return f"Out of date: {what} changed after the ball was followed here. Follow it again."


def _each_once(rallies: tuple[FollowedRally, ...]) -> tuple[FollowedRally, ...]:
    if len({rally.key for rally in rallies}) < len(rallies):
        raise ValueError("a rally should stand in it once")
    return rallies


@dataclass(frozen=True)
class FollowedMatch:
    """All rallies followed so far; `model` marks what they depend on, `asked` counts those to be followed."""

    match: str
    model: str
    asked: Count = 0
    rallies: Annotated[tuple[FollowedRally, ...], AfterValidator(_each_once)] = ()
    format: Annotated[int, Field(ge=FORMAT, le=FORMAT)] = FORMAT

    def rally(self, key: str) -> FollowedRally | None:
        """Return a rally by its key; None where it was not followed."""
        return next((rally for rally in self.rallies if rally.key == key), None)


@dataclass(frozen=True)
class BallMark:
    """A click of the coach on the ball: media time of the frame, and place in the upright frame, px."""

    time_us: int
    u: float
    v: float


@dataclass(frozen=True)
class RallyCorrections:
    """What a coach has said of a rally; it holds whatever the sounds say.

    Parameters
    ----------
    marks : tuple of BallMark
        Where the ball is; no other candidate of that frame counts.
    strikes_us : tuple of int
        Times at which a racket struck the ball.
    not_strikes_us : tuple of int
        Times at which none did, 50 ms to either side.
    """

    marks: tuple[BallMark, ...] = ()
    strikes_us: tuple[int, ...] = ()
    not_strikes_us: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.marks or self.strikes_us or self.not_strikes_us)
