"""A measured serve as JSON and as lines, and clicks read from a file."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError

if TYPE_CHECKING:
    from goodlength.measure.serves.serve_measurement import MeasuredServe

FIGURES = (
    ("speed_m_s", "speed off the racket", "m/s"),
    ("up_deg", "rise off the racket", "degrees"),
    ("to_front_s", "to the front wall", "s"),
    ("front_x_m", "front wall, from the left wall", "m"),
    ("front_z_m", "front wall, height", "m"),
    ("side_y_m", "side wall, from the front wall", "m"),
    ("side_z_m", "side wall, height", "m"),
    ("bounce_x_m", "first bounce, from the left wall", "m"),
    ("bounce_y_m", "first bounce, from the front wall", "m"),
    ("room_m", "second bounce, off the back wall", "m"),
)


def read_clicks(path: Path) -> list[dict[str, Any]]:
    """Clicks of a file: a JSON list of `{"what", "at_s", "u", "v"}`, as `try_measure` takes them.

    Raises
    ------
    InputError
        With the click that is wrong, and what would be accepted.
    """
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(f"{path.name} cannot be read as JSON ({error}).") from error
    if not isinstance(told, list) or not told:
        raise InputError(f'{path.name} should hold a list of clicks: [{{"what", "at_s", "u", "v"}}, ...].')
    return [_click(n, one) for n, one in enumerate(told, 1)]


def _click(n: int, one: Any) -> dict[str, Any]:
    if not isinstance(one, Mapping) or not {"what", "at_s", "u", "v"} <= one.keys():
        raise InputError(f'Click {n} needs "what", "at_s", "u" and "v"; got {one!r:.80}.')
    numbers = {}
    for name in ("at_s", "u", "v"):
        value = one[name]
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise InputError(f"Click {n}: {name} is a number; got {value!r:.40}.")
        numbers[name] = float(value)
    about, found = one.get("about") is True, one.get("found") is True
    return {
        "what": str(one["what"]),
        "at_us": round(numbers["at_s"] * 1e6),
        "u": numbers["u"],
        "v": numbers["v"],
        "about": about,
        **({"found": True} if found else {}),
    }


def measured_form(value: Mapping[str, Any], found: MeasuredServe | None = None) -> dict[str, Any]:
    """Each figure with middle, low and high; of 100; and each click's distance from the path."""
    form: dict[str, Any] = {
        name: dict(zip(("middle", "low", "high"), value[name], strict=True)) if value.get(name) else None
        for name, _, _ in FIGURES
    }
    form["range_holds"] = value["level"]
    form["of_100"] = {
        name: value[f"{name}_of_100"] for name in ("good", "side_first", "dies") if f"{name}_of_100" in value
    }
    form["side"] = value.get("side")
    form["marks"] = [dict(one) for one in value["marks"]]
    if found is not None:
        form["off"] = [
            {"what": one.what, "px": round(one.px, 1), "doubted": one in found.doubted} for one in found.marks
        ]
    return form


def measured_words(form: Mapping[str, Any]) -> list[str]:
    """The same as lines."""
    lines = [
        f"{words:<34} {form[name]['middle']:.2f} {unit} ({form[name]['low']:.2f} to {form[name]['high']:.2f})"
        for name, words, unit in FIGURES
        if form[name] is not None
    ]
    lines.append(f"Ranges hold {100 * form['range_holds']:.0f} in 100 of what fits the clicks.")
    if form.get("kind_proposed"):
        lines.append(f"It looks like the kind {form['kind_proposed']}; nothing is recorded by that.")
    lines += [f"“{one['what']}” does not fit the rest." for one in form.get("off", []) if one["doubted"]]
    return lines
