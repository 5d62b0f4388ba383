"""Types that the handout writers for PDF and HTML take and return."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from goodlength.show.draw.court.floor_maps import BoxServes, FloorPoint
from goodlength.show.draw.proportion_protocols_and_wording import ShareLike
from goodlength.show.draw.rally_leverage_chart import PointGame
from goodlength.show.figure_and_injury_caution_texts import handout_caution

MOST_FINDINGS = 3


MOST_STILLS = 2  # on one page
MOST_STILLS_WITH_BACK = 6
PLAIN = "plain"  # in place of a grade: a count with no word on why


@dataclass(frozen=True)
class HandoutFinding:
    """One finding as the player reads it: `grade` is clear, leaning, too-few or no-difference.

    A plain count has the grade `PLAIN`, and says in `label` what it is there for.
    """

    grade: str
    headline: str
    words: str
    label: str = ""


@dataclass(frozen=True)
class HandoutServe:
    """One kind of serve; `weak` is the share of its returns loose or not made (None: not recorded)."""

    words: str
    served: int
    weak: ShareLike | None


@dataclass(frozen=True)
class HandoutCourt:
    """What the court drawing shows: landing places where they were recorded, else the two boxes.

    `title` stands over the drawing. With `landings`, `served` names them ("lobs") and `right` and `left`
    give how many came from each box.
    """

    title: str
    right: BoxServes | None = None
    left: BoxServes | None = None
    landings: tuple[FloorPoint, ...] = ()
    served: str = "serves"


@dataclass(frozen=True)
class HandoutStill:
    """A picture for the page: JPEG bytes, its width and height in px, and the line beneath it."""

    jpeg: bytes
    wide: int
    high: int
    words: str


@dataclass(frozen=True)
class HandoutTurningPoints:
    """Games for the chart of turning points: at most two, the player's side ("a" or "b"), and the names
    of player and opponent.
    """

    games: tuple[PointGame, ...]
    side: str
    names: tuple[str, str]


@dataclass(frozen=True)
class HandoutData:
    """Everything the page says; nothing is looked up or worked out here.

    `opponent` is None where naming is not allowed (then no words given here may name the opponent).
    `result` is in words ("Lost 1–3: 11–8, 7–11, 9–11, 8–11"). `words` are the coach's own, blank lines part
    paragraphs. `week` is what to practise: drill and what to do. `unknown` says, one sentence
    each, what was not recorded or cannot be told.
    """

    player: str
    made: date
    opponent: str | None = None
    club: str = ""
    event: str = ""
    played: date | None = None
    result: str = ""
    findings: tuple[HandoutFinding, ...] = ()
    serves: tuple[HandoutServe, ...] = ()
    court: HandoutCourt | None = None
    words: str = ""
    unknown: tuple[str, ...] = ()
    stills: tuple[HandoutStill, ...] = ()
    week: tuple[tuple[str, str], ...] = ()
    turning: HandoutTurningPoints | None = None
    caution: str = handout_caution()
    language: str = "en"  # of the headings and of every sentence here, by its code
    back: bool = False  # whether it may go on over the back of the page


@dataclass(frozen=True)
class HandoutLayout:
    """How the parts of the page are laid out.

    `stills_aside`: stills in the column under the serves, beside the court; `words_aside`: words and
    practice there; `pages` one or two; of two, the first `upfront` of stills, words and practice stand on
    the front. Ruled lines: `lines` at the foot, `front_lines` at the foot of the front of two pages, `aims`
    in the column, for what the player wants to try.
    """

    stills_aside: bool = False
    words_aside: bool = False
    pages: int = 1
    upfront: int = 0
    lines: int = 0
    front_lines: int = 0
    aims: int = 0


@dataclass(frozen=True)
class HandoutFiles:
    """Where the two files lie, the size of type that fitted, pt, and what is on the page, or on both."""

    pdf: Path
    html: Path
    type_pt: float
    stills: int = 0
    turning: bool = False
    drills: int = 0
    pages: int = 1
