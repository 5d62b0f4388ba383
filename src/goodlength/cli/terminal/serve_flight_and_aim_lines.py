"""Terminal lines of a serve and its aim."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

GOAL = "Goal: "  # how the sentence on the goal begins, among what is assumed
NAMES = {
    "goal": "meet the goal",
    "good": "are good serves (no fault)",
    "dies": "die at the back wall",
    "volley": "could be volleyed",
    "off_back": "come off the back wall",
    "fault": "are faults",
}
OF_ONE = {"meet ": "meets ", "are good serves": "is a good serve", "die ": "dies ", "come ": "comes "}
OF_ONE |= {"are faults": "is a fault"}


def flight_lines(form: dict[str, Any]) -> Iterator[str]:
    """Yield one serve or shot: how it leaves, a table of its contacts (1 is the racket), and what becomes of
    it.
    """
    yield _launch(form)
    yield f"{'':<18} {'Time':>7}  {'From left':>9}  {'From front':>10}  {'Height':>7}  Speed"
    yield _contact_line(1, "racket", 0.0, form["contact"], form["speed_m_s"])
    for touch in form["contacts"]:
        yield _contact_line(touch["n"], touch["surface"], touch["t_s"], touch, touch["speed_m_s"])
        if touch["also"]:
            yield f"  Or the {touch['also'].replace('-', ' ')} first: within 2 mm, too close to call."
    yield f"{form['verdict'][0].upper()}{form['verdict'][1:]}."
    yield _ending(form)
    if form.get("box"):
        yield from _met(form)
    if form["near_ceiling"]:
        yield f"It flies {form['top_m']:.1f} m high, where lamps and beams may hang."
    if form["nick_chance"] >= 0.005:
        yield f"Rolls out of the nick {form['nick_chance'] * 100:.0f}% of the time, a guess without data."
    yield from _assumptions(form["assumed"])


def _assumptions(assumed: list[str]) -> Iterator[str]:
    """Yield what a result rests on: the goal first, then a list."""
    goals = [line for line in assumed if line.startswith(GOAL)]
    yield from goals
    others = [line for line in assumed if line not in goals]
    if others:
        yield "Assumptions:"
        yield from (f"  {line}" for line in others)


def way_lines(form: dict[str, Any]) -> Iterator[str]:
    """Yield every launch that passes the places, or none and the nearest."""
    yield form["words"]
    for n, way in enumerate(form["ways"] or [way for way in [form["nearest"]] if way], start=1):
        wall = way["front_wall"]
        yield ""
        name = f"Shot {n}" if form["ways"] else "Nearest shot"
        yield (
            f"{name}: at {wall['x_m']:.2f} m from the left wall and {wall['z_m']:.2f} m up on the front wall"
            f"{', lofted' if way['lofted'] else ''}."
        )
        yield from flight_lines({**way, "assumed": []})
    yield from _assumptions(form["assumed"])


def _pace(speed_m_s: float) -> str:
    return f"{speed_m_s * 3.6:.0f} km/h ({speed_m_s:.1f} m/s)"


def _launch(form: dict[str, Any]) -> str:
    up, left = form["up_deg"], form["left_deg"]
    return (
        f"Hit {abs(up):.0f}° {'upwards' if up >= 0 else 'downwards'}, {abs(left):.0f}° to the "
        f"{'left' if left >= 0 else 'right'} of straight at the front wall."
    )


def _contact_line(n: int, surface: str, t_s: float, place: dict[str, Any], speed_m_s: float) -> str:
    return (
        f"{n} {surface.replace('-', ' '):<16} {t_s:>5.2f} s  {place['x_m']:>7.2f} m  {place['y_m']:>8.2f} m  "
        f"{place['z_m']:>5.2f} m  {_pace(speed_m_s)}"
    )


def _ending(form: dict[str, Any]) -> str:
    """Where the second bounce is, in words; of a serve also whether it dies."""
    second, room = form["second_bounce"], form["room_m"]
    if second is None:
        return f"No second bounce is given: {form['ended']}."
    side = "left" if second["from_left_m"] <= second["from_right_m"] else "right"
    where = f"{abs(room):.2f} m {'off' if room >= 0 else 'short of'} the back wall"
    if not form.get("box") and room < 0 and second["from_front_m"] < second["from_back_m"]:
        where = f"{second['from_front_m']:.2f} m from the front wall"
    place = f"second bounce {where}, {second[f'from_{side}_m']:.2f} m from the {side} wall"
    if not form.get("box"):
        return f"{place[0].upper()}{place[1:]}."
    return f"Dies: {place}." if form["dies"] else f"Does not die: {place}."


def _met(form: dict[str, Any]) -> Iterator[str]:
    """What the receiver meets."""
    if form["time_to_receiver_s"] is None:
        yield "It does not get as far as the receiver."
    else:
        bounced = "after its bounce" if form["bounced_before_receiver"] else "not yet bounced"
        yield (
            f"Level with the receiver {form['time_to_receiver_s']:.2f} s after contact, "
            f"{form['height_at_receiver_m']:.2f} m up, {bounced}."
        )
    places = [
        f"{v['y_m']:.2f} m from the front wall and {v['z_m']:.2f} m up, after {v['t_s']:.2f} s"
        for v in form["volleys"]
    ]
    yield f"Could be volleyed {'; '.join(places)}." if places else "Out of reach of a volley."


def aim_lines(form: dict[str, Any]) -> Iterator[str]:
    """Yield the aim, what comes of a hundred, what a miss costs, and what is assumed."""
    wall, pace = form["front_wall"], form["speed_m_s"]
    yield (
        f"Aim {form['above_service_line_m']:.2f} m above the service line, {wall['x_m']:.2f} m from the left "
        f"wall, at {_pace(pace)}."
    )
    if form["box_to_tape"]:
        tape = form["box_to_tape"]
        yield f"Tape a box {tape['wide_m'] * 100:.0f} cm wide and {tape['tall_m'] * 100:.0f} cm tall there."
    yield "Out of 100 serves (a serve can count in several lines; 95% range in brackets):"
    for name, words in NAMES.items():
        low, high = form["bands"][name]
        yield f"  {_count(form['of_100'][name], words, 3)} ({low:.0f} to {high:.0f})"
    for edge in form["window"]["edges"]:
        pace = edge["way"] in ("too slow", "too fast")
        size = _size(edge["distance"] * 3.6, "km/h") if pace else _size(edge["distance"] * 100, "cm")
        yield f"{edge['way'].capitalize()} by {size}: {edge['beyond']}."
    for miss in form["misses"]:
        of = miss["of_100"]
        yield (
            f"{miss['words'].capitalize()}: {_count(of['goal'], NAMES['goal'])}, "
            f"{_count(of['off_back'], NAMES['off_back'])}, {_count(of['fault'], NAMES['fault'])}."
        )
    yield from _assumptions(form["assumed"])


def _count(number: float, words: str, width: int = 1) -> str:
    """Return a number of serves with what becomes of them; of one serve in the singular."""
    if round(number) == 1:
        words = next((words.replace(many, single) for many, single in OF_ONE.items() if many in words), words)
    return f"{number:{width}.0f} {words}"


def _size(value: float, unit: str) -> str:
    return f"less than 1 {unit}" if round(value) < 1 else f"{value:.0f} {unit}"
