"""Simulate a serve or any other shot, or search for launches that pass wanted places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from goodlength.ball import (
    Ball,
    Court,
    FlightConstraints,
    PlayConditions,
    Receiver,
    launches_through,
)
from goodlength.ball import fly as fly_once
from goodlength.ball import serve as serve_once
from goodlength.ball.model.input_validation import within
from goodlength.court import SINGLES
from goodlength.errors import InputError

if TYPE_CHECKING:
    from goodlength.ball import BallFlight, ServeFlight, Ways


def fly_serve(
    box: str,
    contact_m: Sequence[float],
    velocity_m_s: Sequence[float],
    *,
    spin_rad_s: Sequence[float] = (0.0, 0.0, 0.0),
    dot: str = "double-yellow",
    warmth: str = "warm",
    how: PlayConditions | None = None,
) -> ServeFlight:
    """Fly one serve through the model of docs/reasons/ball.md.

    Parameters
    ----------
    box : str
        "right" or "left".
    contact_m, velocity_m_s, spin_rad_s : three numbers each
        Where the ball's centre is struck, how it leaves, and its spin; court frame, SI.
    dot, warmth : str
        The ball's dot, and how warm it is.
    how : Setting, optional
        Ball, court and room as a known court has them; goes before dot and warmth.

    Raises
    ------
    InputError, OutOfRange
        If a place, speed, box or ball cannot be.

    Limits
    ------
    The coefficients are assumed until a court is calibrated: about half a metre, 1 sd.

    Examples
    --------
    >>> fly_serve("right", (4.6, 5.8, 0.8), (-5.0, -15.5, 9.5)).legal
    True
    """
    setting = how or PlayConditions(ball=Ball(dot, warmth), court=Court())
    return serve_once(box, [*contact_m, *velocity_m_s, *spin_rad_s], setting)


def fly_shot(
    contact_m: Sequence[float],
    velocity_m_s: Sequence[float],
    how: PlayConditions | None = None,
    *,
    spin_rad_s: Sequence[float] = (0.0, 0.0, 0.0),
) -> BallFlight:
    """Fly any shot from any place in the court; `fly_serve` is the one for serves.

    Raises
    ------
    OutOfRange
        If a place, speed or spin cannot be.

    Examples
    --------
    >>> from goodlength.forms.flights.flight_json import shot_form
    >>> drop = fly_shot((1.2, 3.0, 0.7), (-0.2, -7.0, 2.4))
    >>> shot_form(drop)["good"]
    True
    """
    return fly_once([*contact_m, *velocity_m_s, *spin_rad_s], how)


def wanted_places(
    box: str | None,
    *,
    front_m: tuple[float, float] | None = None,
    side: tuple[str, float, float] | None = None,
    bounce_m: tuple[float, float] | None = None,
    feet: bool = False,
    room_m: float | None = None,
) -> FlightConstraints:
    """Return the places a ball should pass; `feet` puts the first bounce where the receiver usually stands.

    Raises
    ------
    InputError, OutOfRange
        If a place is outside the court, or the feet are wanted without a box or beside a bounce.
    """
    if feet:
        if bounce_m is not None:
            raise InputError(
                "The first bounce is wanted twice: at the feet and at a place. Give one of them."
            )
        if box is None:
            raise InputError(
                "The receiver's feet are known only from the box. Say the box: right or left, or a place."
            )
        receiver = Receiver.usual(box)
        bounce_m = (receiver.x_m, receiver.y_m)
    return FlightConstraints(front=front_m, side=side, first_bounce=bounce_m, second_bounce_room=room_m)


def launches_for(
    contact_m: Sequence[float],
    wanted: FlightConstraints,
    how: PlayConditions | None = None,
    *,
    speed_m_s: float | None = None,
) -> Ways:
    """Return every launch from a place that passes the places wanted, or none and what comes nearest.

    Raises
    ------
    InputError, OutOfRange
        If too little is wanted, or a place or speed cannot be.

    Examples
    --------
    >>> found = launches_for((4.6, 5.6, 1.2), FlightConstraints(side=("left", 6.8, 1.6)), speed_m_s=20.0)
    >>> len(found.ways)
    1
    """
    for value, words, most in zip(
        contact_m,
        ("from the left wall", "from the front wall", "above the floor"),
        (SINGLES.width.value_m - 0.02, SINGLES.length.value_m - 0.02, 20.0),
        strict=True,
    ):
        within(f"contact point {words}", value, 0.02, most, "m")
    return launches_through(contact_m, wanted, how, speed_m_s)
