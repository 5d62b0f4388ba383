"""Custom drills of the coach: validated at once, stored as plain values beside the library's."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, JsonValue

from goodlength.court import SINGLES
from goodlength.errors import InputError
from goodlength.files.json_types import Json
from goodlength.files.typed_value_parsing import read_as
from goodlength.practice.planning.drill_library import (
    DRILLS,
    Company,
    Dose,
    Drill,
    DrillSpot,
    Theme,
    WallBox,
)

MOST_SPOTS = 4
PLACES = ("front-wall", "back-quarter")  # what a target may stand on; none: a hit is judged another way
_TEXTS = (
    ("name", "a name", 60),
    ("do", "a task", 600),
    ("counts", "what counts as a hit", 300),
    ("changes", "a goal", 300),
)
Numbers = tuple[tuple[str, str, float, float], ...]
_DOSE: Numbers = (
    ("sets", "Sets", 1, 20),
    ("attempts", "Attempts per set", 1, 500),
    ("rest_s", "Rest (seconds)", 0, 900),
    ("minutes", "Minutes", 1, 180),
)


_Objects = Annotated[list[dict[str, JsonValue]], BeforeValidator(lambda given: given or [])]
_Words = Annotated[list[str], BeforeValidator(lambda given: given or [])]
_Object = Annotated[dict[str, JsonValue] | None, BeforeValidator(lambda given: given or None)]


class _DrillValue(BaseModel):
    """The shape of a drill; what is typed in a field is judged field by field, in the coach's words."""

    model_config = ConfigDict(extra="allow")
    spots: _Objects = []
    kinds: _Words = []
    box: _Object = None


def own_drill(given: object, taken: Sequence[str] = ()) -> Drill:
    """Return a drill of the coach's own from plain values, or every fault of it at once.

    Parameters
    ----------
    given : object
        name, theme, company, do, counts, changes, sets, attempts, rest_s, minutes; and where they apply
        `spots` (words, x_m, y_m), `place` (front-wall or back-quarter), `box` (left_m, low_m, wide_m,
        tall_m on the front wall), `kinds` (of serve), `body_target`,
        `mixed` (the task itself draws what comes next), `id`.
    taken : sequence of str
        Ids that are used already.

    Raises
    ------
    InputError
        The faults, each in a sentence: a place off the court, a box off the front wall, an empty name.
    """
    value = read_as(_DrillValue, given, "drill").model_dump()
    faults: list[str] = []
    texts = {key: _text(value, key, words, most, faults) for key, words, most in _TEXTS}
    theme = _one_of(value, "theme", [theme_item.value for theme_item in Theme], faults)
    company = _one_of(value, "company", [company_item.value for company_item in Company], faults)
    sets, attempts, rest_s, minutes = (_whole(value, *row, faults) for row in _DOSE)
    spots = _spots(value.get("spots") or (), faults)
    box = _box(value.get("box"), faults)
    place = str(value.get("place") or "") or ("front-wall" if box else None)
    if place and place not in PLACES:
        faults.append(f"The target stands on {' or '.join(PLACES)}, or on neither; got {place!r}.")
    if box and place == "back-quarter":
        faults.append("A taped box is on the front wall; a target in the back quarter has none. Choose one.")
    drill_id = str(value.get("id") or _id_of(texts["name"]))
    if drill_id in taken or any(drill.id == drill_id for drill in DRILLS):
        faults.append(f"There is a drill {drill_id!r} already. Give yours another name.")
    if faults:
        raise InputError(" ".join(faults))
    return Drill(
        drill_id,
        texts["name"],
        Theme(theme),
        Company(company),
        texts["do"],
        texts["counts"],
        texts["changes"],
        spots,
        place,
        Dose(sets, attempts, rest_s),
        minutes,
        tuple(str(kind) for kind in value.get("kinds") or ()),
        bool(value.get("body_target")),
        True,
        box,
        bool(value.get("mixed")),
    )


