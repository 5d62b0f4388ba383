"""JSON form of a ball flight: path, contacts, verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from goodlength.ball import (
    PlayConditions,
)
from goodlength.ball import fly as fly_once
from goodlength.ball import serve as serve_once
from goodlength.court import SINGLES, return_verdict
from goodlength.errors import InputError
from goodlength.files.json_types import Json
from goodlength.tasks.aim.ball_flight_and_launch_search import fly_serve, fly_shot

if TYPE_CHECKING:
    from goodlength.ball import BallFlight, ServeFlight, Touch, Way, Ways


def flown_form(
    how: PlayConditions,
    box: str | None,
    kind: str | None,
    hand: str,
    contact_m: tuple[float, float, float] | None,
    velocity_m_s: Sequence[float] | None,
    spin_rad_s: Sequence[float] = (0.0, 0.0, 0.0),
) -> dict[str, Json]:
    """Return a kind of serve, a launch from a box, or (no box) any other shot, flown and told.

    Raises
    ------
    InputError, OutOfRange
        If a kind, place, speed or spin cannot be, or neither kind nor launch is given.
    """
    from goodlength.aim.serve_goals import task_of
    from goodlength.tasks.aim.serve_aim import contact_of, fly_kind

    if kind is not None and box is not None:
        task = task_of(kind, box, hand, contact_m=contact_of(contact_m))
        return {"kind": kind, "hand": hand, **serve_form(fly_kind(task, how), how)}
    if contact_m is None or velocity_m_s is None:
        raise InputError(
            "Nothing to fly: give a kind of serve with its box, or a contact point and a velocity."
        )
    if box is None:
        return shot_form(fly_shot(contact_m, velocity_m_s, how, spin_rad_s=spin_rad_s), how)
    return serve_form(fly_serve(box, contact_m, velocity_m_s, spin_rad_s=spin_rad_s, how=how), how)


def serve_form(seen: ServeFlight, how: PlayConditions | None = None) -> dict[str, Json]:
    """Return the JSON of `serve fly --json`; `how` is the setting it was flown in, for what is assumed."""
    at, receiver = seen.at_receiver, seen.receiver
    return {
        "box": seen.box,
        **_path_form(seen.flight),
        "legal": seen.legal,
        "verdict": seen.verdict.why,
        "second_bounce_from_side_m": seen.second_bounce_from_side_m,
        "receiver": {"x_m": receiver.x_m, "y_m": receiver.y_m, "reach_up_m": receiver.reach_up_m},
        "time_to_receiver_s": at.t_s if at else None,
        "height_at_receiver_m": at.z_m if at else None,
        "bounced_before_receiver": at.bounced if at else None,
        "volleyable": bool(seen.volleys),
        "volleys": [{"t_s": v.t_s, "x_m": v.x_m, "y_m": v.y_m, "z_m": v.z_m} for v in seen.volleys],
        "assumed": ["The receiver's place and reach are guesses.", *_assumed(how)],
    }


def shot_form(flight: BallFlight, how: PlayConditions | None = None) -> dict[str, Json]:
    """Return the JSON of `serve fly --json` of any other shot: no box, and the verdict is that of a
    return.
    """
    verdict = return_verdict(
        [touch.on_surface() for touch in flight.contacts], tin_m=flight.coefficients.tin_m
    )
    return {**_path_form(flight), "good": verdict.good, "verdict": verdict.why, "assumed": _assumed(how)}


def _assumed(how: PlayConditions | None) -> list[str]:
    return list((how or PlayConditions()).assumed())


def _path_form(flight: BallFlight) -> dict[str, Json]:
    """Return what every flight has: where it starts, what it touches, and how it ends."""
    x, y, z, vx, vy, vz = flight.launch[:6]
    other = flight.other_order
    return {
        "contact": {"x_m": x, "y_m": y, "z_m": z},
        "velocity_m_s": [vx, vy, vz],
        "spin_rad_s": list(flight.launch[6:9]),
        "speed_m_s": flight.speed_m_s,
        "up_deg": math.degrees(math.atan2(vz, math.hypot(vx, vy))),
        "left_deg": math.degrees(math.atan2(-vx, -vy)),
        "contacts": _contacts(flight.contacts),
        "other_order": None if other is None else _contacts(other.contacts),
        "second_bounce": _second(flight),
        "room_m": flight.room_m,
        "dies": flight.dies,
        "ended": flight.ended,
        "top_m": flight.top_m,
        "near_ceiling": flight.near_ceiling,
        "nick_chance": flight.nick_chance,
    }


def _contacts(touches: Sequence[Touch]) -> list[dict[str, Json]]:
    """Contacts, numbered from 2: 1 is the racket."""
    return [
        {
            "n": n,
            "surface": touch.surface.value,
            "t_s": touch.t_s,
            "x_m": touch.x_m,
            "y_m": touch.y_m,
            "z_m": touch.z_m,
            "speed_m_s": touch.speed_m_s,
            "speed_after_m_s": touch.speed_after_m_s,
            "also": touch.also.value if touch.also else None,
        }
        for n, touch in enumerate(touches, start=2)
    ]


def _second(flight: BallFlight) -> dict[str, float] | None:
    """Return where the second bounce is from each wall, of the ball's middle; None if it is not reached."""
    if len(flight.bounces) < 2:
        return None
    x, y = flight.bounces[1].x_m, flight.bounces[1].y_m
    return {
        "t_s": flight.bounces[1].t_s,
        "from_left_m": x,
        "from_right_m": SINGLES.width.value_m - x,
        "from_front_m": y,
        "from_back_m": SINGLES.length.value_m - y,
    }


def ways_form(ways: Ways, box: str | None = None, how: PlayConditions | None = None) -> dict[str, Json]:
    """Return the JSON of `serve inverse --json`: every way with its flight, or none with the nearest."""

    def way_form_of(way: Way) -> dict[str, Json]:
        head: dict[str, Json] = {
            "front_wall": {"x_m": way.front_x_m, "z_m": way.front_z_m},
            "lofted": way.lofted,
            "miss_m": way.miss_m,
        }
        if box is None:
            return head | shot_form(fly_once(way.launch, how), how)
        return head | serve_form(serve_once(box, way.launch, how), how)

    return {
        "words": ways.words,
        "ways": [way_form_of(way) for way in ways.ways],
        "nearest": None if ways.ways or ways.nearest is None else way_form_of(ways.nearest),
        "assumed": _assumed(how),
    }
