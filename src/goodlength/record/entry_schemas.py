"""What value each entry may hold, checked at the door of the store and published as a schema.

The list is explained for readers in docs/reference/entries.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    StrictBool,
    StrictInt,
    TypeAdapter,
    ValidationError,
    model_validator,
)

from goodlength.errors import InputError
from goodlength.record.model import Ending, Entry, EntryKind, Left, ReturnKind, ShotType

MATCH_KEY = ""

SideWord = Literal["a", "b"]
BoxWord = Literal["right", "left"]
Place = Literal[
    "front-left",
    "front-middle",
    "front-right",
    "mid-left",
    "middle",
    "mid-right",
    "back-left",
    "back-middle",
    "back-right",
]
To = Literal["straight", "cross-court", "boast", "short"] | Place
Words = Annotated[str, Field(max_length=2000)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
Micro = Annotated[StrictInt, Field(ge=-(2**53), le=2**53)]
PointsValue = tuple[StrictInt, StrictInt]


class _Value(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SpanValue(_Value):
    """From the serve to the end of the rally, in match time; the end may be unknown."""

    start_us: Micro
    end_us: Micro | None = None
    how: Literal["answers", "marked", "heard"] = "answers"


class ShotValue(_Value):
    """One shot; the serve is shot 1."""

    n: Annotated[StrictInt, Field(ge=1, le=999)]
    by: SideWord
    stroke: Literal["serve", "drive", "cross-court", "boast", "drop", "lob", "kill", "other"] | None = None
    volley: StrictBool | None = None
    place: Place | None = None
    at_us: Micro | None = None
    pressed: StrictBool | None = None


class ShotCount(_Value):
    """How many shots the rally had; said when the last one is written down."""

    count: Annotated[StrictInt, Field(ge=1, le=999)]


class CalledValue(_Value):
    """The marker called it otherwise: a decision, a call, the score put right, or several of these."""

    decision: Literal["let", "no-let", "stroke"] | None = None
    to: SideWord | None = None
    call: Literal["fault", "down", "not-up", "out"] | None = None
    points: PointsValue | None = None
    server: SideWord | None = None
    box: BoxWord | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not any((self.decision, self.call, self.points, self.server, self.box)):
            raise ValueError("say a decision, a call, or the score, server or box put right")
        awarded = self.decision in ("no-let", "stroke") or self.call in ("down", "not-up", "out")
        if awarded and self.to is None:
            raise ValueError("say in `to` which player the rally went to")
        return self


class ConductValue(_Value):
    """A conduct stroke or a conduct game, and who it was given to."""

    to: SideWord
    game: StrictBool = False


class RetiredValue(_Value):
    """A player who stopped, and why in the words told."""

    side: SideWord
    why: Words = "retired"


class PlaceValue(_Value):
    """The rally after which this one belongs; null puts it first."""

    after: Name | None = None


Finite = Annotated[float, Field(allow_inf_nan=False)]
Hundred = Annotated[StrictInt, Field(ge=0, le=100)]
# The middle of what is possible, and the ends of the range that holds `level` of it.
Measured = tuple[Finite, Finite, Finite]


class MarkValue(_Value):
    """One mark on a picture: what was seen, when (media time), where (px of the upright original)."""

    what: Literal["strike", "feet", "front", "left", "right", "floor", "back", "second", "ball"]
    at_us: Micro
    u: Finite
    v: Finite
    about: StrictBool = False
    found: StrictBool = False


class MeasuredValue(_Value):
    """A serve measured from marks: the marks, and what followed from them when they were made.

    Lengths are in metres of the court frame, speeds in metres a second; each a `Measured` or null where it
    seldom happens.
    """

    footage: Name
    marks: Annotated[tuple[MarkValue, ...], Field(min_length=1, max_length=60)]
    struck_us: Micro
    level: Annotated[float, Field(gt=0.0, lt=1.0)]
    speed_m_s: Measured
    up_deg: Measured
    struck_m: tuple[Measured, Measured, Measured]
    front_x_m: Measured
    front_z_m: Measured
    to_front_s: Measured
    side: Literal["left", "right"] | None = None
    side_y_m: Measured | None = None
    side_z_m: Measured | None = None
    bounce_x_m: Measured | None = None
    bounce_y_m: Measured | None = None
    second_x_m: Measured | None = None
    second_y_m: Measured | None = None
    room_m: Measured | None = None
    good_of_100: Hundred | None = None
    side_first_of_100: Hundred | None = None
    dies_of_100: Hundred | None = None
    heard: StrictBool = False
    warmth: Literal["hot", "warm", "club", "cold", "unsure"] | None = None


VALUES: Mapping[EntryKind, Any] = {
    EntryKind.MATCH: dict[str, Any],
    EntryKind.SPAN: SpanValue,
    EntryKind.SERVER: SideWord,
    EntryKind.BOX: BoxWord,
    EntryKind.KIND: Name,
    EntryKind.AIM: Words,
    EntryKind.RECEIVER_PLACE: Literal["usual", "up", "back", "wide"],
    EntryKind.FAULT_WHY: Words,
    EntryKind.MEASURED: MeasuredValue,
    EntryKind.HOW_TAKEN: ReturnKind,
    EntryKind.RETURN_STROKE: ShotType,
    EntryKind.RETURN_TO: To,
    EntryKind.LEFT: Left,
    EntryKind.WINNER: SideWord,
    EntryKind.ENDING: Ending,
    EntryKind.ENDING_STROKE: ShotType,
    EntryKind.ENDING_VOLLEY: StrictBool,
    EntryKind.ENDING_PLACE: Place,
    EntryKind.ENDING_WHY: Literal["choice", "execution"],
    EntryKind.SET_TO: Literal[9, 10, 15, 17],
    EntryKind.CALLED: CalledValue,
    EntryKind.SHOT: ShotValue | ShotCount,
    EntryKind.NOTE: Words,
    EntryKind.KEEP: StrictBool,
    EntryKind.CONDUCT: ConductValue,
    EntryKind.RETIRED: RetiredValue,
    EntryKind.PLACE: PlaceValue,
    EntryKind.REMOVE: StrictBool,
    EntryKind.UNDO: type(None),
}
NEEDS_VALUE = frozenset(
    {EntryKind.MATCH, EntryKind.CONDUCT, EntryKind.RETIRED, EntryKind.PLACE, EntryKind.REMOVE}
)


@cache
def _adapter(what: EntryKind) -> TypeAdapter[Any]:
    return TypeAdapter(VALUES[what])


def value_faults(what: EntryKind, value: Any) -> list[str]:
    """What is wrong with the value of an entry, one sentence each; empty when it may be kept."""
    if what is EntryKind.DAMAGED:
        return ["a damaged line cannot be written again"]
    if value is None:
        return [f"{what.value} needs a value"] if what in NEEDS_VALUE else []
    try:
        _adapter(what).validate_python(value)
    except ValidationError as error:
        return [_in_words(what, value, error)]
    return []


def _in_words(what: EntryKind, value: Any, error: ValidationError) -> str:
    first = error.errors(include_url=False, include_context=False)[0]
    spot = ".".join(str(part) for part in first["loc"])
    spot = f" (at {spot})" if spot else ""
    return f"{what.value} is {value!r:.80}{spot}; {first['msg'][0].lower()}{first['msg'][1:]}"


def entry_faults(entry: Entry) -> list[str]:
    """Everything wrong with one entry, its value included."""
    faults = value_faults(entry.what, entry.value)
    if entry.what is EntryKind.UNDO and not entry.replaces:
        faults.append("an undo must name in `replaces` the entry it takes back")
    if entry.what not in (EntryKind.MATCH, EntryKind.UNDO) and entry.rally == MATCH_KEY:
        faults.append(f"{entry.what.value} needs the key of its rally")
    if len(entry.id) > 100 or len(entry.rally) > 100 or len(entry.observer) > 100:
        faults.append("ids, rally keys and observers have at most 100 letters")
    if entry.at_utc.tzinfo is None:
        faults.append("the time needs its zone")
    return faults


def check_entries(entries: Iterable[Entry]) -> None:
    """Pass when every entry may be written; else one InputError that names all that may not."""
    faults = [f"entry {entry.id}: {fault}" for entry in entries for fault in entry_faults(entry)]
    if faults:
        shown = "; ".join(faults[:10]) + (f"; and {len(faults) - 10} more" if len(faults) > 10 else "")
        raise InputError(
            f"Nothing was written: {shown}. What each entry may hold is in docs/reference/entries.md."
        )