def drill_value(drill: Drill) -> dict[str, Json]:
    """Return a drill as plain values, as `own_drill` reads them.

    Examples
    --------
    >>> from goodlength.practice.planning.drill_library import drill
    >>> lob = drill("lob-to-the-box")
    >>> own_drill({**drill_value(lob), "id": "my-lob"}).counts == lob.counts
    True
    """
    box = drill.box
    return {
        "id": drill.id,
        "name": drill.name,
        "theme": drill.theme.value,
        "company": drill.company.value,
        "do": drill.do,
        "counts": drill.counts,
        "changes": drill.changes,
        "spots": [{"words": s.words, "x_m": s.x_m, "y_m": s.y_m} for s in drill.spots],
        "place": drill.place,
        "sets": drill.dose.sets,
        "attempts": drill.dose.attempts,
        "rest_s": drill.dose.rest_s,
        "minutes": drill.minutes,
        "kinds": list(drill.kinds),
        "body_target": drill.body_target,
        "mixed": drill.mixed,
        "box": None
        if box is None
        else {
            "left_m": box.left_m,
            "low_m": box.low_m,
            "wide_m": box.wide_m,
            "tall_m": box.tall_m,
        },
    }


def _id_of(name: str) -> str:
    return "own-" + (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "drill")[:50]


def _text(value: Mapping[str, Any], key: str, words: str, most: int, faults: list[str]) -> str:
    text = " ".join(str(value.get(key) or "").split())
    if not text:
        faults.append(f"A drill needs {words}. Fill it in.")
    if len(text) > most:
        faults.append(
            f"A drill needs {words} of at most {most} letters; this has {len(text)}. Make it shorter."
        )
    return text


def _one_of(value: Mapping[str, Any], key: str, known: Sequence[str], faults: list[str]) -> str:
    choice = str(value.get(key) or "")
    if choice not in known:
        faults.append(f"The drill's {key} must be one of {', '.join(known)}; got {choice or 'nothing'!r}.")
        return known[0]
    return choice


def _whole(
    value: Mapping[str, Any], key: str, words: str, least: float, most: float, faults: list[str]
) -> int:
    number = _number(value.get(key))
    if number is None or number != int(number) or not least <= number <= most:
        given = value.get(key)
        typed = "nothing" if given is None else repr(given)
        faults.append(f"{words}: a whole number from {least:g} to {most:g} is needed; got {typed}.")
        return int(least)
    return int(number)


def _number(text: Any) -> float | None:
    try:
        number = float(str(text).strip().replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _spots(given: Any, faults: list[str]) -> tuple[DrillSpot, ...]:
    wide, long = SINGLES.width.value_m, SINGLES.length.value_m
    if len(given) > MOST_SPOTS:
        faults.append(f"At most {MOST_SPOTS} places can be drawn; got {len(given)}.")
    spots = []
    for item in list(given)[:MOST_SPOTS]:
        x, y, words = _number(item.get("x_m")), _number(item.get("y_m")), str(item.get("words") or "").strip()
        if x is None or y is None or not (0 <= x <= wide and 0 <= y <= long):
            faults.append(
                f"{words or 'A player'} would stand off the court: 0 to {wide:g} m from the left wall "
                "and 0 to "
                f"{long:g} m from the front wall are possible; got {item.get('x_m')} and {item.get('y_m')}."
            )
        else:
            spots.append(DrillSpot(words[:40] or "player", x, y))
    return tuple(spots)


def _box(given: Any, faults: list[str]) -> WallBox | None:
    if not given:
        return None
    left, low, wide, tall = (_number(given.get(key)) for key in ("left_m", "low_m", "wide_m", "tall_m"))
    if left is None or low is None or wide is None or tall is None:
        faults.append(
            "A taped box needs four numbers in metres: from left wall, bottom edge height, width, height."
        )
        return None
    court, top = SINGLES.width.value_m, SINGLES.front_out_line.value_m
    if wide <= 0 or tall <= 0 or left < 0 or left + wide > court + 1e-9:
        faults.append(
            _outside(f"{left:g} to {left + wide:g} m across", f"0 to {court:g} m from the left wall")
        )
    elif low < SINGLES.tin_tour.value_m or low + tall > top + 1e-9:
        tin = SINGLES.tin_tour.value_m
        faults.append(
            _outside(f"{low:g} to {low + tall:g} m up", f"{tin:g} m (the tin) to {top:g} m (the out line)")
        )
    return WallBox(left, low, wide, tall)


def _outside(got: str, room: str) -> str:
    return f"The taped box is outside the wall: {got}; it must be within {room}. Measure again."
