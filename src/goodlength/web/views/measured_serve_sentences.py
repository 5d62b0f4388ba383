"""Sentences on a measured serve: kilometres an hour, metres up the wall, centimetres of margin."""

from __future__ import annotations

from goodlength.measure.shots.followed_ball_types import PathServe
from goodlength.record.entry_value_types import Measured, MeasuredValue

KM_H = 3.6


def measured_short(value: MeasuredValue | None) -> str:
    """Return the speed alone, for a line of the sheet; empty where nothing was measured."""
    return "" if value is None else f"{KM_H * value.speed_m_s[0]:.0f} km/h"


def measured_lines(value: MeasuredValue) -> list[tuple[str, str, str]]:
    """Return what was measured: a name, the middle value, and the range; what seldom happens is left out."""
    side = f"{value.side} side wall" if value.side else ""
    rows: list[tuple[str, Measured | None, str, float]] = [
        ("Speed off the racket", value.speed_m_s, "km/h", KM_H),
        ("Launch angle", value.up_deg, "°", 1.0),
        ("Contact, height", value.struck_m[2], "m", 1.0),
        ("To the front wall", value.to_front_s, "s", 1.0),
        ("Front wall, height", value.front_z_m, "m", 1.0),
        ("Front wall, from the left wall", value.front_x_m, "m", 1.0),
        (f"{side.capitalize()}, height", value.side_z_m if side else None, "m", 1.0),
        (f"{side.capitalize()}, from the front wall", value.side_y_m if side else None, "m", 1.0),
        ("First bounce, from the front wall", value.bounce_y_m, "m", 1.0),
        ("First bounce, from the left wall", value.bounce_x_m, "m", 1.0),
    ]
    lines = [
        (name, *_words(triple, unit, factor)) for name, triple, unit, factor in rows if triple is not None
    ]
    room = value.room_m
    if room is not None:
        lines.append(("Second bounce from back wall", _room(room[0]), _room_range(room[1], room[2])))
    return lines


def receiver_lines(serve: PathServe) -> list[tuple[str, str, str]]:
    """Return where the receiver struck the ball, as `measured_lines`; none where nobody did."""
    rows = (
        ("Height where the receiver struck it", serve.receiver_z_m),
        ("From the side wall there", serve.receiver_side_m),
    )
    return [(name, *_words(triple, "m", 1.0)) for name, triple in rows if triple is not None]


def measured_odds(value: MeasuredValue) -> list[str]:
    """Return what becomes of a hundred flights that fit the marks."""
    rows = (
        (value.good_of_100, "likely to be good if left"),
        (value.side_first_of_100, "likely to touch a side wall before the bounce"),
        (value.dies_of_100, "likely to die within 60 cm of the back wall"),
    )
    return [f"{count}% {words}" for count, words in rows if count is not None]


def _words(triple: Measured, unit: str, factor: float) -> tuple[str, str]:
    digits = 0 if unit in ("km/h", "°") else 2
    middle, low, high = (f"{factor * value:.{digits}f}" for value in triple)
    gap = "" if unit == "°" else " "
    return f"{middle}{gap}{unit}", f"{low} to {high}"


def _room_range(low: float, high: float) -> str:
    """Return a range beside its middle; the words only where low and high lie on either side of the wall."""
    if low < 0 <= high:
        return f"{_room(low)} to {_room(high)}"
    nearer, farther = sorted((abs(low), abs(high)))
    return f"{nearer:.2f} to {farther:.2f}"


def _room(value: float) -> str:
    where = "after hitting it" if value >= 0 else "in front of it"
    return f"{abs(value):.2f} m {where}"
