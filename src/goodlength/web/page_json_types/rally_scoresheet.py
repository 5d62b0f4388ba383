"""Types of the page's JSON: the rally scoresheet, with the script of questions."""

# no postponed annotations here: a TypedDict must see its `NotRequired` to know which keys may be missing
from collections.abc import Mapping
from typing import Annotated, Literal, NotRequired, TypedDict

from goodlength.record.model import Depth, EntryKind
from goodlength.scoring.scoring_types import Box, Side
from goodlength.web.page_json_types.shared_types import (
    Answers,
    AnswerValue,
    NamesJson,
    Points,
    ScriptType,
)
from goodlength.web.page_json_types.video_playback_and_jobs import PartJson


class MatchJson(TypedDict):
    """What the match is called and how it is recorded."""

    id: str
    title: str
    depth: Depth
    observer: str
    day: str
    best_of: int
    coached: Side


class AnswerChoiceJson(TypedDict):
    """An answer to choose, and the question it answers."""

    value: AnswerValue
    words: str
    key: str | None
    what: EntryKind


class UnlessJson(TypedDict):
    """A question is spared if `what` was answered by one of `values` or holds one of the parts `having`."""

    what: EntryKind
    values: list[AnswerValue]
    having: list[str]


class QuestionJson(TypedDict):
    """One question of the script."""

    id: EntryKind
    ask: str
    answers: list[AnswerChoiceJson]
    unless: list[UnlessJson]
    extra: bool
    repeats: bool
    when: str
    free_words: bool


class BoxRuleJson(TypedDict):
    """How the service box is said."""

    what: EntryKind
    key: str
    write_when_free: bool


class ShotRuleJson(TypedDict):
    """The first shot that is asked for, and the answer that ends them."""

    first: int
    last: str


class ScriptKeysJson(TypedDict):
    """Keys of the card."""

    skip: str
    back: str
    note: str
    keep: str
    called: str


class CallChoiceJson(TypedDict):
    """Something that the marker may have called; `to`: a player is asked for; `score`: figures are."""

    key: str
    words: str
    value: Annotated[Mapping[str, object], ScriptType("CalledValue")]
    to: bool
    score: NotRequired[bool]


class ScriptJson(TypedDict):
    """The script of questions, walked by the page without asking the server.

    `along` are questions that are not asked: what is proposed to them goes along with another answer.
    """

    depth: Depth
    questions: list[QuestionJson]
    box: BoxRuleJson
    shots: ShotRuleJson
    keys: ScriptKeysJson
    called: list[CallChoiceJson]
    along: NotRequired[list[EntryKind]]


class SheetShotJson(TypedDict):
    """One shot of a rally."""

    n: int
    by: Side
    stroke: str | None


class ScoredJson(TypedDict):
    """What replay says of one rally; it follows from the rallies before it too."""

    n: int
    game: int
    n_in_game: int
    server: Side | None
    box: Box | None
    box_free: bool
    before: Points
    after: Points
    winner: Side | None
    let: bool
    hand_out: bool
    call: str
    ends_game: Side | None
    certain: bool
    complete: bool


class RallyJson(ScoredJson):
    """One rally: what replay says of it and the answers that stand."""

    key: str
    answers: Answers
    ids: Annotated[dict[str, str], ScriptType("Partial<Record<EntryKind, string>>")]
    start_us: int | None
    end_us: int | None
    span_how: str | None
    shots: list[SheetShotJson]
    shots_in_all: int | None
    note: str
    keep: bool
    measured: str
    drafted: NotRequired[list[EntryKind]]
    to_confirm: NotRequired[list[EntryKind]]
    unwatched: NotRequired[bool]


class GameJson(TypedDict):
    """A game so far."""

    n: int
    points: Points
    winner: Side | None
    first_server: Side | None


class NextRallyJson(TypedDict):
    """The rally that comes."""

    game: int
    server: Side | None
    box: Box | None
    box_free: bool
    points: Points
    set_choice: bool
    opening: str


class FaultJson(TypedDict):
    """Something in the record that does not fit together."""

    key: str | None
    code: str
    words: str


