"""Locations of the attempts of a set, on the front wall or on the floor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from goodlength.court import SINGLES
from goodlength.errors import InputError, OutOfRange
from goodlength.practice.planning.drill_library import Drill

WALL, FLOOR = "front-wall", "floor"


def surface_of(drill: Drill) -> str | None:
    """Return on what the drill's target stands, so that places can be marked; None where it has none.

    Examples
    --------
    >>> from goodlength.practice.planning.drill_library import drill
    >>> surface_of(drill("lob-to-the-box")), surface_of(drill("six-corners"))
    ('front-wall', None)
    """
    return WALL if drill.place == WALL else FLOOR if drill.place else None


def places_on(drill: Drill, places: Any, attempts: int) -> list[list[float]]:
    """Return places checked, to the centimetre: across from the left wall, then up or from the front wall.

    Raises
    ------
    InputError
        More places than attempts, a place that is not two numbers, or a drill without a place to hit.
    OutOfRange
        A place off the front wall or off the floor.
    """
    surface = surface_of(drill)
    if surface is None:
        raise InputError(
            f"{drill.name}: this drill has no place to hit, so no places are kept. Log hits only."
        )
    if not isinstance(places, Sequence) or isinstance(places, str) or len(places) > attempts:
        raise InputError(f"{drill.name}: at most one place for each of the {attempts} attempts.")
    return [_place(surface, place) for place in places]


def _place(surface: str, sequence: Any) -> list[float]:
    good = isinstance(sequence, Sequence) and not isinstance(sequence, str) and len(sequence) == 2
    numbers = (
        [float(v) for v in sequence if isinstance(v, (int, float)) and not isinstance(v, bool)]
        if good
        else []
    )
    if len(numbers) != 2 or not all(math.isfinite(v) for v in numbers):
        raise InputError(f"A place is two numbers of metres; got {sequence!r}. Mark it again.")
    wide = SINGLES.width.value_m
    top = SINGLES.clear_height.value_m if surface == WALL else SINGLES.length.value_m
    if not (0 <= numbers[0] <= wide and 0 <= numbers[1] <= top):
        where = "the front wall" if surface == WALL else "the floor"
        raise OutOfRange(
            f"A place at {numbers[0]:g} and {numbers[1]:g} m is outside {where}: across 0 to {wide:g} m, "
            f"then 0 to {top:g} m. Mark it again."
        )
    return [round(v, 2) for v in numbers]
