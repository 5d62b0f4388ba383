"""JSON Schema of a match document, generated from the types that check entries."""

from __future__ import annotations

import json
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StrictBool, StrictInt, create_model

from goodlength.record.entry_validation_schemas import NEEDS_VALUE, VALUES
from goodlength.record.entry_value_types import Name, PointsValue
from goodlength.record.import_export.coach_annotation_json import DrawingValue
from goodlength.record.import_export.match_json_document import FORMAT, VERSION
from goodlength.record.model import Depth, EntryKind
from goodlength.scoring.scoring_types import Box, Side, System

_TITLE = "A match recorded with goodlength"


class _Part(BaseModel):
    model_config = ConfigDict(extra="allow")


class FormatPart(_Part):
    """How the match is scored."""

    system: System = System.RALLY
    target: StrictInt = 11
    best_of: Literal[3, 5] = 5
    edition: str = "2025"
    setting: StrictBool | None = None


class StartPart(_Part):
    """Where the recording begins."""

    games: PointsValue = (0, 0)
    points: PointsValue | None = None
    server: Side | None = None
    box: Box | None = None
    handicap: PointsValue = (0, 0)
    ten_all_called: StrictBool = False


class MatchPart(_Part):
    """Details of the match; `players` are the ids of the first- and the second-named player."""

    id: Name
    players: tuple[Name, Name]
    coached: Side = Side.A
    event: str = ""
    played_on: date | None = None
    format: FormatPart = FormatPart()
    start: StartPart = StartPart()
    tin_height_m: float = 0.48
    court: str = ""
    ball: str = "double yellow"
    ball_warmth: str = "warm"
    depth: Depth = Depth.SERVE
    footage: list[str] = []
    observer: Name = "coach"
    demo: StrictBool = False
    zone: Name = "UTC"
    clothes_a: str = ""
    clothes_b: str = ""


class ConsentPart(_Part):
    """Who agreed to what, when, and until when."""

    given_by: Name
    when: date
    purposes: list[Literal["record", "clips", "handout"]]
    until: date | None = None


class PlayerPart(_Part):
    """A player."""

    id: Name
    name: Name
    hand: Literal["right", "left"] = "right"
    born_year: StrictInt | None = None
    junior: StrictBool = False
    consent: ConsentPart | None = None
    notes: str = ""


class KindPart(_Part):
    """A kind of serve that the entries speak of."""

    id: Name
    words: Name


class FootagePart(_Part):
    """A file of the recording; only its place and what is known about it, never its pictures."""

    id: Name
    path: str
    place: StrictInt = 0
    copied: StrictBool = False
    size: StrictInt | None = None
    mtime_ns: StrictInt | None = None
    sha256: str | None = None
    look: Any = None
    first_us: StrictInt | None = None
    end_us: StrictInt | None = None
    starts_us: StrictInt | None = None


def _entry_part(what: EntryKind) -> type[BaseModel]:
    """Return one kind of entry, with the value it may hold."""
    value = VALUES[what] if what in NEEDS_VALUE or VALUES[what] is type(None) else VALUES[what] | None
    name = "Entry" + "".join(part.capitalize() for part in what.value.replace(".", "-").split("-"))
    replaces: Any = (Name, ...) if what is EntryKind.UNDO else (Name | None, None)
    # Required where a null would not do; the others may leave the value out, which skips the question.
    given: Any = (value, ...) if what in NEEDS_VALUE else (value, None)
    parts: dict[str, Any] = {
        "id": (Name, ...),
        "observer": (Name, ...),
        "at_utc": (AwareDatetime, ...),
        "rally": (Annotated[str, Field(max_length=100)], ""),
        "what": (Literal[what.value], ...),
        "value": given,
        "replaces": replaces,
    }
    return create_model(name, __base__=_Part, **parts)


def match_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of what `match export --to FILE.json` writes."""
    parts: Any = None
    for what in VALUES:
        part = _entry_part(what)
        parts = part if parts is None else parts | part
    document_parts: dict[str, Any] = {
        "format": (Literal[FORMAT], ...),
        "version": (Annotated[StrictInt, Field(ge=1, le=VERSION)], ...),
        "match": (MatchPart, ...),
        "players": (tuple[PlayerPart, PlayerPart], ...),
        "kinds": (list[KindPart], ...),
        "footage": (list[FootagePart], ...),
        "entries": (list[Annotated[parts, Field(discriminator="what")]], ...),
        "damaged": (list[Any], []),
        "drawings": (list[DrawingValue], []),
    }
    document = create_model("MatchDocument", __base__=_Part, **document_parts)
    schema = document.model_json_schema()
    schema["title"] = _TITLE
    schema["description"] = (
        "Details, players, kinds of serve and every answer given, in the order given. Score, server and box "
        "are not in it: they follow from the answers. What each answer means is in entries.md."
    )
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def schema_text() -> str:
    """Return the schema as the published file holds it."""
    return json.dumps(match_schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"
