"""What a coach draws on a frame: its values, their limits, and its JSON form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Annotated, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StrictInt, StringConstraints, model_validator

from goodlength.files.json_types import Json
from goodlength.files.typed_value_parsing import read_as

POINTS: Final = {
    "line": (2, 2),
    "arrow": (2, 2),
    "angle": (3, 3),
    "circle": (2, 2),
    "freehand": (2, 200),
    "text": (1, 1),
    "spotlight": (2, 2),
}
MOST_TEXT = 80
MOST_DRAWINGS = 1000  # of one match
LATEST_US = 10**12  # twelve days

DrawingKind = Literal["line", "arrow", "angle", "circle", "freehand", "text", "spotlight"]
DrawingId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{1,64}$")]
_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
_Text = Annotated[str, StringConstraints(max_length=MOST_TEXT, pattern=r"^[^\x00-\x1f\x7f]*$")]


@dataclass(frozen=True)
class FrameDrawing:
    """One piece drawn on a frame.

    Parameters
    ----------
    at_us : int
        Match time of the frame.
    rally : str
        Key of the rally it was drawn in; empty outside of all.
    kind : str
        A key of `POINTS`.
    points : tuple of (float, float)
        Shares of the picture's width and height: ends, corner in the middle, centre and rim, or the path.
    text : str
        Of a text only.
    """

    id: str
    at_us: int
    rally: str
    kind: str
    points: tuple[tuple[float, float], ...]
    text: str = ""


class DrawingValue(BaseModel):
    """A piece as it is stored, exported and sent."""

    model_config = ConfigDict(extra="forbid")
    id: DrawingId
    at_us: Annotated[StrictInt, Field(ge=0, le=LATEST_US)]
    rally: Annotated[str, Field(max_length=100)] = ""
    kind: DrawingKind
    points: Annotated[tuple[tuple[_Share, _Share], ...], Field(max_length=200)]
    text: _Text = ""

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        least, most = POINTS[self.kind]
        if not least <= len(self.points) <= most:
            needed = str(least) if least == most else f"{least} to {most}"
            raise ValueError(f"a drawing of the kind {self.kind} needs {needed} points")
        if (self.kind == "text") != bool(self.text.strip()):
            raise ValueError("a text needs words, and only a text has any")
        return self


def drawing_from_plain(plain: object, where: str = "drawing") -> FrameDrawing:
    """Return a piece from plain values.

    Raises
    ------
    InputError
        With every fault.
    """
    value = read_as(DrawingValue, plain, where)
    points = tuple((round(x, 5), round(y, 5)) for x, y in value.points)
    return FrameDrawing(value.id, value.at_us, value.rally, value.kind, points, value.text.strip())


def drawings_to_plain(drawings: Sequence[FrameDrawing]) -> list[dict[str, Json]]:
    """Return pieces as plain values, in the order drawn."""
    return [asdict(drawing) for drawing in drawings]
