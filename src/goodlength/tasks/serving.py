"""A serve flown: its contacts, its verdict and what the receiver meets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from goodlength.ball import Ball, Court, Setting
from goodlength.ball import serve as serve_once

if TYPE_CHECKING:
    from goodlength.ball import Serve


def fly_serve(
    box: str,
    contact_m: Sequence[float],
    velocity_m_s: Sequence[float],
    *,
    spin_rad_s: Sequence[float] = (0.0, 0.0, 0.0),
    dot: str = "double-yellow",
    warmth: str = "warm",
    how: Setting | None = None,
) -> Serve:
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
    setting = how or Setting(ball=Ball(dot, warmth), court=Court())
    return serve_once(box, [*contact_m, *velocity_m_s, *spin_rad_s], setting)


def serve_form(seen: Serve) -> dict[str, Any]:
    """`serve fly --json`."""
    flight = seen.flight
    at = seen.at_receiver
    return {
        "box": seen.box,
        "contacts": [
            {
                "surface": touch.surface.value,
                "t_s": touch.t_s,
                "x_m": touch.x_m,
                "y_m": touch.y_m,
                "z_m": touch.z_m,
                "speed_m_s": touch.speed_m_s,
            }
            for touch in flight.contacts
        ],
        "legal": seen.legal,
        "verdict": seen.verdict.why,
        "room_m": flight.room_m,
        "dies": flight.dies,
        "second_bounce_from_side_m": seen.second_bounce_from_side_m,
        "time_to_receiver_s": at.t_s if at else None,
        "height_at_receiver_m": at.z_m if at else None,
        "volleyable": bool(seen.volleys),
        "speed_m_s": flight.speed_m_s,
        "nick_chance": flight.nick_chance,
        "assumed": "coefficients not calibrated on a court: about half a metre, 1 sd",
    }
