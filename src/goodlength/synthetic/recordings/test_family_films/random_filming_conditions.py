"""The conditions a film is filmed under, each with a name, drawn at random for every film.

Every condition is drawn by itself, so that any of them can be set by hand and the rest left to chance.
What is named here is what tables report by; ranges behind the names are ASSUMED from phones and courts.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from goodlength.errors import OutOfRange

FLOORS = (
    "pale matt",
    "pale shiny",
    "pale mirror",
    "mid matt",
    "mid shiny",
    "dark matt",
    "dark shiny",
    "dark mirror",
    "painted",
)
WALLS = ("plaster", "tinted plaster", "panels", "glass", "marked plaster")
BACKS = ("glass", "glass with door", "plaster")
CLOTHES = ("unlike", "both white", "both dark", "like the floor", "like the wall", "patterned")
LENSES = ("60 to 72 degrees", "72 to 90 degrees", "90 to 110 degrees")
SHAPES = ("landscape", "portrait")
PLACES = (
    "behind, low",
    "behind, high",
    "behind, to one side",
    "above, middle",
    "above, to one side",
    "above, corner",
)
LIGHTS = ("steady", "flicker", "uneven", "fail")
SPECTATORS = ("none", "few behind glass", "many behind glass", "before the camera")
CROSSINGS = ("none", "one", "two")
NUDGES = ("none", "one", "two")
SHUTTERS = ("1/50 to 1/90", "1/90 to 1/200", "1/200 to 1/500")
RATES = ("25", "30", "50", "60")
CODECS = ("H.264 high", "H.264 low", "HEVC high", "HEVC low", "messenger copy")
NOISES = ("little", "some", "much")
SIZES = ("1280x720", "1920x1080", "640x360")
ADVERTS = ("none", "some", "many")
BALLS = ("black", "blue", "white")
KINDS = (
    "singles",
    "children",
    "doubles",
    "coach walks in",
    "nobody on court",
    "court of other lines",
    "mirrored film",
    "half dark",
    "two courts in view",
    "no court",
)
ODD = KINDS[1:]

_TABLE: dict[str, tuple[tuple[str, ...], tuple[float, ...]]] = {
    "floor": (FLOORS, (0.14, 0.16, 0.1, 0.12, 0.14, 0.08, 0.1, 0.06, 0.1)),
    "wall": (WALLS, (0.36, 0.14, 0.2, 0.14, 0.16)),
    "back": (BACKS, (0.4, 0.42, 0.18)),
    "clothes": (CLOTHES, (0.4, 0.2, 0.12, 0.08, 0.08, 0.12)),
    "lens": (LENSES, (0.4, 0.35, 0.25)),
    "shape": (SHAPES, (0.85, 0.15)),
    "place": (PLACES, (0.3, 0.2, 0.15, 0.17, 0.1, 0.08)),
    "lights": (LIGHTS, (0.55, 0.2, 0.17, 0.08)),
    "spectators": (SPECTATORS, (0.45, 0.25, 0.15, 0.15)),
    "crossing": (CROSSINGS, (0.65, 0.25, 0.1)),
    "nudge": (NUDGES, (0.65, 0.25, 0.1)),
    "shutter": (SHUTTERS, (0.3, 0.4, 0.3)),
    "rate": (RATES, (0.25, 0.4, 0.15, 0.2)),
    "codec": (CODECS, (0.35, 0.15, 0.2, 0.1, 0.2)),
    "noise": (NOISES, (0.4, 0.4, 0.2)),
    "size": (SIZES, (0.8, 0.1, 0.1)),
    "adverts": (ADVERTS, (0.5, 0.3, 0.2)),
    "ball": (BALLS, (0.8, 0.12, 0.08)),
}


@dataclass(frozen=True)
class FilmConditions:
    """The name of every condition of one film, and its kind: "singles" or one of `ODD`."""

    kind: str
    floor: str
    wall: str
    back: str
    clothes: str
    lens: str
    shape: str
    place: str
    lights: str
    spectators: str
    crossing: str
    nudge: str
    shutter: str
    rate: str
    codec: str
    noise: str
    size: str
    adverts: str
    ball: str

    def names(self) -> dict[str, str]:
        """Return every condition with its value."""
        return {f.name: str(getattr(self, f.name)) for f in fields(self)}


def choices(condition: str) -> tuple[str, ...]:
    """Return the values a condition can have.

    Raises
    ------
    OutOfRange
        If there is no such condition.
    """
    if condition == "kind":
        return KINDS
    if condition not in _TABLE:
        raise OutOfRange(
            f"there is no condition {condition!r} of a film; there are kind, {', '.join(_TABLE)}. Take one."
        )
    return _TABLE[condition][0]


def draw_conditions(rng: np.random.Generator, kind: str = "singles", **chosen: str) -> FilmConditions:
    """Return conditions drawn at random, those given by name set instead.

    Raises
    ------
    OutOfRange
        If a condition or its value does not exist.
    """
    for name, value in {"kind": kind, **chosen}.items():
        if value not in choices(name):
            raise OutOfRange(
                f"{name} {value!r} does not exist; there are {', '.join(choices(name))}. Take one."
            )
    values: dict[str, Any] = {name: str(rng.choice(table, p=p)) for name, (table, p) in _TABLE.items()}
    return _agreed(FilmConditions(kind=kind, **{**values, **chosen}), chosen)


def _agreed(conditions: FilmConditions, chosen: dict[str, str]) -> FilmConditions:
    """Return conditions that do not contradict each other; what was chosen stays where it can."""
    if conditions.place.startswith("behind") and conditions.back == "plaster":
        if "back" in chosen and "place" not in chosen:
            conditions = replace(conditions, place="above, middle")
        else:
            conditions = replace(conditions, back="glass with door")
    if conditions.wall == "glass" and conditions.back == "plaster":
        conditions = replace(conditions, back="glass", place=conditions.place)
    if conditions.spectators in {"few behind glass", "many behind glass"} and conditions.wall != "glass":
        if "spectators" in chosen and "wall" not in chosen:
            conditions = replace(conditions, wall="glass", back="glass")
        elif "spectators" not in chosen:
            conditions = replace(
                conditions, spectators="before the camera" if conditions.spectators[0] == "m" else "none"
            )
    if conditions.ball == "white" and not conditions.floor.startswith(("painted", "dark")):
        conditions = replace(conditions, ball="black" if "ball" not in chosen else conditions.ball)
    return conditions
