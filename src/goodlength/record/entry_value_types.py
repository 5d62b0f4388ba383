"""Typed values of entries: a span, a shot, a call, a measured serve.

What an entry stores is plain JSON; `content_of` reads it. Which kind of entry may hold which value stands in
`record.entry_validation_schemas`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictInt, ValidationError, model_validator

from goodlength.files.json_types import Json, JsonObject

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


class ValueModel(BaseModel):
    """Base of every value with parts: no unknown parts, never changed."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class SpanValue(ValueModel):
    """From the serve to the end of the rally, in match time; the end may be unknown."""

    start_us: Micro
    end_us: Micro | None = None
    how: Literal["answers", "marked", "heard"] = "answers"


class ShotValue(ValueModel):
    """One shot; the serve is shot 1."""

    n: Annotated[StrictInt, Field(ge=1, le=999)]
    by: SideWord
    stroke: Literal["serve", "drive", "cross-court", "boast", "drop", "lob", "kill", "other"] | None = None
    volley: StrictBool | None = None
    place: Place | None = None
    at_us: Micro | None = None
    pressed: StrictBool | None = None


class ShotCount(ValueModel):
    """How many shots the rally had; said when the last one is written down."""

    count: Annotated[StrictInt, Field(ge=1, le=999)]


class CalledValue(ValueModel):
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
            raise ValueError("say a decision, a call, or the corrected score, server or box")
        awarded = self.decision in ("no-let", "stroke") or self.call in ("down", "not-up", "out")
        if awarded and self.to is None:
            raise ValueError("say in `to` which player the rally went to")
        return self


class ConductValue(ValueModel):
    """A conduct stroke or a conduct game, and who it was given to."""

    to: SideWord
    game: StrictBool = False


class RetiredValue(ValueModel):
    """A player who stopped, and why in the words told."""

    side: SideWord
    why: Words = "retired"


class ProposedAnswer(ValueModel):
    """One answer as it was proposed: the question, the value, and the chance given for it."""

    what: Name
    value: Name
    chance: Annotated[float, Field(ge=0.0, le=1.0)]


class ProposedValue(ValueModel):
    """What was proposed in a rally, by what, and how surely; the answers say what became of it.

    `sample`: the program has drawn the rally for the coach to check.
    """

    by: Literal["ball-path", "score-draft"]
    answers: Annotated[tuple[ProposedAnswer, ...], Field(min_length=1, max_length=20)]
    sample: StrictBool = False


class PlaceValue(ValueModel):
    """The rally after which this one belongs; null puts it first."""

    after: Name | None = None


Finite = Annotated[float, Field(allow_inf_nan=False)]
Hundred = Annotated[StrictInt, Field(ge=0, le=100)]
# The middle of what is possible, and the ends of the range that holds `level` of it.
Measured = tuple[Finite, Finite, Finite]


class MarkValue(ValueModel):
    """One mark on a picture: what was seen, when (media time), where (px of the upright original).

    `again` is where a second click at the same thing fell, made without sight of the first.
    """

    what: Literal["strike", "feet", "front", "left", "right", "floor", "back", "second", "ball"]
    at_us: Micro
    u: Finite
    v: Finite
    about: StrictBool = False
    found: StrictBool = False
    again: tuple[Finite, Finite] | None = None


class MeasuredValue(ValueModel):
    """A serve measured from marks: the marks, and what followed from them when they were made.

    Lengths are in metres of the court frame, speeds in metres a second; each a `Measured` or null where it
    seldom happens. `click_evidence` is what the marks tell of how exactly the coach clicks: click errors in
    px at 1080 lines, each with the logarithm of how likely the marks are under it.
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
    side: Literal["right", "left"] | None = None
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
    click_evidence: Annotated[tuple[tuple[Finite, Finite], ...], Field(max_length=20)] | None = None


@dataclass(frozen=True)
class UnreadableValue:
    """A stored value that fits no type: damaged, or of a later program. It is kept as it stands."""

    stored: Json


V = TypeVar("V", bound=ValueModel)
Content = ValueModel | UnreadableValue | str | int | float | bool | None
_MODELS: Mapping[str, tuple[type[ValueModel], ...]] = {
    "span": (SpanValue,),
    "serve.measured": (MeasuredValue,),
    "called": (CalledValue,),
    "shot": (ShotValue, ShotCount),
    "conduct": (ConductValue,),
    "retired": (RetiredValue,),
    "place": (PlaceValue,),
    "proposed": (ProposedValue,),
}


def content_of(what: str, stored: Json) -> Content:
    """Return the value of an entry as its type; words, numbers and None as they stand.

    Examples
    --------
    >>> content_of("span", {"start_us": 5, "end_us": None}).start_us
    5
    >>> content_of("span", "noon")
    UnreadableValue(stored='noon')
    """
    if stored is None or (isinstance(stored, str | int | float) and what not in _MODELS):
        return stored
    for model in _MODELS.get(what, ()):
        try:
            return model.model_validate(stored)
        except ValidationError:
            continue
    return UnreadableValue(stored)


def as_json_object(value: ValueModel) -> JsonObject:
    """Return a value as JSON: what was said alone, in the order of its parts."""
    fields: JsonObject = value.model_dump(mode="json", exclude_unset=True)
    return fields


def stored_form(content: Content) -> Json:
    """Return a value as JSON, as the store gives it back: what was said alone, its parts sorted by name."""
    if isinstance(content, UnreadableValue):
        return content.stored
    if isinstance(content, ValueModel):
        return _sorted(as_json_object(content))
    return content


def _sorted(plain: Json) -> Json:
    if isinstance(plain, Mapping):
        return {name: _sorted(plain[name]) for name in sorted(plain)}
    return [_sorted(part) for part in plain] if isinstance(plain, list) else plain
