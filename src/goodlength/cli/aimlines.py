"""A serve and its aim as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

NAMES = {
    "goal": "do what is wanted",
    "good": "are good",
    "dies": "die at the back wall",
    "volley": "the receiver could volley",
    "off_back": "come off the back wall",
    "fault": "are faults",
}


def flight_lines(form: dict[str, Any]) -> Iterator[str]:
    """One serve, contact by contact; 1 is the racket."""
    for n, touch in enumerate(form["contacts"], start=2):
        place = f"{touch['x_m']:.2f}, {touch['y_m']:.2f}, {touch['z_m']:.2f} m"
        yield f"{n} {touch['surface']:<16} {touch['t_s']:5.2f} s  at {place}, {touch['speed_m_s']:.1f} m/s"
    yield form["verdict"]
    yield f"Assumed: {form['assumed']}."


def aim_lines(form: dict[str, Any]) -> Iterator[str]:
    """The aim, what comes of a hundred, what a miss costs, and what is assumed."""
    wall, pace = form["front_wall"], form["speed_m_s"]
    yield (
        f"Aim {form['above_service_line_m']:.2f} m above the service line, {wall['x_m']:.2f} m from the left "
        f"wall, at {pace:.1f} m/s ({pace * 3.6:.0f} km/h)."
    )
    if form["box_to_tape"]:
        tape = form["box_to_tape"]
        yield f"Tape a box {tape['wide_m'] * 100:.0f} cm wide and {tape['tall_m'] * 100:.0f} cm tall there."
    yield "Of 100 (in brackets: for 95 in 100 of what ball and court may be):"
    for name, words in NAMES.items():
        low, high = form["bands"][name]
        yield f"  {form['of_100'][name]:3.0f} {words} ({low:.0f} to {high:.0f})"
    for edge in form["window"]["edges"]:
        pace = edge["way"] in ("too slow", "too fast")
        size = f"{edge['distance']:.1f} m/s" if pace else f"{edge['distance'] * 100:.0f} cm"
        yield f"{edge['way'].capitalize()} by {size}: {edge['beyond']}."
    for miss in form["misses"]:
        of = miss["of_100"]
        yield (
            f"{miss['words'].capitalize()}: {of['goal']:.0f} do what is wanted, {of['off_back']:.0f} come "
            f"off the back wall, {of['fault']:.0f} are faults."
        )
    for line in form["assumed"]:
        yield f"Assumed: {line}"
