"""Forms of matches and players: what was typed, read into values, with every fault by its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, TypedDict, TypeVar

from goodlength import tasks
from goodlength.clock import read_day
from goodlength.errors import GoodlengthError
from goodlength.record.model import Depth, MatchInfo, Player
from goodlength.scoring.scoring_types import Format, Points, Side, Start, System
from goodlength.web.coach_settings import months_on

if TYPE_CHECKING:
    from goodlength.record.store import Library

T = TypeVar("T")
FORMATS = {
    "rally-11": (System.RALLY, 11),
    "rally-15": (System.RALLY, 15),
    "hand-out-9": (System.HAND_OUT, 9),
}
_PAIR = re.compile(r"\s*([-−]?\d{1,2})\s*[-–—:,]\s*([-−]?\d{1,2})\s*")
Typed = Mapping[str, str]

NEW_MATCH: Typed = {
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
}
NEW_PLAYER: Typed = {"name": "", "hand": "right", "junior": "", "born_year": "", "notes": ""}


@dataclass
class FormReader:
    """Reads fields of a form and gathers what is wrong with each."""

    typed: Typed
    faults: dict[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """Return what was typed, without blanks around it."""
        return " ".join(self.typed.get(name, "").split())

    def read(self, name: str, read: Callable[[str], T], empty: T) -> T:
        """Return a field read, `empty` where nothing was typed or it cannot be read (and then a fault)."""
        typed = self.text(name)
        if not typed:
            return empty
        try:
            return read(typed)
        except ValueError as wrong:
            self.faults[name] = str(wrong)
            return empty


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


class PlayerDetails(TypedDict):
    """Parts of Player that are typed."""

    name: str
    hand: str
    junior: bool
    born_year: int | None
    notes: str


class ConsentDetails(TypedDict):
    """A consent as typed; `until` is the last day there is where it holds until withdrawn."""

    given_by: str
    when: date
    until: date
    purposes: list[str]


@dataclass(frozen=True)
class MatchForm:
    """A match as typed: `details` are parts of MatchInfo, `names` the players."""

    names: tuple[str, str]
    details: MatchDetails
    faults: dict[str, str]


def read_match(typed: Typed) -> MatchForm:
    """Read the form of a match."""
    reader = FormReader(typed)
    names = (reader.text("a"), reader.text("b"))
    for name, said in zip(("a", "b"), names, strict=True):
        if not said:
            reader.faults[name] = "A player needs a name; initials will do."
    if names[0] and names[0].casefold() == names[1].casefold():
        reader.faults["b"] = "The two players must differ."
    system, target = reader.read("system", _one_of(FORMATS), FORMATS["rally-11"])
    details: MatchDetails = {
        "coached": reader.read("coached", _side, Side.A),
        "event": reader.text("event"),
        "played_on": reader.read("played_on", _day, None),
        "depth": reader.read("depth", _depth, Depth.SERVE),
        "format": Format(system, target, reader.read("best_of", _whole, 5)),
        "start": Start(
            games=reader.read("games", _pair, (0, 0)),
            points=reader.read("points", _pair, None),
            server=reader.read("server", _side, None),
            handicap=reader.read("handicap", _pair, (0, 0)),
        ),
        "tin_height_m": reader.read("tin", _number, 0.48),
        "court": reader.text("court"),
        "ball": reader.text("ball"),
        "ball_warmth": reader.text("ball_warmth") or "unknown",
    }
    return MatchForm(names, details, reader.faults)


def typed_match(info: MatchInfo, players: tuple[Player, Player]) -> dict[str, str]:
    """Return the form of a match that is there."""
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
        "games": _pair_words(start.games if start.games != (0, 0) else None),
        "points": _pair_words(start.points),
        "handicap": _pair_words(start.handicap if start.handicap != (0, 0) else None),
        "tin": f"{info.tin_height_m:.2f}",
        "court": info.court,
        "ball": info.ball,
        "ball_warmth": info.ball_warmth,
    }


def id_of(library: Library, name: str) -> str:
    """Return the id of the player of that name, who is added if new."""
    for player in tasks.players(library):
        if player.name.casefold() == name.casefold():
            return player.id
    return tasks.add_player(library, name).id


def read_player(typed: Typed) -> tuple[PlayerDetails, dict[str, str]]:
    """Read the form of a player: parts of Player, and faults by field."""
    reader = FormReader(typed)
    values: PlayerDetails = {
        "name": reader.text("name"),
        "hand": reader.text("hand") or "right",
        "junior": reader.text("junior") == "yes",
        "born_year": reader.read("born_year", _whole, None),
        "notes": reader.text("notes"),
    }
    if not values["name"]:
        reader.faults["name"] = "A player needs a name; initials will do."
    return values, reader.faults


def typed_player(player: Player) -> dict[str, str]:
    """Return the form of a player who is there."""
    return {
        "name": player.name,
        "hand": player.hand,
        "junior": "yes" if player.junior else "",
        "born_year": "" if player.born_year is None else str(player.born_year),
        "notes": player.notes,
    }


def read_consent(typed: Typed, purposes: list[str]) -> tuple[ConsentDetails, dict[str, str]]:
    """Read the form of a consent; with `until` left empty it holds until withdrawn, to the year 9999."""
    reader = FormReader(typed)
    values: ConsentDetails = {
        "given_by": reader.text("given_by"),
        "when": reader.read("when", _day, date.today()),
        "until": reader.read("until", _day, date.max),
        "purposes": purposes,
    }
    if not purposes:
        reader.faults["purposes"] = (
            "Choose at least one purpose. To withdraw consent, press “Withdraw consent”."
        )
    return values, reader.faults


def typed_consent(player: Player, months: int, purposes: tuple[str, ...]) -> dict[str, str | tuple[str, ...]]:
    """Return the form of a consent with what usually holds."""
    today = date.today()
    by = "" if tasks.is_junior(player) else player.name
    until = months_on(today, months).isoformat()
    return {"given_by": by, "when": today.isoformat(), "until": until, "purposes": purposes}


def form_faults(error: GoodlengthError) -> list[str]:
    """Return an error as lines above a form."""
    return [error.page_words]


def _one_of(options: Mapping[str, T]) -> Callable[[str], T]:
    def read(typed: str) -> T:
        if typed not in options:
            raise ValueError(f"{typed!r} is not one of the choices: {', '.join(options)}.")
        return options[typed]

    return read


def _side(typed: str) -> Side:
    return _one_of({"a": Side.A, "b": Side.B})(typed)


def _depth(typed: str) -> Depth:
    return _one_of({depth.value: depth for depth in Depth})(typed)


def _whole(typed: str) -> int:
    if not re.fullmatch(r"\d{1,6}", typed):
        raise ValueError(f"{typed!r} is not a whole number. Type digits only, such as 12.")
    return int(typed)


def _number(typed: str) -> float:
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        raise ValueError(f"{typed!r} is not a number. Type one such as 0.48.") from None


def _day(typed: str) -> date:
    try:
        return read_day(typed)
    except ValueError:
        raise ValueError(f"{typed!r} is not a date. Use year-month-day, such as 2026-03-07.") from None


def _pair(typed: str) -> Points:
    found = _PAIR.fullmatch(typed)
    if found is None:
        raise ValueError(f"{typed!r} is not a score. Enter two numbers, such as 3-2, player 1 first.")
    a, b = (int(figure.replace("−", "-")) for figure in found.groups())
    return a, b


def _pair_words(points: Points | None) -> str:
    return "" if points is None else f"{points[0]}-{points[1]}"
