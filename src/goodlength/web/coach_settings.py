"""Settings of the coach with their defaults, stored in the library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import TYPE_CHECKING, Any, Literal, get_args

from goodlength import tasks
from goodlength.errors import OutOfRange
from goodlength.files.json_types import Json
from goodlength.languages import LANGUAGES

if TYPE_CHECKING:
    from goodlength.record.store import Library

Room = Literal["system", "light", "dim"]
PURPOSES = {
    "record": "keep a record of matches and look at the video with the player",
    "clips": "cut clips that show the player",
    "handout": "name the player on a handout",
}
EXTRA_WORDS = {
    "serve.aim": "where the serve was aimed",
    "serve.receiver-place": "where the receiver stood",
    "return.stroke": "the shot of the return",
    "return.to": "where the return went",
    "ending.stroke": "the last shot",
    "ending.volley": "whether the last shot was a volley",
    "ending.place": "where on court the rally ended",
    "ending.why": "poor choice or poor execution",
}
LEAD_MOST_S = 30.0
MONTHS_MOST = 120


@dataclass(frozen=True)
class CoachSettings:
    """One coach's choices.

    `lead_s`: how long before the first answer a rally is taken to have begun. `watched_folder`: where videos
    appear that are offered on the Footage page; empty for none.
    """

    room: Room = "system"
    observer: str = "coach"
    club: str = ""
    lead_s: float = 2.0
    extras: tuple[str, ...] = ()
    consent_months: int = 12
    consent_purposes: tuple[str, ...] = ("record", "clips", "handout")
    watched_folder: str = ""
    handout_language: str = "en"
    page_language: str = "en"


def read_settings(library: Library) -> CoachSettings:
    """Return the choices kept, and the usual ones where nothing, or nothing readable, was kept."""
    return settings_in(library.settings())


def settings_in(stored: Mapping[str, object]) -> CoachSettings:
    """Return the choices from settings of a library that were read already."""
    made: dict[str, Any] = {}
    for field in fields(CoachSettings):
        if field.name not in stored:
            continue
        try:
            made[field.name] = _read(field.name, stored[field.name])
        except OutOfRange:
            continue
    return CoachSettings(**made)


def change_settings(library: Library, changes: Mapping[str, object]) -> CoachSettings:
    """Keep what is named; the first value that cannot be raises InputError, and nothing is kept."""
    read = {name: _read(name, value) for name, value in changes.items()}
    if read.get("watched_folder"):
        read["watched_folder"] = str(tasks.checked_folder(read["watched_folder"], library))
    for name, value in read.items():
        library.set_setting(name, list(value) if isinstance(value, tuple) else value)
    return read_settings(library)


def as_json(settings: CoachSettings) -> dict[str, Json]:
    """Return the choices as JSON values."""
    return asdict(settings)


def _read(name: str, value: Any) -> Any:
    """Return one choice checked."""
    if name == "room":
        return _one_of(name, value, get_args(Room))
    if name == "watched_folder":
        return str(value).strip().strip('"')
    if name == "club":
        return " ".join(str(value).split())[:120]
    if name == "observer":
        return _observer(value)
    if name == "lead_s":
        return _number("The lead time", value, 0.0, LEAD_MOST_S, "seconds")
    if name == "consent_months":
        return int(_number("The length of consent", value, 1, MONTHS_MOST, "months"))
    if name in ("handout_language", "page_language"):
        return _one_of(name, value, tuple(LANGUAGES))
    if name == "extras":
        return tuple(_one_of(name, what, tuple(EXTRA_WORDS)) for what in value)
    if name == "consent_purposes":
        return tuple(_one_of(name, purpose, tuple(PURPOSES)) for purpose in value)
    raise OutOfRange(
        f"There is no setting {name!r}. "
        f"There are: {', '.join(field.name for field in fields(CoachSettings))}."
    )


def _one_of(name: str, value: Any, accepted: tuple[str, ...]) -> str:
    if value not in accepted:
        raise OutOfRange(f"The setting {name} cannot be {value!r}; it is one of: {', '.join(accepted)}.")
    return str(value)


def _observer(value: Any) -> str:
    name = str(value).strip()
    if not name or "/" in name or len(name) > 60:
        raise OutOfRange(
            f"The observer's name cannot be {name!r:.80}: it needs 1 to 60 letters, without a slash (/). "
            "It is saved with every answer, so that two observers can be compared."
        )
    return name


def _number(what: str, value: Any, least: float, most: float, unit: str) -> float:
    try:
        read = float(str(value).replace(",", "."))
    except ValueError:
        read = float("nan")
    if not least <= read <= most:
        raise OutOfRange(f"{what} cannot be {value!r}; it is {least:g} to {most:g} {unit}.")
    return read


def months_on(day: date, months: int) -> date:
    """Return the same day some months on; the month's last day where there is no such day.

    Examples
    --------
    >>> months_on(date(2026, 11, 30), 3)
    datetime.date(2027, 2, 28)
    """
    from calendar import monthrange

    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
