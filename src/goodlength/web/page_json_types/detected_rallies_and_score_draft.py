"""Types of the page's JSON: detected rallies, and the score drafted from them."""

# no postponed annotations here: a TypedDict must see its `NotRequired` to know which keys may be missing
from typing import Literal, NotRequired, TypedDict

from goodlength.scoring.scoring_types import Box, Side
from goodlength.web.page_json_types.shared_types import NamesJson, Points


class DetectedRallyJson(TypedDict):
    """A rally detected, in match time, as the coach left it."""

    id: str
    start_us: int
    end_us: int
    hits_us: list[int]
    doubtful: bool
    why: str
    state: Literal["", "kept", "out"]
    seen: str
    told: str
    chance: float | None


class DetectionNoteJson(TypedDict):
    """Something unusual about the recording."""

    code: str
    start_us: int
    words: str


class DetectedRalliesJson(TypedDict):
    """All rallies detected in a match."""

    rallies: list[DetectedRallyJson]
    by: str
    words: str
    stale: bool
    knock_up_us: tuple[int, int] | None
    scores: str
    looked_at: bool
    picture: str
    notes: list[DetectionNoteJson]
    short: NamesJson


class ReviewCardJson(TypedDict):
    """One detected rally of a review, with the answers given so far."""

    id: str
    half: Literal["random", "unsure"]
    start_us: int
    end_us: int
    hit_us: int
    hits: int
    chance: float
    doubtful: bool
    rally: str
    hit: str
    place: str
    done: bool


class ReviewShareJson(TypedDict):
    """So many of so many, with the ends of the 95% range."""

    count: int
    of: int
    low: float
    high: float


class DetectionThresholdsJson(TypedDict):
    """The chance from which a rally is sure, and from which it is offered."""

    sure_at: float
    offered_at: float
    answers: int


class DetectionReviewJson(TypedDict):
    """The cards of a review, and what they show."""

    cards: list[ReviewCardJson]
    answered: int
    random_right: ReviewShareJson
    unsure_right: ReviewShareJson
    hits_right: ReviewShareJson
    thresholds: DetectionThresholdsJson
    proposed: DetectionThresholdsJson
    can_adapt: bool
    adapted: bool
    words: list[str]
    short: NamesJson


class DraftRallyJson(TypedDict):
    """A rally of the draft: the outcome proposed, and how sure it is."""

    id: str
    start_s: float
    end_s: float
    game: int
    before: Points
    server: Side
    box: Box
    winner: Side | None
    chance: float
    offered: bool
    sound_doubtful: bool
    told: str


class MissedRallyJson(TypedDict):
    """A rally that the score needs and nobody detected."""

    after: str | None
    game: int
    before: Points
    winner: Side


class StepJson(TypedDict):
    """One of the steps above a match's pages."""

    name: str
    state: str
    words: str


class DraftJson(TypedDict):
    """The draft of the marker's sheet; where none can be made, `words` say why."""

    words: str
    scores: str
    written: int
    rallies: list[DraftRallyJson]
    lost: list[MissedRallyJson]
    first: list[str]
    short: NamesJson
    expected_right: NotRequired[float]
    at: NotRequired[str | None]
    steps: NotRequired[list[StepJson]]
