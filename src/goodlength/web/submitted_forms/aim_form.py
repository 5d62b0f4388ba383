"""Form of the Aim page, whose address holds the whole question, and the form that makes its aim a drill."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated
from urllib.parse import parse_qsl

from pydantic import BeforeValidator

from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm, Submitted, read_form

MOST_NUMBER = 1e6
USUAL_AIM: Mapping[str, str] = {
    "player": "",
    "kind": "lob",
    "box": "right",
    "level": "club",
    "court": "",
    "dot": "double-yellow",
    "warmth": "warm",
    "walls": "plaster",
    "back": "glass",
    "floor": "sprung",
    "room": "20",
    "altitude": "0",
}


def _number(words: str) -> BeforeValidator:
    """Return the validator of a number, with a point or a comma; None where the field is empty."""

    def read(text: str) -> float | None:
        plain = text.strip().replace(",", ".")
        if not plain:
            return None
        try:
            value = float(plain)
        except ValueError:
            value = float("nan")
        if not abs(value) < MOST_NUMBER:
            raise ValueError(f"The {words} must be a number; got {text[:40]!r}.")
        return value

    return BeforeValidator(read)


class AimForm(HtmlForm):
    """The question of the Aim page: serve, player, court and ball, goal, scatter, and an aim of one's own.

    A number left empty is None: the usual value of its kind of serve, court or level is taken.
    """

    player: str = USUAL_AIM["player"]
    hand: str = ""
    kind: str = USUAL_AIM["kind"]
    box: str = USUAL_AIM["box"]
    level: str = USUAL_AIM["level"]
    contact_x: Annotated[float | None, _number("contact point")] = None
    contact_y: Annotated[float | None, _number("contact point")] = None
    contact_z: Annotated[float | None, _number("contact point")] = None
    above_m: Annotated[float | None, _number("height one step in front of the receiver")] = None
    dies_within_m: Annotated[float | None, _number("second bounce, distance from the back wall")] = None
    off_back_within_m: Annotated[float | None, _number("maximum distance off the back wall")] = None
    there_within_s: Annotated[float | None, _number("time to the receiver")] = None
    feet_within_m: Annotated[float | None, _number("first bounce, distance from the receiver’s feet")] = None
    first_from_back_m: Annotated[float | None, _number("first bounce, distance from the back wall")] = None
    scatter: Annotated[float | None, _number("scatter")] = None
    fault_cost: Annotated[float | None, _number("cost of a fault")] = None
    court: str = USUAL_AIM["court"]
    dot: str = USUAL_AIM["dot"]
    warmth: str = USUAL_AIM["warmth"]
    walls: str = USUAL_AIM["walls"]
    back: str = USUAL_AIM["back"]
    floor: str = USUAL_AIM["floor"]
    room: Annotated[float | None, _number("court temperature")] = None
    altitude: Annotated[float | None, _number("altitude")] = None
    across: Annotated[float | None, _number("distance from the left wall")] = None
    above: Annotated[float | None, _number("height")] = None
    speed: Annotated[float | None, _number("speed")] = None  # km/h, as the page asks
    pace: Annotated[float | None, _number("speed")] = None  # m/s, as links carry it
    moving: str = ""  # anything while the target is being moved: the effect of misses can wait
    compare: str = ""  # a second kind of serve, on the map of the front wall


def aim_texts(texts: Mapping[str, str]) -> dict[str, str]:
    """Return the texts of the form of an aim, the usual ones where a name is missing."""
    return {name: texts.get(name, usual) for name, usual in USUAL_AIM.items()}


class AimedForm(HtmlForm):
    """An aim to be practised: the question of the Aim page, as its address holds it."""

    question: str = ""

    @property
    def asked(self) -> Submitted[AimForm]:
        """The question read."""
        return read_form(AimForm, dict(parse_qsl(self.question)))