class ClashAnswerJson(TypedDict):
    """One of two answers to one question."""

    value: AnswerValue
    words: str


class ClashJson(TypedDict):
    """A question that two tabs answered differently; `standing` is the entry that a choice replaces."""

    rally: str
    what: EntryKind
    standing: str
    words: str
    answers: list[ClashAnswerJson]


class SpanClashJson(TypedDict):
    """Two times of one rally that were given unasked, and the longer one that holds both."""

    rally: str
    standing: str
    value: Annotated[Mapping[str, object], ScriptType("SpanValue")]


class OverruledJson(TypedDict):
    """A drafted winner that an answer took away: the undo, the drafted entry, and what it said."""

    undo: str
    id: str
    winner: Side
    to_confirm: bool


class LoggedJson(TypedDict):
    """An entry that may be stepped back over, and the drafted winner that comes back with the step."""

    id: str
    rally: str
    what: EntryKind
    how: str | None
    overruled: NotRequired[OverruledJson]


class ComingRallyJson(TypedDict):
    """A rally detected in the footage that no recorded one has taken."""

    start_us: int
    end_us: int
    doubtful: bool


class SheetJson(TypedDict):
    """Everything the Record page needs to ask, show and step back."""

    match: MatchJson
    names: NamesJson
    short: NamesJson
    kind_words: dict[str, str]
    script: ScriptJson
    rallies: list[RallyJson]
    games: list[GameJson]
    games_won: Points
    next: NextRallyJson | None
    next_key: int
    faults: list[FaultJson]
    clashes: list[ClashJson]
    span_clashes: list[SpanClashJson]
    winner: Side | None
    over_words: str
    log: list[LoggedJson]
    parts: list[PartJson]
    proposed: list[ComingRallyJson]
    proxy_words: str
    lead_s: float
    hands_words: NotRequired[str]
    version: NotRequired[str]


class ScoreColumnsJson(TypedDict):
    """Fields of a score, of many rows: `same` is what all of them have, `each` a value for each key."""

    keys: list[str]
    same: Annotated[Mapping[str, object], ScriptType("Partial<Scored>")]
    each: Annotated[
        Mapping[str, list[object]], ScriptType("Partial<{[Field in keyof Scored]: Scored[Field][]}>")
    ]


class SheetChangesJson(TypedDict):
    """What changed of a sheet since a version of it: whole parts, and rows by their key.

    `scores` are those of rows whose answers are as they were.
    `order` is given where rows were removed or moved; else rows with a new key stand after the others.
    """

    since: str
    version: str
    parts: Annotated[Mapping[str, object], ScriptType("Partial<Sheet>")]
    rallies: list[RallyJson]
    scores: ScoreColumnsJson | None
    order: list[str] | None


class StoredJson(TypedDict):
    """Which entries are stored, and the sheet they make, or what they changed of the one the page holds."""

    stored: list[str]
    sheet: NotRequired[SheetJson]
    changes: NotRequired[SheetChangesJson]


class BulkOfferJson(TypedDict):
    """Rallies that can be taken unwatched, and the check of the sample.

    See `tasks.draft.sure_rally_acceptance_after_sample_check`.

    `ask` and `text` are the words of the card.
    """

    state: Literal["none", "offered", "checking", "ready", "withdrawn", "taken"]
    sure: list[str]
    sample: list[str]
    right: int
    wrong: int
    taken: int
    to_check: list[str]
    ask: str
    text: str


class MissingRallyQuestionJson(TypedDict):
    """A pause in which a rally may be missing: where it lies, where in it to look, and why it is asked about.

    See `tasks.draft.missing_rally_questions`.
    """

    after: str
    start_us: int
    end_us: int
    likely_start_us: int
    likely_end_us: int
    text: str


class MissingRallyQuestionsJson(TypedDict):
    """The pauses worth a look, the likeliest first."""

    questions: list[MissingRallyQuestionJson]


class StoredSpanJson(TypedDict):
    """The entry that holds a time."""

    id: str
