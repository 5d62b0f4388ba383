"""Types of the page's JSON: poses, pairs of serves, clips shown, handout, practice."""

from typing import TypedDict

from goodlength.web.page_json_types.video_playback_and_jobs import PartJson


class JointJson(TypedDict):
    """A joint in the picture, px; none where it was not found."""

    u: float | None
    v: float | None
    error_px: float | None
    seen: bool
    by_hand: bool


class JointAngleJson(TypedDict):
    """An angle at a joint, or why there is none."""

    name: str
    side: str
    degrees: float | None
    error_degrees: float | None
    why: str


class HandPathJson(TypedDict):
    """The way of the hand round contact, one value a frame; none where it was not found."""

    times_us: list[int]
    across_m: list[float | None]
    up_m: list[float | None]
    error_m: list[float | None]
    speed_m_s: list[float | None]
    speed_error_m_s: list[float | None]


class PoseJson(TypedDict):
    """The joints of a player at a strike."""

    rally: str
    who: str
    footage: str
    at_us: int
    found: float
    corrected: int
    angles: list[JointAngleJson]
    hand: HandPathJson | None
    joints: list[JointJson]


class SideBySideJson(TypedDict):
    """Two serves as the coach set them."""

    rallies: tuple[str, str]
    nudge_us: tuple[int, int]
    mirrored: bool


class SideBySidePageJson(SideBySideJson):
    """What the page of two serves begins with."""

    match: str
    parts: list[PartJson]
    contacts_us: list[int]
    before_s: float
    after_s: float


class ReviewClipJson(TypedDict):
    """A clip to be shown, with its cue."""

    start_us: int
    end_us: int
    role: str
    cue: str


class ReviewPageJson(TypedDict):
    """The clips to be shown."""

    match: str
    items: list[ReviewClipJson]


class HandoutPreviewJson(TypedDict):
    """The handout as it is being written: the body of its page, and what stands against making it."""

    body: str
    title: str
    language: str
    direction: str
    faults: list[str]


class SetsStoredJson(TypedDict):
    """Which sets are stored, and what the log says of each drill now."""

    stored: list[str]
    words: dict[str, str]
