"""Convert players, matches, kinds and entries to plain JSON values and back, for store and exchange.

Reading tells every fault at once; nothing is repaired in silence.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Annotated, Any

from pydantic import BaseModel, PlainValidator

from goodlength.files.json_types import Json
from goodlength.files.typed_value_parsing import read_as
from goodlength.media_time import YEARS
from goodlength.record.model import (
    Consent,
    Depth,
    Entry,
    EntryKind,
    MatchInfo,
    Player,
)
from goodlength.scoring.scoring_types import Box, Format, Points, Side, Start, System

Plain = dict[str, Json]


def text_of(value: Any) -> str:
    """Return a text, as it stands."""
    if not isinstance(value, str):
        raise ValueError("a text is needed")
    return value


def name(value: Any) -> str:
    """Return a text that is not empty."""
    if not text_of(value).strip():
        raise ValueError("a text that is not empty is needed")
    return str(value)


def whole(value: Any) -> int:
    """Return a whole number."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError("a whole number is needed")
    return value


def number_of(value: Any) -> float:
    """Return a number that is not infinite and not NaN."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e300:
        raise ValueError("a number is needed")
    return float(value)


def yes_no(value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError("true or false is needed")
    return value


def day(value: Any) -> date:
    """Return a date written year-month-day."""
    return date.fromisoformat(text_of(value))


def moment_of(value: Any) -> datetime:
    """Return a moment with its zone, as UTC."""
    read = datetime.fromisoformat(text_of(value))
    if read.year not in YEARS:
        raise ValueError(f"a year from {YEARS[0]} to {YEARS[-1]} is needed")
    if read.tzinfo is None:
        raise ValueError("a time with its zone is needed, such as 2026-03-07T18:30:00+00:00")
    return read.astimezone(UTC)


def points_pair(value: Any) -> Points:
    """Return a pair of whole numbers, for A and B."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("two whole numbers are needed, for the first- and the second-named player")
    return whole(value[0]), whole(value[1])


def two_names(value: Any) -> tuple[str, str]:
    """Return two different texts that are not empty."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("the ids of two players are needed")
    pair = name(value[0]), name(value[1])
    if pair[0] == pair[1]:
        raise ValueError("the two players must differ")
    return pair


def texts(value: Any) -> tuple[str, ...]:
    """Return a list of texts."""
    if not isinstance(value, list | tuple):
        raise ValueError("a list of texts is needed")
    return tuple(text_of(item) for item in value)


def hand_of(value: Any) -> str:
    """Return the playing hand."""
    if value not in ("right", "left"):
        raise ValueError("right or left is needed")
    return str(value)


Text = Annotated[str, PlainValidator(text_of)]
Name = Annotated[str, PlainValidator(name)]
Whole = Annotated[int, PlainValidator(whole)]
Number = Annotated[float, PlainValidator(number_of)]
YesNo = Annotated[bool, PlainValidator(yes_no)]
Pair = Annotated[Points, PlainValidator(points_pair)]
Texts = Annotated[tuple[str, ...], PlainValidator(texts)]
Day = Annotated[date, PlainValidator(day)]
Moment = Annotated[datetime, PlainValidator(moment_of)]
Hand = Annotated[str, PlainValidator(hand_of)]


class _FormatIn(BaseModel):
    system: System = System.RALLY
    target: Whole = 11
    best_of: Whole = 5
    edition: Name = "2025"
    setting: YesNo | None = None


class _StartIn(BaseModel):
    games: Pair = (0, 0)
    points: Pair | None = None
    server: Side | None = None
    box: Box | None = None
    handicap: Pair = (0, 0)
    ten_all_called: YesNo = False


def format_from(plain: Any) -> Format:
    """Return a scoring format from plain values."""
    return Format(**dict(read_as(_FormatIn, plain, "format")))


def start_from(plain: Any) -> Start:
    """Return where a recording begins, from plain values."""
    return Start(**dict(read_as(_StartIn, plain, "start")))


class _InfoIn(BaseModel):
    id: Name
    players: Annotated[tuple[str, str], PlainValidator(two_names)]
    coached: Side = Side.A
    event: Text = ""
    played_on: Day | None = None
    format: Annotated[Format, PlainValidator(format_from)] = Format()
    start: Annotated[Start, PlainValidator(start_from)] = Start()
    tin_height_m: Number = 0.48
    court: Text = ""
    ball: Text = "double yellow"
    ball_warmth: Text = "warm"
    depth: Depth = Depth.SERVE
    footage: Texts = ()
    observer: Name = "coach"
    demo: YesNo = False
    zone: Name = "UTC"
    clothes_a: Text = ""
    clothes_b: Text = ""


def info_to_plain(info: MatchInfo) -> Plain:
    """Return a match's details as JSON values."""
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
        **({"clothes_a": info.clothes_a} if info.clothes_a else {}),
        **({"clothes_b": info.clothes_b} if info.clothes_b else {}),
    }


def info_from_plain(plain: Any) -> MatchInfo:
    """Return a match's details from JSON values; InputError names everything that is wrong."""
    return MatchInfo(**dict(read_as(_InfoIn, plain, "match")))


def consent_to_plain(consent: Consent | None) -> Plain | None:
    """Return a consent as JSON values."""
    if consent is None:
        return None
    return {
        "given_by": consent.given_by,
        "when": consent.when.isoformat(),
        "purposes": list(consent.purposes),
        "until": None if consent.until is None else consent.until.isoformat(),
    }


class _ConsentIn(BaseModel):
    given_by: Name
    when: Day
    purposes: Texts
    until: Day | None = None


def consent_from_plain(plain: Any) -> Consent:
    """Return a consent from JSON values."""
    return Consent(**dict(read_as(_ConsentIn, plain, "consent")))


def player_to_plain(player: Player) -> Plain:
    """Return a player as JSON values."""
    return {
        "id": player.id,
        "name": player.name,
        "hand": player.hand,
        "born_year": player.born_year,
        "junior": player.junior,
        "consent": consent_to_plain(player.consent),
        "notes": player.notes,
    }


class _PlayerIn(BaseModel):
    id: Name
    name: Name
    hand: Hand = "right"
    born_year: Whole | None = None
    junior: YesNo = False
    consent: Annotated[Consent, PlainValidator(consent_from_plain)] | None = None
    notes: Text = ""


def player_from_plain(plain: Any) -> Player:
    """Return a player from JSON values."""
    return Player(**dict(read_as(_PlayerIn, plain, "player")))


def entry_to_plain(entry: Entry) -> Plain:
    """Return an entry as JSON values; its match stands elsewhere."""
    return {
        "id": entry.id,
        "observer": entry.observer,
        "at_utc": entry.at_utc.astimezone(UTC).isoformat(),
        "rally": entry.rally,
        "what": entry.what.value,
        "value": entry.value,
        "replaces": entry.replaces,
    }


class _EntryIn(BaseModel):
    id: Name
    observer: Name
    at_utc: Moment
    rally: Text = ""
    what: EntryKind
    value: Any = None
    replaces: Name | None = None


def entry_from_plain(plain: Any, match: str, where: str = "entry") -> Entry:
    """Return an entry from JSON values; InputError names everything that is wrong with it.

    The value itself is checked by `record.entry_validation_schemas.check_entries`.
    """
    return Entry(match=match, **dict(read_as(_EntryIn, plain, where)))
