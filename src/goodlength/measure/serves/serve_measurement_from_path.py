"""A serve measured from the path that was followed, without a click: the same values as a clicked one.

Flights are drawn from what the fit of the path leaves open (strike, speed, what walls and floor leave, clock,
camera) and flown on; what a fit does not know of (spin, walls that are not alike) is added as a spread chosen
on simulated rallies. Ranges hold about 90 in 100 of simulated serves of other balls, that of the height
at the receiver 78 in 100 (judged, n = 74), see docs/bench.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from goodlength.ball.flight.path_at_times_kernel import path_at
from goodlength.court.dimensions import WIDTH_M
from goodlength.measure.serves.serve_forward_model import Floats
from goodlength.measure.serves.serve_measurement import OFTEN, Interval, flight_ranges
from goodlength.record.entry_value_types import MarkValue, Measured, MeasuredValue

LEVEL = 0.9
FLIGHTS = 300
MOST_MARKS = 40
# Spread beyond what the fit leaves open, m (of the speed a share), chosen on simulated rallies of the
# choosing states, each with another ball.
EXTRA_ERRORS = {
    "speed_m_s": 0.015,
    "front_x_m": 0.055,
    "front_z_m": 0.04,
    "to_front_s": 0.004,
    "side_y_m": 0.14,
    "side_z_m": 0.14,
    "bounce_x_m": 0.055,
    "bounce_y_m": 0.075,
    "second_x_m": 0.12,
    "second_y_m": 0.12,
    "room_m": 0.12,
    "struck_m": 0.06,
}
RECEIVER_EXTRA_M = (0.05, 0.05, 0.03)


def serve_value(
    footage: str,
    struck_us: int,
    launches: Floats,
    rows: Floats,
    marks: Sequence[tuple[int, float, float]],
    *,
    with_sound: bool,
    rng: np.random.Generator,
) -> MeasuredValue | None:
    """Return what drawn flights say of a serve, in the form of a clicked one, at `LEVEL`.

    None where fewer than half of them meet the front wall, or where a value is no number.

    Parameters
    ----------
    launches : ndarray, shape (n, 9)
    rows : ndarray, shape (n, 25)
        Coefficients of each.
    marks : sequence of (us, u, v)
        Places of the ball in the picture that the path rests on, at least one.
    """
    found = flight_ranges(launches, rows, None, LEVEL, EXTRA_ERRORS, rng)
    always = (found.speed_m_s, found.up_deg, found.front_x_m, found.front_z_m, found.to_front_s)
    if not np.isfinite([interval.middle for interval in (*always, *found.struck_m)]).all():
        return None
    across, along, up = (measured(interval) for interval in found.struck_m)
    side: Literal["right", "left"] | None = found.side
    step = max(1, math.ceil(len(marks) / MOST_MARKS))
    return MeasuredValue(
        footage=footage,
        marks=tuple(
            MarkValue(what="ball", at_us=us, u=round(u, 2), v=round(v, 2), found=True)
            for us, u, v in marks[::step]
        ),
        struck_us=struck_us,
        level=LEVEL,
        speed_m_s=measured(found.speed_m_s),
        up_deg=measured(found.up_deg),
        front_x_m=measured(found.front_x_m),
        front_z_m=measured(found.front_z_m),
        to_front_s=measured(found.to_front_s),
        side=side,
        side_y_m=_given(found.side_y_m),
        side_z_m=_given(found.side_z_m),
        bounce_x_m=_given(found.bounce_x_m),
        bounce_y_m=_given(found.bounce_y_m),
        second_x_m=_given(found.second_x_m),
        second_y_m=_given(found.second_y_m),
        room_m=_given(found.room_m),
        struck_m=(across, along, up),
        side_first_of_100=found.of_100["side_wall_first"],
        dies_of_100=found.of_100["dies"],
        heard=with_sound,
    )


def at_receiver(
    launches: Floats, rows: Floats, after_s: float, rng: np.random.Generator
) -> tuple[Measured, Measured] | tuple[None, None]:
    """Return height, and distance from the nearer side wall, of the ball so long after the serve, m.

    None for both where fewer than half of the flights have a place then.
    """
    places = np.array(
        [path_at(launch, row, np.array([after_s]))[0][0] for launch, row in zip(launches, rows, strict=True)]
    )
    places = places + rng.normal(0.0, RECEIVER_EXTRA_M, places.shape)
    there = np.isfinite(places).all(axis=1)
    if float(there.mean()) < OFTEN:
        return None, None
    places = places[there]
    from_wall_m = np.minimum(places[:, 0], WIDTH_M - places[:, 0])
    return measured(Interval.of(places[:, 2], LEVEL)), measured(Interval.of(from_wall_m, LEVEL))


def measured(interval: Interval) -> Measured:
    """Return an interval as it is stored, to a tenth of a millimetre."""
    return round(interval.middle, 4), round(interval.low, 4), round(interval.high, 4)


def _given(interval: Interval | None) -> Measured | None:
    return None if interval is None else measured(interval)
