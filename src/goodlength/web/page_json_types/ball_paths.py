"""Types of the page's JSON: the followed ball of a rally, over the film and on the unfolded court."""

from typing import NotRequired, TypedDict

from goodlength.record.model import EntryKind
from goodlength.scoring.scoring_types import Side
from goodlength.web.page_json_types.shared_types import Pixel


class ContactDrawingJson(TypedDict):
    """One touch: metres on the unfolded court, shares of the picture; rings hold it 90 times in 100."""

    kind: str
    words: str
    us: int
    with_sound: bool
    sheet: Pixel
    foot: Pixel | None
    sheet_ring: list[Pixel]
    picture: Pixel | None
    picture_ring: list[Pixel]


class SampleDrawingJson(TypedDict):
    """The ball at one time, from above on the unfolded court and in the picture."""

    us: int
    sheet: Pixel
    picture: Pixel | None
    seen: bool


class PathDrawingJson(TypedDict):
    """One way in which a shot may have gone; `chance` is 0 to 1."""

    chance: float
    speed_km_h: float
    words: str
    contacts: list[ContactDrawingJson]
    samples: list[SampleDrawingJson]


class ShotDrawingJson(TypedDict):
    """A shot with its paths, the best first; match times."""

    number: int
    striker: str
    struck_us: int
    until_us: int
    sure: bool
    corrected: bool
    reason: str
    hidden_s: float
    paths: list[PathDrawingJson]


class PathServeJson(TypedDict):
    """A serve measured from its path: words, and lines of a name, the best value and its range."""

    words: str
    level: int
    lines: list[list[str]]


class RallyDrawingJson(TypedDict):
    """The followed ball of one rally; `sounds_us` are those that are no strike.

    A correction names the `version` it was made on; `out_of_date` says what changed since.
    """

    key: str
    from_us: int
    to_us: int
    shots: list[ShotDrawingJson]
    missing: list[str]
    reason: str
    sounds_us: list[int]
    version: int
    out_of_date: str
    serve: PathServeJson | None


class PathAnswerJson(TypedDict):
    """An answer that the ball's path proposes, with its chance (0 to 1).

    `if_winner` and `if_server`: only where these players won and served.
    """

    what: EntryKind
    value: str
    chance: float
    if_winner: NotRequired[Side]
    if_server: NotRequired[Side]


class ProposedRallyJson(TypedDict):
    """The proposals of one rally, match times; `ended` by what it was over, empty where that is not sure."""

    start_us: int
    end_us: int
    answers: list[PathAnswerJson]
    ended: NotRequired[str]


class PathProposalsJson(TypedDict):
    """What the ball's path proposes for Record, rally by rally."""

    rallies: list[ProposedRallyJson]
