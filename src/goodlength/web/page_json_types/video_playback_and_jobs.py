"""Types of the page's JSON: footage on the match's timeline, and jobs."""

from typing import Literal, TypedDict

from goodlength.record.import_export.coach_annotation_json import DrawingKind
from goodlength.tasks.transfer.video_transfer_state_file import TransferPhase
from goodlength.web.page_json_types.shared_types import Pixel


class PartJson(TypedDict):
    """One file on the time line; media time is the time played plus `shift_us`."""

    id: str
    url: str
    starts_us: int
    first_us: int
    end_us: int
    shift_us: int


class FilesJson(TypedDict):
    """The files of a match, and words where one is awaited."""

    parts: list[PartJson]
    waits: str


class FrameTableJson(TypedDict):
    """When the frames of one file begin: ticks of `base` seconds, equal steps counted together."""

    n: int
    base: tuple[int, int]
    first: int
    end: int
    steps: list[tuple[int, int]]
    shift: int
    counted: str


class FrameTimesJson(TypedDict):
    """When the frames of a span of one file begin, media time."""

    starts_us: list[int]


class PreviewSheetsJson(TypedDict):
    """Small pictures of one file, many on a sheet; `times_us` media time, sizes px; `awaited` while made."""

    ready: bool
    awaited: bool
    made: str
    times_us: list[int]
    across: int
    down: int
    width: int
    height: int


class PlayedRallyJson(TypedDict):
    """A rally detected, match time, with the hits heard in it."""

    start_us: int
    end_us: int
    hits_us: list[int]


class ImpactJson(TypedDict):
    """When the ball met what, as heard: racket, front wall, other wall, floor, tin."""

    us: int
    what: str


class ImpactsJson(TypedDict):
    """What the player can jump to."""

    rallies: list[PlayedRallyJson]
    impacts: list[ImpactJson]


class FrameDrawingJson(TypedDict):
    """One piece drawn on a frame; points are shares of the picture's width and height."""

    id: str
    at_us: int
    rally: str
    kind: DrawingKind
    points: list[Pixel]
    text: str


class FrameDrawingsJson(TypedDict):
    """Everything drawn on frames of a match, in the order drawn."""

    drawings: list[FrameDrawingJson]


class PicturePathJson(TypedDict):
    """A player's path in the picture: match times, and shares of its width and height."""

    who: str
    times_us: list[int]
    points: list[Pixel]


class PictureBodyJson(TypedDict):
    """Body points round a strike: match times, and shares of the picture; none where not seen."""

    who: str
    times_us: list[int]
    joints: list[list[Pixel | None]]


class MissingOverlayJson(TypedDict):
    """Why something cannot be drawn over the picture; empty where it can."""

    court: str
    paths: str
    joints: str


class PictureOverlayJson(TypedDict):
    """Court lines, paths and body points over the picture at a moment, and words for what is missing."""

    lines: list[list[Pixel]]
    paths: list[PicturePathJson]
    bodies: list[PictureBodyJson]
    missing: MissingOverlayJson


class FrameBallJson(TypedDict):
    """Places of the ball in one frame, the best first: shares of width and height, and score."""

    us: int
    places: list[tuple[float, float, float]]
    sure: bool
    joined: bool


class BallInPictureJson(TypedDict):
    """The ball found in the rally at a moment, frame by frame, and words for what is lost or missing."""

    from_us: int
    to_us: int
    frames: list[FrameBallJson]
    words: str


class JobJson(TypedDict):
    """How far a job is; `share` is 0 to 1."""

    id: str
    state: str
    share: float
    words: str


class FootageAddedJson(TypedDict):
    """The id of a file that was copied in; empty where sending stopped half-way."""

    id: str


class TransferJson(TypedDict):
    """A video that another device sends; bytes, and the share of its hash that is checked, 0 to 1."""

    id: str
    name: str
    size: int
    received: int
    piece: int
    phase: TransferPhase
    checked: float
    words: str


class TransfersJson(TypedDict):
    """The videos that are being sent to a match."""

    transfers: list[TransferJson]


class PreparationStepJson(TypedDict):
    """One step that goodlength takes by itself; `share` is 0 to 1, `words` stand beside its title.

    `can_leave_out`: the coach may leave it out now; `can_take_in`: do it, though it was left out or stopped.
    """

    name: str
    title: str
    state: Literal["done", "running", "waiting", "paused", "stopped", "failed", "person", "left out"]
    words: str
    share: float
    can_leave_out: bool
    can_take_in: bool


class NextStepJson(TypedDict):
    """What a person does next: the words of the button and its address, and why."""

    name: str
    label: str
    href: str
    why: str
    needed: bool
    can_skip: bool


class PreparationJson(TypedDict):
    """How far the preparation of a match is; `left` says about how long goodlength still works."""

    works: bool
    paused: bool
    left: str
    steps: list[PreparationStepJson]
    next: NextStepJson


class RestoredJson(TypedDict):
    """Where a back-up was unpacked, in words; empty where sending stopped half-way."""

    words: str
    folder: str


class LibraryInUseJson(TypedDict):
    """Which opening of a library this is, and why the one wanted last could not be opened."""

    run: str
    folder: str
    fault: str


class NewMatchJson(TypedDict):
    """The match that a video begins."""

    match: str


class SavedNamesJson(TypedDict):
    """The two players as they are called now, and the match's title."""

    title: str


class AbandonedJson(TypedDict):
    """Whether a match without its video was removed."""

    removed: bool


class MatchStateJson(TypedDict):
    """How far a match of the list is: its result or the rally to be logged, and what a person does next."""

    id: str
    result: str
    next: NextStepJson


class MatchStatesJson(TypedDict):
    """The matches that were asked for and are there."""

    states: list[MatchStateJson]
