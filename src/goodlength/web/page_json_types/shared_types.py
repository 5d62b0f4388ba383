"""Types of the page's JSON that several pages use, and type names that only the scripts have."""

from typing import Annotated, Any, TypedDict


class ScriptType(str):
    """The name of a type in the scripts that says more than the type here."""

    __slots__ = ()


Answers = Annotated[dict[str, Any], ScriptType("Partial<EntryValues>")]
AnswerValue = Annotated[Any, ScriptType("EntryValues[EntryKind]")]
Points = tuple[int, int]
Pixel = tuple[float, float]


class NamesJson(TypedDict):
    """A name of each player."""

    a: str
    b: str
