"""Players, matches, kinds and entries as plain JSON values and back, for the store and for exchange.

Reading tells every fault at once; nothing is repaired in silence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any, TypeVar

from goodlength.clock import YEARS
from goodlength.errors import InputError
from goodlength.files.json_values import Json, JsonObject
from goodlength.record.model import (
    Consent,
    Depth,
    Entry,
    EntryKind,
    MatchInfo,
    Player,
)
from goodlength.scoring.model import Box, Format, Points, Side, Start, System

Plain = dict[str, Json]
T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)


class _Reader:
    """Takes fields out of a mapping and gathers what is wrong with them."""

    def __init__(self, plain: object, where: str) -> None:
        self.faults: list[str] = []
        self.where = where
        self.plain: JsonObject = plain if isinstance(plain, Mapping) else {}
        if not isinstance(plain, Mapping):
            self.faults.append(f"{where}: expected named values, got {plain!r:.60}")

    def take(self, name: str, read: Callable[[Any], T], default: T) -> T:
        """The field read, or the default where it is absent or wrong (and then a fault)."""
        if name not in self.plain:
            return default
        try:
            return read(self.plain[name])
        except (ValueError, TypeError, KeyError) as error:
            self.faults.append(f"{self.where}: {name} is {self.plain[name]!r:.60}; {error}")
            return default

    def need(self, name: str, read: Callable[[Any], T], stand_in: T) -> T:
        """Like `take`, with a fault where the field is absent."""
        if name not in self.plain:
            self.faults.append(f"{self.where}: {name} is missing")
            return stand_in
        return self.take(name, read, stand_in)

    def done(self) -> None:
        """Raise with every fault, or pass."""
        if self.faults:
            raise InputError("; ".join(self.faults) + ".")


def text_of(value: Any) -> str:
    """A text, as it stands."""
    if not isinstance(value, str):
        raise ValueError("a text is needed")
    return value


def name(value: Any) -> str:
    """A text that is not empty."""
    if not text_of(value).strip():
        raise ValueError("a text that is not empty is needed")
    return str(value)


def whole(value: Any) -> int:
    """A whole number."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError("a whole number is needed")
    return value


def number_of(value: Any) -> float:
    """A number that is not infinite and not NaN."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e300:
        raise ValueError("a number is needed")
    return float(value)


def yes_no(value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError("true or false is needed")
    return value


def one_of(kind: type[E]) -> Callable[[Any], E]:
    """A reader for one of the words of an enumeration."""

    def read(value: Any) -> E:
        try:
            return kind(value)
        except ValueError:
            raise ValueError("one of " + ", ".join(kind) + " is needed") from None

    return read


def maybe(read: Callable[[Any], T]) -> Callable[[Any], T | None]:
    """A reader that lets null stand for "not known"."""
    return lambda value: None if value is None else read(value)


def day(value: Any) -> date:
    """A date written year-month-day."""
    return date.fromisoformat(text_of(value))


def moment_of(value: Any) -> datetime:
    """A moment with its zone, as UTC."""
    read = datetime.fromisoformat(text_of(value))
    if read.year not in YEARS:
        raise ValueError(f"a year from {YEARS[0]} to {YEARS[-1]} is needed")
    if read.tzinfo is None:
        raise ValueError("a time with its zone is needed, such as 2026-03-07T18:30:00+00:00")
    return read.astimezone(UTC)


def points_pair(value: Any) -> Points:
    """A pair of whole numbers, for A and B."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("two whole numbers are needed, for the first- and the second-named player")
    return whole(value[0]), whole(value[1])


def two_names(value: Any) -> tuple[str, str]:
    """Two different texts that are not empty."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("the ids of two players are needed")
    pair = name(value[0]), name(value[1])
    if pair[0] == pair[1]:
        raise ValueError("the two players must differ")
    return pair


def texts(value: Any) -> tuple[str, ...]:
    """A list of texts."""
    if not isinstance(value, list | tuple):
        raise ValueError("a list of texts is needed")
    return tuple(text_of(one) for one in value)


def format_from(plain: Any) -> Format:
    """A scoring format from plain values."""
    reader = _Reader(plain, "format")
    made = Format(
        system=reader.take("system", one_of(System), System.RALLY),
        target=reader.take("target", whole, 11),
        best_of=reader.take("best_of", whole, 5),
        edition=reader.take("edition", name, "2025"),
        setting=reader.take("setting", maybe(yes_no), None),
    )
    reader.done()
    return made


def start_from(plain: Any) -> Start:
    """Where a recording begins, from plain values."""
    reader = _Reader(plain, "start")
    made = Start(
        games=reader.take("games", points_pair, (0, 0)),
        points=reader.take("points", maybe(points_pair), None),
        server=reader.take("server", maybe(one_of(Side)), None),
        box=reader.take("box", maybe(one_of(Box)), None),
        handicap=reader.take("handicap", points_pair, (0, 0)),
        ten_all_called=reader.take("ten_all_called", yes_no, False),
    )
    reader.done()
    return made


def info_to_plain(info: MatchInfo) -> Plain:
    """A match's details as JSON values."""
    start, form = info.start, info.format
    return {
        "id": info.id,
        "players": list(info.players),
        "coached": info.coached.value,
        "event": info.event,
        "played_on": None if info.played_on is None else info.played_on.isoformat(),
        "format": {
            "system": form.system.value,
            "target": form.target,
            "best_of": form.best_of,
            "edition": form.edition,
            "setting": form.setting,
        },
        "start": {
            "games": list(start.games),
            "points": None if start.points is None else list(start.points),
            "server": None if start.server is None else start.server.value,
            "box": None if start.box is None else start.box.value,
            "handicap": list(start.handicap),
            "ten_all_called": start.ten_all_called,
        },
        "tin_height_m": info.tin_height_m,
        "court": info.court,
        "ball": info.ball,
        "ball_warmth": info.ball_warmth,
        "depth": info.depth.value,
        "footage": list(info.footage),
        "observer": info.observer,
        "demo": info.demo,
        "zone": info.zone,
    }


