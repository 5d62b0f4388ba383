"""A measured serve in the words of a coach: kilometres an hour, metres up the wall, centimetres of room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

KM_H = 3.6


def measured_short(value: Any) -> str:
    """The speed alone, for a line of the sheet; empty where nothing was measured.

    Examples
    --------
    >>> measured_short({"speed_m_s": [20.0, 18.0, 22.0]}), measured_short(None)
    ('72 km/h', '')
    """
    if not isinstance(value, Mapping) or not _is_range(value.get("speed_m_s")):
        return ""
    return f"{KM_H * value['speed_m_s'][0]:.0f} km/h"


def measured_lines(value: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """What was measured: a name, the middle value, and the range; what seldom happens is left out."""
    side = f"{value.get('side')} side wall" if value.get("side") else ""
    rows: list[tuple[str, Any, str, float]] = [
        ("Speed off the racket", value.get("speed_m_s"), "km/h", KM_H),
        ("Rise off the racket", value.get("up_deg"), "°", 1.0),
        ("Struck, height", _part(value.get("struck_m"), 2), "m", 1.0),
        ("To the front wall", value.get("to_front_s"), "s", 1.0),
        ("Front wall, height", value.get("front_z_m"), "m", 1.0),
        ("Front wall, from the left wall", value.get("front_x_m"), "m", 1.0),
        (f"{side.capitalize()}, height", value.get("side_z_m") if side else None, "m", 1.0),
        (f"{side.capitalize()}, from the front wall", value.get("side_y_m") if side else None, "m", 1.0),
        ("First bounce, from the front wall", value.get("bounce_y_m"), "m", 1.0),
        ("First bounce, from the left wall", value.get("bounce_x_m"), "m", 1.0),
    ]
    told = [(name, *_words(one, unit, factor)) for name, one, unit, factor in rows if _is_range(one)]
    room = value.get("room_m")
    if room is not None and _is_range(room):
        told.append(("Second bounce and back wall", _room(room[0]), f"{_room(room[1])} to {_room(room[2])}"))
    return told


def measured_odds(value: Mapping[str, Any]) -> list[str]:
    """Of a hundred flights that fit the marks."""
    rows = (
        ("good_of_100", "are good if nobody takes them"),
        ("side_first_of_100", "touch a side wall before they bounce"),
        ("dies_of_100", "die within 60 cm of the back wall"),
    )
    return [f"{value[name]} {words}" for name, words in rows if isinstance(value.get(name), int)]


def _is_range(one: Any) -> bool:
    return isinstance(one, Sequence) and not isinstance(one, str) and len(one) == 3


def _part(three: Any, at: int) -> Any:
    return three[at] if isinstance(three, Sequence) and len(three) == 3 else None


def _words(one: Sequence[float], unit: str, factor: float) -> tuple[str, str]:
    digits = 0 if unit in ("km/h", "°") else 2
    middle, low, high = (f"{factor * value:.{digits}f}" for value in one)
    gap = "" if unit == "°" else " "
    return f"{middle}{gap}{unit}", f"{low} to {high}"


def _room(value: float) -> str:
    where = "off it" if value >= 0 else "short of it"
    return f"{abs(value):.2f} m {where}"
