"""Check the legality of many serves from their flight summaries, as the court does for one serve.

`tests/unit/ball/test_ball_legal.py` holds it to `court.serve_verdict` serve by serve.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from goodlength.ball.flight.batch_flight_simulation import Ints, Summaries
from goodlength.ball.flight.receiver_position_and_reach import BOXES, Receiver
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.input_validation import Floats, one_of
from goodlength.court import SINGLES
from goodlength.court.floor_zones import MARKED

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


class ServeFault(IntEnum):
    """What is wrong with a serve, the first thing on its way; 0 where nothing is."""

    NONE = 0
    NOT_FRONT_FIRST = 1
    LOW = 2  # tin, below or on the service line
    OUT = 3
    SHORT = 4  # first bounce on or before the short line
    WRONG_SIDE = 5  # first bounce on or beyond the half-court line
    NO_BOUNCE = 6


FAULT_WORDS = {
    ServeFault.NONE: "good",
    ServeFault.NOT_FRONT_FIRST: "touched something before the front wall",
    ServeFault.LOW: "too low on the front wall",
    ServeFault.OUT: "out",
    ServeFault.SHORT: "short",
    ServeFault.WRONG_SIDE: "over the half-court line",
    ServeFault.NO_BOUNCE: "never came down in the court",
}


def faults(box: str, flown: Summaries) -> Ints:
    """Return what is wrong with each serve, shape (n,), as `ServeFault` numbers.

    Parameters
    ----------
    box : str
        "right" or "left": the box served from.
    flown : Summaries
        From `fly_summaries`.

    Source
    ------
    RULES-2014, rule 5.7, as `court.serve_verdict` has it; touches are points and nothing is unclear.
    """
    one_of("box", box, BOXES)
    rows, left = flown.rows, box == "right"
    quarter = MARKED["left-quarter" if left else "right-quarter"]
    inner = quarter[2] - rows[:, at.ONE_X] if left else rows[:, at.ONE_X] - quarter[0]
    service_top = SINGLES.service_line.value_m + SINGLES.line_width.value_m
    wrong = np.zeros(len(flown), np.int64)
    # Last first, so that what comes earliest on the way stands in the end.
    wrong[inner <= 1e-9] = ServeFault.WRONG_SIDE
    wrong[rows[:, at.ONE_Y] - quarter[1] <= 1e-9] = ServeFault.SHORT
    wrong[np.isnan(rows[:, at.ONE_T])] = ServeFault.NO_BOUNCE
    wrong[rows[:, at.UNDER_LINE] <= 1e-9] = ServeFault.OUT
    wrong[rows[:, at.FRONT_Z] - service_top <= 1e-9] = ServeFault.LOW
    first = flown.order & 7
    wrong[(first != at.FRONT + 1) & (first != at.TIN_PLATE + 1)] = ServeFault.NOT_FRONT_FIRST
    return wrong


def legal(box: str, flown: Summaries) -> Flags:
    """Return whether each serve is good if nobody volleys it, shape (n,)."""
    good: Flags = faults(box, flown) == ServeFault.NONE
    return good


def room_m(flown: Summaries) -> Floats:
    """Return distance of the second bounce from the back wall: positive off it, negative short; NaN without
    one.
    """
    gap = SINGLES.length.value_m - flown.rows[:, at.TWO_Y]
    off = ~np.isnan(flown.rows[:, at.BACK_T]) & ~(flown.rows[:, at.BACK_T] > flown.rows[:, at.TWO_T])
    room: Floats = np.where(off, gap, -gap)
    return room


def rolled_out(flown: Summaries) -> Flags:
    """Return whether each ball rolled out of the nick."""
    rolled: Flags = (flown.order >> 61) & 1 == 1
    return rolled


def volleyable(box: str, flown: Summaries, receiver: Receiver) -> Flags:
    """Return whether the receiver could volley each serve; `flown` must have watched `receiver.lines_m`."""
    x, z, bounced = flown.seen[:, :, 1], flown.seen[:, :, 2], flown.seen[:, :, 4]
    from_wall = x if box == "right" else SINGLES.width.value_m - x
    there = (
        (bounced == 0)
        & (z <= receiver.reach_up_m)
        & (np.abs(x - receiver.x_m) <= receiver.reach_across_m)
        & (from_wall >= receiver.racket_room_m)
    )
    could: Flags = there.any(axis=1)
    return could


def side_before_bounce(flown: Summaries) -> Ints:
    """Return the side wall touched first before the bounce, shape (n,): `columns.LEFT`, `columns.RIGHT`,
    or -1.
    """
    found = np.full(len(flown), -1, np.int64)
    open_still = np.ones(len(flown), dtype=bool)
    for k in range(12):
        digit = (flown.order >> (3 * k)) & 7
        side = (digit == at.LEFT + 1) | (digit == at.RIGHT + 1)
        found[open_still & side] = digit[open_still & side] - 1
        open_still &= ~side & (digit != at.FLOOR + 1)
    return found