def info_from_plain(plain: Any) -> MatchInfo:
    """A match's details from JSON values; InputError names everything that is wrong."""
    reader = _Reader(plain, "match")
    made = MatchInfo(
        id=reader.need("id", name, "?"),
        players=reader.need("players", two_names, ("?", "??")),
        coached=reader.take("coached", one_of(Side), Side.A),
        event=reader.take("event", text_of, ""),
        played_on=reader.take("played_on", maybe(day), None),
        format=reader.take("format", format_from, Format()),
        start=reader.take("start", start_from, Start()),
        tin_height_m=reader.take("tin_height_m", number_of, 0.48),
        court=reader.take("court", text_of, ""),
        ball=reader.take("ball", text_of, "double yellow"),
        ball_warmth=reader.take("ball_warmth", text_of, "warm"),
        depth=reader.take("depth", one_of(Depth), Depth.SERVE),
        footage=reader.take("footage", texts, ()),
        observer=reader.take("observer", name, "coach"),
        demo=reader.take("demo", yes_no, False),
        zone=reader.take("zone", name, "UTC"),
    )
    reader.done()
    return made


def consent_to_plain(consent: Consent | None) -> Plain | None:
    """A consent as JSON values."""
    if consent is None:
        return None
    return {
        "given_by": consent.given_by,
        "when": consent.when.isoformat(),
        "purposes": list(consent.purposes),
        "until": None if consent.until is None else consent.until.isoformat(),
    }


def consent_from_plain(plain: Any) -> Consent:
    """A consent from JSON values."""
    reader = _Reader(plain, "consent")
    made = Consent(
        given_by=reader.need("given_by", name, "?"),
        when=reader.need("when", day, date.min),
        purposes=reader.need("purposes", texts, ()),
        until=reader.take("until", maybe(day), None),
    )
    reader.done()
    return made


def player_to_plain(player: Player) -> Plain:
    """A player as JSON values."""
    return {
        "id": player.id,
        "name": player.name,
        "hand": player.hand,
        "born_year": player.born_year,
        "junior": player.junior,
        "consent": consent_to_plain(player.consent),
        "notes": player.notes,
    }


def hand(value: Any) -> str:
    """The playing hand."""
    if value not in ("right", "left"):
        raise ValueError("right or left is needed")
    return str(value)


def player_from_plain(plain: Any) -> Player:
    """A player from JSON values."""
    reader = _Reader(plain, "player")
    made = Player(
        id=reader.need("id", name, "?"),
        name=reader.need("name", name, "?"),
        hand=reader.take("hand", hand, "right"),
        born_year=reader.take("born_year", maybe(whole), None),
        junior=reader.take("junior", yes_no, False),
        consent=reader.take("consent", maybe(consent_from_plain), None),
        notes=reader.take("notes", text_of, ""),
    )
    reader.done()
    return made


def entry_to_plain(entry: Entry) -> Plain:
    """An entry as JSON values; its match stands elsewhere."""
    return {
        "id": entry.id,
        "observer": entry.observer,
        "at_utc": entry.at_utc.astimezone(UTC).isoformat(),
        "rally": entry.rally,
        "what": entry.what.value,
        "value": entry.value,
        "replaces": entry.replaces,
    }


def entry_from_plain(plain: Any, match: str, where: str = "entry") -> Entry:
    """An entry from JSON values; InputError names everything that is wrong with it.

    The value itself is checked by `record.entry_schemas.check_entries`.
    """
    reader = _Reader(plain, where)
    made = Entry(
        id=reader.need("id", name, "?"),
        match=match,
        observer=reader.need("observer", name, "?"),
        at_utc=reader.need("at_utc", moment_of, datetime.min.replace(tzinfo=UTC)),
        rally=reader.take("rally", text_of, ""),
        what=reader.need("what", one_of(EntryKind), EntryKind.NOTE),
        value=reader.plain.get("value"),
        replaces=reader.take("replaces", maybe(name), None),
    )
    reader.done()
    return made
