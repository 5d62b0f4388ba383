"""Forms of a match: its details, bringing one in from a file, a second observer's log, the search."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date
from typing import Annotated, TypedDict
from urllib.parse import parse_qsl

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from goodlength.ball import UNSURE, WARMTH_WORDS
from goodlength.record.model import Depth, MatchInfo, Player
from goodlength.scoring.scoring_types import Format, Points, Side, Start, System
from goodlength.tasks.findings.season_search import SeasonQuestion
from goodlength.web.submitted_forms.form_field_parsing import (
    DAY,
    WHOLE_NUMBER,
    Given,
    Line,
    Ticked,
    Trimmed,
    choice,
    day_or,
    parsed,
)
from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm

FORMATS = {
    "rally-11": (System.RALLY, 11),
    "rally-15": (System.RALLY, 15),
    "hand-out-9": (System.HAND_OUT, 9),
}
UNKNOWN = "unknown"  # how a match stores a ball temperature that is not known
NEW_MATCH: Mapping[str, str] = {
    "a": "",
    "b": "",
    "coached": "a",
    "event": "",
    "played_on": "",
    "depth": "serve-and-return",
    "server": "",
    "system": "rally-11",
    "best_of": "5",
    "games": "",
    "points": "",
    "handicap": "",
    "tin": "0.48",
    "court": "",
    "ball": "double yellow",
    "ball_warmth": "warm",
    "clothes_a": "",
    "clothes_b": "",
}
_PAIR = re.compile(r"\s*([-−]?\d{1,2})\s*[-–—:,]\s*([-−]?\d{1,2})\s*")


def named(name: str) -> str:
    """Return the name of a player.

    Raises
    ------
    ValueError
        It is empty.
    """
    if not name:
        raise ValueError("A player needs a name; initials will do.")
    return name


def _score(text: str) -> Points:
    found = _PAIR.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is not a score. Enter two numbers, such as 3-2, player 1 first.")
    a, b = (int(figure.replace("−", "-")) for figure in found.groups())
    return a, b


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a number. Type one such as 0.48.") from None


PlayerName = Annotated[Line, AfterValidator(named)]
_SIDES = choice({side.value: side for side in (Side.A, Side.B)})
_Score = parsed(_score)


class MatchDetails(TypedDict):
    """Parts of MatchInfo that are typed."""

    coached: Side
    event: str
    played_on: date | None
    depth: Depth
    format: Format
    start: Start
    tin_height_m: float
    court: str
    ball: str
    ball_warmth: str
    clothes_a: str
    clothes_b: str


class MatchForm(HtmlForm):
    """A match as typed: its two players by name, its details, where the recording begins."""

    a: PlayerName = Field("", validate_default=True)
    b: PlayerName = Field("", validate_default=True)
    coached: Annotated[Side, _SIDES] = Side.A
    event: Line = ""
    played_on: Annotated[date | None, DAY] = None
    depth: Annotated[Depth, choice({depth.value: depth for depth in Depth})] = Depth.SERVE
    system: Annotated[tuple[System, int], choice(FORMATS)] = FORMATS["rally-11"]
    best_of: Annotated[int, WHOLE_NUMBER] = 5
    games: Annotated[Points, _Score] = (0, 0)
    points: Annotated[Points | None, _Score] = None
    server: Annotated[Side | None, _SIDES] = None
    handicap: Annotated[Points, _Score] = (0, 0)
    tin: Annotated[float, parsed(_number)] = 0.48
    court: Line = ""
    ball: Line = ""
    ball_warmth: Annotated[str, parsed(str)] = UNKNOWN
    clothes_a: Line = ""
    clothes_b: Line = ""

    @field_validator("b")
    @classmethod
    def _differs(cls, name: str, info: ValidationInfo) -> str:
        if name.casefold() == info.data.get("a", "").casefold():
            raise ValueError("The two players must differ.")
        return name

    def details(self) -> MatchDetails:
        """Return the parts of MatchInfo."""
        system, target = self.system
        return {
            "coached": self.coached,
            "event": self.event,
            "played_on": self.played_on,
            "depth": self.depth,
            "format": Format(system, target, self.best_of),
            "start": Start(games=self.games, points=self.points, server=self.server, handicap=self.handicap),
            "tin_height_m": self.tin,
            "court": self.court,
            "ball": self.ball,
            "ball_warmth": self.ball_warmth,
            "clothes_a": self.clothes_a,
            "clothes_b": self.clothes_b,
        }


def match_texts(info: MatchInfo, players: tuple[Player, Player]) -> dict[str, str]:
    """Return the texts of the form for a match that is there."""
    form, start = info.format, info.start
    system = next((name for name, pair in FORMATS.items() if pair == (form.system, form.target)), "rally-11")
    return {
        "a": players[0].name,
        "b": players[1].name,
        "coached": info.coached.value,
        "event": info.event,
        "played_on": info.played_on.isoformat() if info.played_on else "",
        "depth": info.depth.value,
        "server": start.server.value if start.server else "",
        "system": system,
        "best_of": str(form.best_of),
        "games": _score_words(start.games if start.games != (0, 0) else None),
        "points": _score_words(start.points),
        "handicap": _score_words(start.handicap if start.handicap != (0, 0) else None),
        "tin": f"{info.tin_height_m:.2f}",
        "court": info.court,
        "ball": info.ball,
        "ball_warmth": UNKNOWN if info.ball_warmth == UNSURE else info.ball_warmth,
        "clothes_a": info.clothes_a,
        "clothes_b": info.clothes_b,
    }


def warmth_options(stored: str) -> list[tuple[str, str]]:
    """Return the ball temperatures of a match to choose from: those of Aim, and a stored word of its own.

    Examples
    --------
    >>> [words for _, words in warmth_options("warm")]
    ['hot', 'warm', 'lukewarm', 'cold', 'not sure']
    >>> warmth_options("cool")[-1]
    ('cool', 'cool')
    """
    choices = [(UNKNOWN if name == UNSURE else name, words) for name, words in WARMTH_WORDS.items()]
    own = [] if stored in dict(choices) else [(stored, stored)]
    return choices + own


def _score_words(points: Points | None) -> str:
    return "" if points is None else f"{points[0]}-{points[1]}"


class PastedForm(HtmlForm):
    """A table copied out of a spreadsheet."""

    pasted: str = ""


class ImportForm(HtmlForm):
    """What to do with a file that was looked at: bring it in, look at it again, or leave it."""

    token: str = ""
    leave: Given = False
    read_again: Given = False
    keep_going: Given = False
    seen: str = ""
    columns: dict[int, str] = Field(default_factory=dict)
    name_a: Line = ""
    name_b: Line = ""
    written_a: Line = ""
    written_b: Line = ""

    @classmethod
    def gather(cls, texts: Mapping[str, str], lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Collect the columns `column-N`, by the place of the heading in the file."""
        chosen = {
            int(number): text
            for name, text in texts.items()
            if (number := name.removeprefix("column-")) != name
            and number.isascii()
            and number.isdigit()
            and len(number) < 4
        }
        return {**super().gather(texts, lists), "columns": chosen}


