"""Types of the page's JSON: points clicked for the camera and for a measured serve."""

# no postponed annotations here: a TypedDict must see its `NotRequired` to know which keys may be missing
from typing import Literal, NotRequired, TypedDict

from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind
from goodlength.web.page_json_types.shared_types import Pixel
from goodlength.web.page_json_types.video_playback_and_jobs import PartJson


class ClickJson(TypedDict):
    """A court mark by its name, px of the upright original; `detected` ones were not clicked."""

    mark: str
    u: float
    v: float
    detected: NotRequired[bool]


class CourtMarkJson(TypedDict):
    """A mark of the court that can be clicked; `at` on the unfolded court."""

    name: str
    words: str
    edge: str
    floor: bool
    at: Pixel


class ShapeJson(TypedDict):
    """A shape of the unfolded court."""

    what: str
    points: list[Pixel]


class PlanJson(TypedDict):
    """The unfolded court."""

    bounds: tuple[float, float, float, float]
    shapes: list[ShapeJson]


class SavedCameraJson(TypedDict):
    """A camera kept for a span of a file."""

    from_us: int
    clicked_us: int
    holds: str
    about: str
    clicks: list[ClickJson]
    leave_out: list[str]


class SavedCamerasJson(TypedDict):
    """The cameras kept for a file."""

    cameras: list[SavedCameraJson]


class SpanJson(TypedDict):
    """A span of match time."""

    start_us: int
    end_us: int


class CameraRemovedJson(SavedCamerasJson):
    """The cameras kept for a file after one was removed, and the removal's id in the bin."""

    undo: str


class PickedFileJson(TypedDict):
    """The file on whose pictures points are set, and how the player plays it."""

    footage: str
    part: PartJson
    size: tuple[int, int]
    first_us: int
    end_us: int
    at_us: int


class CourtProposalJson(TypedDict):
    """The court found by itself in a frame: marks to check, what to know of them, or why there are none."""

    offered: bool
    clicks: list[ClickJson]
    error_cm: float | None
    why: str
    note: str


class CameraPageJson(PickedFileJson):
    """What the camera page begins with."""

    marks: list[CourtMarkJson]
    plan: PlanJson
    cameras: list[SavedCameraJson]
    proposal: CourtProposalJson | None


class ResidualJson(TypedDict):
    """How far a mark lies from where the others put it."""

    mark: str
    px: float
    cm: float | None


class SuspectJson(TypedDict):
    """A mark that is probably a mistake, and where it is expected."""

    mark: str
    words: str
    u: float
    v: float


class CourtLineJson(TypedDict):
    """A line of the court as it lies in the picture."""

    what: str
    name: str
    closed: bool
    uv: list[Pixel]


class SuggestionJson(TypedDict):
    """A mark found in the picture; `edges` is how many edges agree."""

    mark: str
    u: float
    v: float
    edges: float


class SurfaceErrorJson(TypedDict):
    """How well a place on a surface is known, and the share of it that the picture shows."""

    median_cm: float | None
    p95_cm: float | None
    seen: float


class SolvedCameraJson(TypedDict):
    """A camera solved from marks, what to say of it, and what is kept for the file now."""

    words: list[str]
    not_known: list[str]
    rms_px: float
    marks: int
    floor_only: bool
    front_only: bool
    lens_found: bool
    place_m: list[float]
    focal_px: float
    k1: float
    size: tuple[int, int]
    floor: SurfaceErrorJson | None
    front_wall: SurfaceErrorJson | None
    residuals: list[ResidualJson]
    suspects: list[SuspectJson]
    strokes: list[CourtLineJson]
    suggestions: list[SuggestionJson]
    cameras: list[SavedCameraJson]


class CameraDriftJson(TypedDict):
    """Whether the camera still stands as it did."""

    state: Literal["still", "moved", "cannot-tell"]
    words: str


class ServePointKindJson(TypedDict):
    """Something of a serve that can be clicked."""

    what: MarkKind
    words: str


class ServePointJson(TypedDict):
    """A click of a serve."""

    what: MarkKind
    at_us: int
    u: float
    v: float
    about: NotRequired[bool]
    found: NotRequired[bool]
    again: NotRequired[tuple[float, float]]


class MeasurePageJson(PickedFileJson):
    """What the page of a measured serve begins with."""

    match: str
    rally: str
    window: SpanJson
    span: SpanJson
    what: list[ServePointKindJson]
    marks: list[ServePointJson]
    kept: bool
    warmth: str


class ServePointResidualJson(TypedDict):
    """How far a click lies from the flight that fits all of them."""

    what: str
    px: float
    late_ms: int | None
    doubted: bool


class TouchJson(TypedDict):
    """Where the flight touches a surface, in the picture."""

    n: int
    u: float
    v: float


class MeasuredServeJson(TypedDict):
    """A serve measured from clicks, as the page shows it; `court` is a drawing as text."""

    lines: list[tuple[str, str, str]]
    odds: list[str]
    level: int
    marks: list[ServePointResidualJson]
    notes: list[str]
    path: list[list[Pixel]]
    touches: list[TouchJson]
    court: str
    kind: str | None
    kind_words: str
    kind_note: str


class FoundBallJson(TypedDict):
    """The ball looked for between the clicks."""

    marks: list[ServePointJson]
    words: str
    looked: int
    seen: int


class KindRecordedJson(TypedDict):
    """The kind of serve that was recorded."""

    kind: str


class MeasurementSavedJson(TypedDict):
    """Whether a measured serve is kept."""

    kept: bool