class ObserverForm(HtmlForm):
    """The name under which another person's log is kept."""

    observer: Trimmed = ""


_SearchDay = Annotated[date | None, day_or("{!r} is not a date. Use year-month-day, such as 2026-11-25.")]


def _game(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise ValueError(f"The game must be a whole number; got {text[:40]!r}.")
    return int(text)


class BetweenForm(HtmlForm):
    """Which game a sheet for the break is about, and for whom it is."""

    game: Annotated[int | None, parsed(_game)] = None
    of: str = "coached"


class BetweenNoteForm(BetweenForm):
    """The coach's note after a game."""

    note: str = ""


class SinceForm(HtmlForm):
    """The first day of the matches that a sheet about an opponent reads."""

    since: _SearchDay = None
    answers: str = ""


class SearchForm(HtmlForm):
    """Rallies to look for in every match; a field left empty is not asked."""

    player: str | None = None
    opponent: str | None = None
    role: str | None = None
    outcome: str | None = None
    kind: str | None = None
    box: str | None = None
    how: str | None = None
    left: str | None = None
    to: str | None = None
    ending: str | None = None
    stroke: str | None = None
    place: str | None = None
    game: Annotated[int | None, parsed(_game)] = None
    phase: str | None = None
    since: _SearchDay = None
    until: _SearchDay = None
    text: str | None = None
    kept: Ticked = False
    match: str | None = None
    with_demo: Annotated[bool | None, parsed("1".__eq__)] = None
    watched: Ticked = False

    @classmethod
    def gather(cls, texts: Mapping[str, str], lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Leave out the fields that are empty."""
        return {name: text for name, text in super().gather(texts, lists).items() if text}

    def question(self) -> SeasonQuestion:
        """Return the question for `tasks.search`."""
        return SeasonQuestion(**{field.name: getattr(self, field.name) for field in fields(SeasonQuestion)})


class FoundRalliesForm(HtmlForm):
    """Rallies of a search that were ticked, each as match and key, and the search they are from."""

    rally: list[str]
    asked: str = ""
    covered: Ticked = False
    slow: Ticked = False

    @property
    def search(self) -> dict[str, str]:
        """Return the fields of the search that the rallies are from, those of `SearchForm` alone."""
        pairs = parse_qsl(self.asked[:2000])
        return {name: text for name, text in pairs if text and name in SearchForm.model_fields}

    @property
    def pairs(self) -> list[tuple[str, str]]:
        """Match and key of each rally, in the order of the page."""
        parts = (text.rpartition("/") for text in dict.fromkeys(self.rally))
        return [(match, key) for match, _, key in parts if match and key]
